"""Files of plots: lossless, every fault named with its line and column, nothing guessed in silence."""

from __future__ import annotations

import time
from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.engine.measures import Rate
from app.services.csv_text import MAX_BYTES, decoded
from app.services.trial_csv import MAX_ROWS, ReadTrials, RowFault, read_trials, trials_of
from app.services.trial_write import write_trials
from app.store.names import name_key
from app.trials.trial import TreatedWith, Trial
from tests.services.trial_files import ROW, sheet, trials

HEADER = ",".join(ROW)


def only(**changes: str) -> Trial:
    """The one trial of a file of the plain row with changes, which must be good."""
    read = read_trials(sheet(changes))
    assert not read.faults, read.faults
    (trial,) = read.trials
    return trial


def fault(*rows: dict[str, str]) -> RowFault:
    """The one fault of a file of these rows; its trial is not given."""
    read = read_trials(sheet(*rows))
    assert len(read.faults) == 1, read.faults
    assert not read.trials
    return read.faults[0]


def refusal(text: str, **more: dict[str, str]) -> str:
    """The sentence with which a file as a whole is refused."""
    with pytest.raises(InputError) as raised:
        read_trials(text, **more)  # type: ignore[arg-type]
    return str(raised.value)


@settings(max_examples=120, deadline=None)
@given(st.lists(trials(), min_size=1, max_size=2, unique_by=lambda trial: name_key(trial.name)))
def test_what_is_written_is_read_back_to_the_last_digit(told: list[Trial]) -> None:
    text = write_trials(told)
    read = read_trials(decoded(text.encode("utf-8-sig")))
    assert read.faults == ()
    assert read.guessed == ()
    assert list(read.trials) == told
    assert write_trials(read.trials) == text


@settings(max_examples=300, deadline=None)
@given(st.text(st.sampled_from('",;\t\n\r =+-@.%0123456789aé\x00\ud800') | st.characters(), max_size=200))
def test_garbage_raises_nothing_but_a_refusal(text: str) -> None:
    for told in (text, f"{HEADER}\n{text}", f"{HEADER}\n1,dandelion,28,{text},1,80\n"):
        with suppress(InputError):
            read_trials(told)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(st.text(max_size=8), min_size=8, max_size=8), min_size=1, max_size=4))
def test_garbage_in_cells_is_a_fault_or_a_trial(rows: list[list[str]]) -> None:
    names = (*ROW, "rate", "applied")
    text = sheet(*[dict(zip(names, cells, strict=True)) for cells in rows])
    try:
        read = read_trials(text)
    except InputError:
        return
    assert read.faults or read.trials


def test_a_plain_row_is_read_as_it_reads() -> None:
    trial = only(
        rate="1.5 lb ae/A",
        adjuvant="NIS",
        stage="Flowering",
        turf="KBG",
        injury_pct="3 %",
        cover_pct="7.5",
        place="East bank",
        applied="2027-05-20",
        season="late spring",
        design="RCB",
        kind="plots",
        form="2-4-d-dma",
        actives="2,4-D",
    )
    (treatment,) = trial.treatments
    assert treatment.actives == (
        TreatedWith(active="2-4-d", rate=Rate(value=1.5, unit="lb ae/acre"), form="2-4-d-dma"),
    )
    assert (treatment.adjuvant, treatment.stages) == ("nis", {"dandelion": "flowering"})
    assert (trial.turf, trial.place, trial.applied) == ("kentucky-bluegrass", "East bank", date(2027, 5, 20))
    assert (trial.season, trial.design, trial.kind) == ("late-spring", "rcbd", "plots")
    (plot,) = trial.plots
    assert (plot.control_pct, plot.injury_pct, plot.cover_pct, plot.days_after) == (80, 3, 7.5, 28)


@pytest.mark.parametrize("blank", ["", " ", ".", "NA", "n/a", "-", "–"])
def test_a_blank_rating_is_a_missing_plot(blank: str) -> None:
    assert only(control_pct=blank).plots[0].control_pct is None


def test_a_zero_is_no_missing_plot() -> None:
    assert only(control_pct="0").plots[0].control_pct == 0


FAULTS = [
    ("control_pct", "good", "no figure; write a percentage from 0 to 100", "85"),
    ("control_pct", "140 %", "out of range", "100 %"),
    ("control_pct", "-3", "between 0 and 100", "0"),
    ("control_pct", "1e999", "no figure", "1e1"),
    ("control_pct", "1,250", "two things", "12,5"),
    ("injury_pct", "some", "no figure", "2.5"),
    ("cover_pct", "100.01", "out of range", "100"),
    ("cover_before_pct", "=1+1", "no figure", "40"),
    ("days_after", "14.5", "whole days after application, 0 to 730", "14.0"),
    ("days_after", "-1", "whole days after application", "0"),
    ("days_after", "731", "whole days after application", "730"),
    ("days_after", "two weeks", "no number of days", "14"),
    ("days_after", "", "is empty", "7"),
    ("treatment", "", "is empty", "anything"),
    ("rep", " ", "is empty", "a"),
    ("weed", "NA", "is empty", "no weed at all"),
    ("treatment", "=SUM(A1:A9)", "starts like a formula", "'=SUM(A1:A9)"),
    ("treatment", "@cmd", "starts like a formula", "cmd@"),
    ("rep", "+1", "starts like a formula", "1+"),
    ("treatment", "x" * 121, "121 letters; write at most 120", "x" * 120),
    ("rep", "x" * 41, "41 letters", "x" * 40),
    ("weed", "x" * 81, "81 letters", "x" * 80),
    ("place", "x" * 121, "121 letters", "x" * 120),
    ("treatment", "bell\x07", "cannot be printed", "bell"),
    ("stage", "floweringg", "no stage of dandelion that this knows; nearest: flowering", "flowering"),
    ("stage", "multi-tiller", "no stage of dandelion", "seed set"),
    ("adjuvant", "mos", "no adjuvant of the knowledge base; nearest: mso", "methylated seed oil"),
    ("actives", "triclopir", "no active of the knowledge base; nearest: triclopyr", "Triclopyr"),
    ("actives", "dicamba; dicamba", "twice", "dicamba; mcpp"),
    ("rate", "much", "is not a figure with its unit", "1 lb ae/acre"),
    ("rate", "1.5", "has no unit", "1.5 kg/ha"),
    ("rate", "1 lb ae/acre; 2 lb ae/acre", "2 rates for 1 active", "NA"),
    ("rate", "1 furlong", "not known", "1 g ai/ha"),
    ("rate", "0 lb ae/acre", "a rate of 0 is that of the check", "0.1 lb ae/acre"),
    ("form", "triclopyr-bee", "no form of 2-4-d; nearest: 2-4-d-bee", "2-4-d-bee"),
    ("applications", "twice", "must be a whole number of sprays, 1 to 12", "2"),
    ("applications", "0", "must be a whole number of sprays", "1"),
    ("applications", "13", "must be a whole number of sprays", "12"),
    ("turf", "tall fescu", "no turf of the knowledge base; nearest: tall-fescue", "tall fescue"),
    ("applied", "2027-02-30", "no day of the calendar", "2027-02-28"),
    ("applied", "5/20/2027", "YYYY-MM-DD", "2027-05-20"),
    ("applied", "1999-12-31", "between 2000 and 2100", "2000-01-01"),
    ("season", "spring", "no season; write one of", "early spring"),
    ("design", "latin square", "write rcbd (randomised complete blocks) or crd", "completely randomised"),
    ("kind", "pots", "write plots, or lawns", "lawns"),
]


@pytest.mark.parametrize(("column", "bad", "says", "good"), FAULTS)
def test_a_cell_that_cannot_be_used_is_named_and_its_neighbour_is_read(
    column: str, bad: str, says: str, good: str
) -> None:
    found = fault({column: bad})
    assert (found.line, found.column) == (2, column)
    assert says in found.message
    assert only(**{column: good})


def test_a_trial_without_a_name_is_a_fault() -> None:
    assert fault({"trial": ""}).column == "trial"


def test_a_plot_given_twice_names_both_lines() -> None:
    found = fault({}, {"rep": "2"}, {"weed": "Dandelion", "treatment": "2,4-d", "control_pct": "9"})
    assert (found.line, found.column) == (4, "rep")
    assert "line 2 and in line 4" in found.message
    assert len(read_trials(sheet({}, {"days_after": "29"}, {"rep": "2"})).trials[0].plots) == 3


@pytest.mark.parametrize(
    ("column", "first", "second"),
    [
        ("rate", "1 lb ae/acre", "2 lb ae/acre"),
        ("adjuvant", "nis", "mso"),
        ("applications", "1", "2"),
        ("stage", "flowering", "vegetative"),
        ("actives", "2,4-D", "dicamba"),
        ("form", "2-4-d-dma", "2-4-d-bee"),
        ("place", "here", "there"),
        ("applied", "2027-05-20", "2027-05-21"),
        ("design", "rcbd", "crd"),
        ("kind", "plots", "lawns"),
        ("turf", "tall-fescue", "zoysia"),
    ],
)
def test_what_differs_within_a_treatment_or_trial_is_named(column: str, first: str, second: str) -> None:
    found = fault({column: first}, {"rep": "2", column: second})
    assert (found.line, found.column) == (3, column)
    assert "differs from line 2" in found.message
    # An empty cell tells nothing, so it differs from nothing.
    assert len(read_trials(sheet({column: first}, {"rep": "2", column: ""})).trials) == 1


def test_one_treatment_may_meet_two_weeds_at_two_stages() -> None:
    text = sheet({"stage": "flowering"}, {"weed": "smooth crabgrass", "stage": "1-3 tiller"})
    (trial,) = read_trials(text).trials
    assert trial.treatments[0].stages == {"dandelion": "flowering", "smooth-crabgrass": "1-3-tiller"}


def test_a_row_of_another_length_is_named() -> None:
    good = f"{HEADER}\nA,dandelion,14,x,1,80\n"
    assert read_trials(f"{good}A,dandelion,14,x,2,80,,,\n").faults == ()
    for row, count in (("A,dandelion,14,x", 4), ("A,dandelion,14,2,4-D,1,80", 7)):
        read = read_trials(f"{good}{row}\n")
        assert read.trials == ()
        assert str(read.faults[0]).startswith(f"line 3: has {count} cells where the first line has 6 headings")
    # Even where the short row is the first of its trial.
    assert read_trials(f"{HEADER}\nA,dandelion\nA,dandelion,14,x,1,80\n").trials == ()


def test_a_fault_spoils_its_own_trial_alone() -> None:
    read = read_trials(sheet({"trial": "A", "control_pct": "x"}, {"trial": "B"}))
    assert [trial.name for trial in read.trials] == ["B"]
    assert read.faults[0].trial == "A"


def test_reading_whole_raises_with_the_first_line_and_how_many_more() -> None:
    text = sheet({}, {"rep": "2", "control_pct": "140"}, {"rep": "3", "days_after": "x"})
    with pytest.raises(InputError, match=r"csv: line 3, control_pct: .*out of range.* \(1 more\)"):
        trials_of(text)
    assert trials_of(sheet({}), design="crd")[0].design == "crd"


def test_more_treatments_than_a_trial_may_have_are_refused() -> None:
    rows = [{"treatment": f"entry {number}"} for number in range(201)]
    assert "at most 200" in fault(*rows).message
    assert len(read_trials(sheet(*rows[:200])).trials[0].treatments) == 200


def test_too_many_rows_are_refused_quickly() -> None:
    start = time.perf_counter()
    assert f"more than {MAX_ROWS:,} rows" in refusal(f"{HEADER}\n" + "A,dandelion,14,x,1,80\n" * 200_000)
    assert time.perf_counter() - start < 10


def test_too_large_a_text_is_refused() -> None:
    assert "larger than 8 MiB" in refusal("é" * (MAX_BYTES // 2 + 1))
    assert "no text file" in refusal(f"{HEADER}\nA,dandelion,14,x\x00,1,80\n")
    assert "no plot" in refusal(f"{HEADER}\n")
    assert "empty" in refusal("\n\n")


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_delimiter_is_read_off_the_first_line(delimiter: str, end: str) -> None:
    text = sheet({"treatment": "a;b,c d", "rate": "NA"}, delimiter=delimiter).replace("\r\n", end)
    assert read_trials(text).trials[0].treatments[0].name == "a;b,c d"


def test_a_comma_is_a_decimal_sign_between_semicolons() -> None:
    row = {"control_pct": "87,125", "treatment": "x", "actives": "dicamba + 2,4-D", "rate": "1,125 + 0,5 kg ae/ha"}
    (trial,) = read_trials(sheet(row, delimiter=";")).trials
    assert trial.plots[0].control_pct == 87.125
    assert [part.rate.value for part in trial.treatments[0].actives if part.rate] == [1.125, 0.5]
    assert "two things" in str(read_trials(sheet(row, delimiter=",")).faults[0])


def read_headed(headings: str, told: dict[str, str] | None = None) -> ReadTrials:
    """A row under these headings."""
    return read_trials(f"{headings}\nA,dandelion,14,x,1,80\n", told)


@pytest.mark.parametrize(
    "headings",
    [
        "Trial,Weed,Days After,Treatment,Rep,Control (%)",
        "study,species,DAA,trt,Block,% control",
        "experiment,target,days after application,trt,REPLICATE,control %",
        "trial,weed,dat,treatment,replication,percent control",
        "trial,weed,days after treatment,treatment,rep.,Cover",
    ],
)
def test_headings_of_the_trade_are_understood(headings: str) -> None:
    read = read_headed(headings)
    assert len(read.trials) == 1
    assert list(read.columns.values()) == headings.split(",")


def test_a_needed_column_that_is_not_there_is_one_sentence() -> None:
    said = refusal("trial,weed,when,treatment,rep,control_pct\n")
    assert said.startswith("csv: no column is found for days_after;")
    assert "when" in said
    assert read_headed("trial,weed,when,treatment,rep,control_pct", {"days_after": "when"}).trials


def test_two_headings_for_one_column_are_one_sentence_until_one_is_told() -> None:
    text = "trial,weed,dat,treatment,rep,block,control\nA,dandelion,14,x,1,9,80\n"
    assert "'rep' and 'block' both mean the column rep" in refusal(text)
    assert read_trials(text, {"rep": "block"}).trials[0].plots[0].rep == "9"
    assert read_trials(text, {"rep": "block"}).ignored == ("rep",)


def test_what_is_told_of_columns_must_be_right() -> None:
    plain = sheet({})
    assert "columns.reps: 'reps' is no column" in refusal(plain, columns={"reps": "rep"})
    assert "columns.rep: no heading of the file is 'bloc'" in refusal(plain, columns={"rep": "bloc"})
    both = refusal(plain, columns={"rep": "rep", "treatment": "rep"})
    assert "columns.treatment: the heading 'rep' is told for rep already" in both
    assert "stands twice" in refusal(f"rep,{HEADER}\n", columns={"rep": "rep"})
    # An empty heading leaves a column out.
    assert read_trials(sheet({"injury_pct": "9"}), {"injury_pct": ""}).trials[0].plots[0].injury_pct is None


def test_ratings_under_an_unknown_heading_are_asked_after() -> None:
    told = refusal(sheet({"control_pct": "NA", "cover_pct": "", "seen": "80"}))
    assert "columns.control_pct: no row holds a rating, for 'control_pct' and 'cover_pct' are empty" in told
    assert read_trials(sheet({"control_pct": "", "seen": "80"}, {"rep": "2", "control_pct": "0"})).trials


@pytest.mark.parametrize("z", ["s", "z"])
def test_designs_are_read_in_both_spellings(z: str) -> None:
    assert only(design=f"Randomi{z}ed complete blocks").design == "rcbd"
    assert only(design=f"completely randomi{z}ed").design == "crd"


def test_unknown_columns_are_ignored_and_said() -> None:
    assert read_trials(sheet({"remarks": "=wet", "plot": "101"})).ignored == ("remarks", "plot")


def test_weeds_are_known_by_every_exact_name_and_by_no_other() -> None:
    for name in ("dandelion", "Dandelion", "Taraxacum officinale", "TAROF"):
        assert only(weed=name).weeds == ("dandelion",)
    read = read_trials(sheet({"weed": "dandelions of spring"}, {"weed": "crabgrass"}))
    assert read.trials[0].weeds == ("dandelions of spring", "crabgrass")
    assert read.notices == (
        "'dandelions of spring' is no weed of the knowledge base, so it moves no advice",
        "'crabgrass' may be any of large-crabgrass, smooth-crabgrass, southern-crabgrass; write which one it is, "
        "until then it moves no advice",
    )
    assert "'clover' is read as white clover" in read_trials(sheet({"weed": "clover"})).notices


@pytest.mark.parametrize(
    ("name", "actives", "adjuvant"),
    [
        ("2,4-D", ("2-4-d",), None),
        ("Quinclorac + MSO", ("quinclorac",), "mso"),
        ("quinclorac MSO", ("quinclorac",), "mso"),
        ("2,4-D/Triclopyr with NIS", ("2-4-d", "triclopyr"), "nis"),
        ("2,4-D, MCPP, dicamba", ("2-4-d", "mecoprop-p", "dicamba"), None),
        ("Halosulfuron non-ionic surfactant", ("halosulfuron-methyl",), "nis"),
    ],
)
def test_a_treatment_is_guessed_from_its_name_and_the_guess_is_shown(
    name: str, actives: tuple[str, ...], adjuvant: str | None
) -> None:
    read = read_trials(sheet({"treatment": name}))
    (treatment,) = read.trials[0].treatments
    assert (tuple(part.active for part in treatment.actives), treatment.adjuvant) == (actives, adjuvant)
    (guessed,) = read.guessed
    assert (guessed.treatment, guessed.actives, guessed.adjuvant) == (name, actives, adjuvant)


@pytest.mark.parametrize("name", ["Trial mix 4", "2,4-D + water", "dicamba + dicamba", "quinclorac +", "MSO + NIS"])
def test_a_name_that_is_not_wholly_understood_gives_no_actives(name: str) -> None:
    read = read_trials(sheet({"treatment": name}))
    assert read.trials[0].treatments[0].actives == ()
    assert any("nothing is known of what" in notice for notice in read.notices)


def test_what_is_told_outweighs_a_name() -> None:
    read = read_trials(sheet({"treatment": "quinclorac + MSO", "actives": "dicamba", "adjuvant": "coc"}))
    (treatment,) = read.trials[0].treatments
    assert ([part.active for part in treatment.actives], treatment.adjuvant) == (["dicamba"], "coc")
    assert read.guessed == ()
    assert any("is coc by its column, though its name says mso" in notice for notice in read.notices)


@pytest.mark.parametrize("name", ["Nontreated", "untreated check", "UTC", "Non-treated control"])
def test_the_check_is_known_by_its_names(name: str) -> None:
    trial = only(treatment=name, rate="0", adjuvant="none")
    assert trial.treatments[0].is_check


def test_a_check_that_is_treated_is_a_fault() -> None:
    assert "is not treated" in fault({"treatment": "nontreated", "actives": "dicamba"}).message


def test_lawns_are_told_by_their_kind_and_cover_stands_for_control() -> None:
    trial = only(kind="lawns", rep="12 Mill Lane")
    assert (trial.kind, trial.plots[0].rep) == ("lawns", "12 Mill Lane")
    headings = ("trial", "weed", "days_after", "treatment", "rep", "cover_pct")
    (read,) = read_trials(sheet({"cover_pct": "30"}, headings=headings)).trials
    assert (read.plots[0].control_pct, read.plots[0].cover_pct) == (None, 30)
