"""`swardwright trial` and `swardwright trials`: text and JSON, exit codes, one sentence where it fails."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from app.cli import main
from app.engine.output import as_json
from app.services.trials import analyse_csv
from app.store.opening import FILE_NAME
from tests.services.test_trials import LAWN
from tests.services.trial_files import sheet, trial_sheet
from tests.test_cli_shelf import run

DEMO = Path(__file__).parents[1] / "demo_data" / "trials"
VIOLET, RATES, NUTSEDGE = (DEMO / f"{name}.csv" for name in ("wild-violet", "rate-series", "yellow-nutsedge"))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "plots.csv"
    path.write_text(trial_sheet(), encoding="utf-8")
    return path


def data(tmp_path: Path) -> tuple[str, str]:
    """The option that names a folder of this test's own."""
    return "--data", str(tmp_path / "data")


def test_json_is_what_the_service_answers(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "trial", str(VIOLET), "--json", "--alpha", "0.1", "--design", "crd")
    assert (code, err) == (0, "")
    text = VIOLET.read_text(encoding="utf-8")
    assert json.loads(out) == json.loads(json.dumps(as_json(analyse_csv(text, 0.1, design="crd"))))


def test_the_text_tells_what_the_json_tells(capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(run(capsys, "trial", str(NUTSEDGE), "--json")[1])
    out = run(capsys, "trial", str(NUTSEDGE))[1]
    joined, lines = " ".join(out.split()), [" ".join(line.split()) for line in out.splitlines()]
    for analysis in told["analyses"]:
        assert f"{analysis['weed_name']}, {analysis['days_after']} days after application" in joined
        assert analysis["headline"] in joined
        assert all(warning["text"] in joined for warning in analysis["warnings"])
        assert all(f"[missing] {plot['treatment']}, replicate {plot['rep']}" in joined for plot in analysis["missing"])
        shown = analysis["transformed"] if analysis["transformation"]["chosen"] == "arcsine" else analysis
        for row in shown["anova"]:
            assert f"{row['source']} {row['df']} {row['ss']:.2f}" in joined
        for row in shown["means"]:
            letters = f"{row['letter_lsd']} {row['letter_hsd']}" if row["in_analysis"] else "- -"
            begins = f"{row['treatment']} {row['n']} {row['mean']:.1f} "
            assert any(line.startswith(begins) and line.endswith(letters) for line in lines), row
        assert f"LSD at 0.05: {shown['lsd']['value']:.2f}" in joined
        assert f"HSD at 0.05: {shown['hsd']['value']:.2f}" in joined
        assert all(pair["text"] in joined for pair in shown["comparisons"][:10])
    assert any(analysis["missing"] for analysis in told["analyses"])
    assert {"arcsine", "percent"} == {analysis["transformation"]["chosen"] for analysis in told["analyses"]}


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.csv")), ids=lambda path: path.stem)
def test_every_line_fits_eighty_columns(capsys: pytest.CaptureFixture[str], path: Path) -> None:
    out = run(capsys, "trial", str(path))[1]
    assert max(map(len, out.splitlines())) <= 80
    assert "\n\n\n" not in out
    assert "nan" not in out.lower().split()


def test_long_names_many_treatments_and_many_dates_fit_too(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = [
        {
            "treatment": f"a treatment with a long name and the number {number} at its end",
            "rep": str(rep),
            "days_after": str(days),
            "control_pct": str((7 * number + 11 * rep * rep + days) % 100),
        }
        for number in range(14)
        for rep in (1, 2, 3)
        for days in range(7, 100, 7)
    ]
    path = tmp_path / "long.csv"
    path.write_text(sheet(*rows), encoding="utf-8")
    code, out, _ = run(capsys, "trial", str(path))
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "more pairs; --json tells all of them" in out
    assert " 98" in out


def test_a_curve_and_its_doses_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(run(capsys, "trial", str(RATES), "--json")[1])
    joined = " ".join(run(capsys, "trial", str(RATES))[1].split())
    curves = [curve for analysis in told["analyses"] for curve in analysis["dose_curves"]]
    assert curves
    for curve in curves:
        assert curve["text"] in joined
        assert joined.count(curve["effective"][0]["text"]) == 1


def test_headings_of_ones_own_are_told(capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(file.read_text().replace("days_after", "when rated", 1).replace(",rep,", ",strip,", 1))
    assert run(capsys, "trial", str(path))[0] == 2
    told = ("--columns", "days_after=when rated", "rep=strip")
    assert run(capsys, "trial", str(path), *told)[:2] == run(capsys, "trial", str(file))[:2]


def test_standard_input_serves(capsys: pytest.CaptureFixture[str], file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = run(capsys, "trial", str(file))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(file.read_bytes())))
    assert run(capsys, "trial", "-") == said


def test_no_store_is_opened(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWARDWRIGHT_DATA", str(tmp_path / "data"))
    assert run(capsys, "trial", str(file))[0] == 0
    assert not (tmp_path / "data").exists()
    run(capsys, "trials", "list")
    assert (tmp_path / "data" / FILE_NAME).exists()


@pytest.mark.parametrize(
    ("text", "words", "said"),
    [
        (None, (), "cannot be read"),
        ("", (), "csv: the file is empty"),
        (sheet({"rep": "1"}, {"rep": "2", "control_pct": "140"}), (), "csv: line 3, control_pct: "),
        (trial_sheet(reps=1), (), "csv: "),
        (trial_sheet(), ("--alpha", "0.7"), "alpha: 0.7 is out of range"),
        (trial_sheet(), ("--alpha", "much"), "alpha: must be a number"),
        (trial_sheet(), ("--alpha", "nan"), "alpha: must be a number"),
        (trial_sheet(), ("--design", "latin"), "design: 'latin' is not one of"),
        (trial_sheet(), ("--columns", "rep"), "--columns: 'rep' is no column; write NAME=HEADING"),
        (trial_sheet(), ("--columns", "rep=a", "rep=b"), "--columns: 'rep' stands twice"),
        (trial_sheet(), ("--columns", "rep=nowhere"), "columns.rep: no heading of the file is 'nowhere'"),
        (trial_sheet(), ("--columns", "colour=rep"), "columns.colour: 'colour' is no column of a file of plots"),
    ],
)
def test_what_cannot_be_analysed_ends_with_two_and_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str | None, words: tuple[str, ...], said: str
) -> None:
    path = tmp_path / "plots.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    code, out, err = run(capsys, "trial", str(path), *words)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert said in err


def test_pictures_are_written_beside_the_answer(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    folder = tmp_path / "new" / "pictures"
    code, out, err = run(capsys, "trial", str(RATES), "--json", "--pictures", str(folder))
    assert code == 0
    told = json.loads(out)
    names = {path.stem for path in folder.iterdir()}
    whole = len(told["analyses"]) + len(told["courses"]) + sum(len(item["dose_curves"]) for item in told["analyses"])
    assert len(names) == whole
    assert f"Wrote {whole} pictures to {folder}, each as SVG and PNG.\n" in err
    assert {path.name for path in folder.iterdir()} == {f"{name}.{kind}" for name in names for kind in ("svg", "png")}
    for name in names:
        assert (folder / f"{name}.png").read_bytes().startswith(b"\x89PNG")
        assert b"<svg" in (folder / f"{name}.svg").read_bytes()
    again = run(capsys, "trial", str(RATES), "--json", "--pictures", str(folder))[2]
    assert f"each as SVG and PNG; {whole} of these names stood there and gave way.\n" in again
    (tmp_path / "taken").write_text("")
    code, out, err = run(capsys, "trial", str(RATES), "--pictures", str(tmp_path / "taken"))
    assert (code, out, "--pictures: " in err, len(err.splitlines())) == (2, "", True, 1)


def test_a_file_is_previewed_then_imported_then_unchanged(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    kept = data(tmp_path)
    assert run(capsys, "trials", "list", *kept)[1].startswith("No trial is kept")
    code, out, _ = run(capsys, "trials", "import", str(file), *kept)
    assert code == 0
    assert out.startswith("Mill Field: new\n")
    assert "2,4-D + triclopyr on dandelion adds nothing: a mixture" in " ".join(out.split())
    assert out.endswith("1 new, 0 changed, 0 unchanged: nothing is stored yet; add --confirm to import.\n")
    assert run(capsys, "trials", "list", *kept)[1].startswith("No trial is kept")
    assert run(capsys, "trials", "import", str(file), "--confirm", *kept)[1].endswith("unchanged: imported.\n")
    out = run(capsys, "trials", "list", *kept)[1]
    assert out.startswith("mill-field: Mill Field\n")
    assert "dandelion; 28, 56 days after application; 4 treatments, 32 ratings" in " ".join(out.split())
    answer = json.loads(run(capsys, "trials", "import", str(file), "--json", *kept)[1])
    assert (answer["unchanged"], answer["new"], answer["changed"], answer["bad"]) == (1, 0, 0, 0)


def test_a_trial_that_is_kept_is_replaced_where_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    kept = data(tmp_path)
    run(capsys, "trials", "import", str(file), "--confirm", *kept)
    file.write_text(trial_sheet(injury_pct="4"), encoding="utf-8")
    assert "add --confirm and --replace" in " ".join(run(capsys, "trials", "import", str(file), *kept)[1].split())
    code, _, err = run(capsys, "trials", "import", str(file), "--confirm", *kept)
    assert (code, len(err.splitlines())) == (2, 1)
    assert "Mill Field is kept already" in err
    assert run(capsys, "trials", "import", str(file), "--confirm", "--replace", *kept)[0] == 0
    assert json.loads(run(capsys, "trials", "list", "--json", *kept)[1])["trials"][0]["version"] == 2


def test_bad_rows_are_all_told_and_store_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kept, path = data(tmp_path), tmp_path / "bad.csv"
    path.write_text(sheet({"rep": "1"}, {"rep": "2", "control_pct": "140"}, {"rep": "3", "days_after": "soon"}))
    code, out, _ = run(capsys, "trials", "import", str(path), *kept)
    assert code == 0
    assert "line 3, control_pct: " in out
    assert "line 4, days_after: " in out
    assert "2 that cannot be used and block the file" in " ".join(out.split())
    code, out, err = run(capsys, "trials", "import", str(path), "--confirm", *kept)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert run(capsys, "trials", "list", *kept)[1].startswith("No trial is kept")


def test_a_trial_is_shown_reported_and_removed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kept, one = data(tmp_path), "larkmere-wild-violet-2026"
    run(capsys, "trials", "import", str(VIOLET), "--confirm", *kept)
    out = run(capsys, "trials", "show", one, *kept)[1]
    assert "  - triclopyr + quinclorac: triclopyr 1 lb ae/acre + quinclorac 0.75 lb ai/acre" in out
    assert "Adds to the records\n" in out
    told = json.loads(run(capsys, "trials", "show", one, "--json", *kept)[1])
    assert (told["id"], told["version"]) == (one, 1)
    report = json.loads(run(capsys, "trials", "report", one, "--json", "--alpha", "0.1", *kept)[1])
    assert (
        report["analyses"] == json.loads(run(capsys, "trial", str(VIOLET), "--json", "--alpha", "0.1")[1])["analyses"]
    )
    out = run(capsys, "trials", "report", one, *kept)[1]
    assert out.startswith("Larkmere wild violet 2026: replicated plots; Linnetby; applied 2026-05-12\n")
    code, out, err = run(capsys, "trials", "show", "larkmere-wild-violet-2062", *kept)
    assert (code, out) == (2, "")
    assert f"nearest: {one}" in err
    assert run(capsys, "trials", "remove", one, *kept)[1] == "Removed Larkmere wild violet 2026.\n"
    code, _, err = run(capsys, "trials", "remove", one, *kept)
    assert (code, len(err.splitlines())) == (2, 1)


def test_several_trials_are_pooled(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kept, path = data(tmp_path), tmp_path / "two.csv"
    asked = ("trials", "synthesis", "--weed", "dandelion", "--treatment", "triclopyr")
    path.write_text(trial_sheet() + "".join(trial_sheet("Weir").splitlines(keepends=True)[1:]), newline="")
    assert run(capsys, *asked, *kept)[0] == 2
    run(capsys, "trials", "import", str(path), "--confirm", *kept)
    told = json.loads(run(capsys, *asked, "--json", *kept)[1])
    out = run(capsys, *asked, *kept)[1]
    assert told["text"] in " ".join(out.split())
    assert f"all together {told['estimate']:.1f} % ({told['low']:.1f} to {told['high']:.1f})" in out
    assert "estimate [%]" in out
    assert all(effect["trial"] in out for effect in told["effects"])
    against = run(capsys, *asked, "--against", "2,4-D", "--days-after", "56", *kept)[1]
    assert "estimate [pts]" in against
    assert max(map(len, (out + against).splitlines())) <= 80
    for words, said in (
        (("--days-after", "soon"), "days_after: must be a whole number"),
        (("--against", "nobody"), "against: "),
        (("--alpha", "3"), "alpha: "),
    ):
        code, _, err = run(capsys, *asked, *words, *kept)
        assert (code, len(err.splitlines())) == (2, 1)
        assert said in err


def test_a_rating_of_a_lawn_is_kept(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kept, path = data(tmp_path), tmp_path / "rating.json"

    def rate(**changes: Any) -> tuple[int, str, str]:
        path.write_text(json.dumps({**LAWN, **changes}))
        return run(capsys, "trials", "rate", str(path), *kept)

    code, out, _ = rate()
    assert code == 0
    assert out.startswith("Lawns treated with 2,4-D amine (lawns-treated-with-2-4-d-amine)\n")
    assert rate(lawn="B")[0] == 0
    assert "2 treated lawns" in run(capsys, "trials", "report", "lawns-treated-with-2-4-d-amine", *kept)[1]
    code, _, err = rate()
    assert (code, len(err.splitlines())) == (2, 1)
    assert "lawn: 12 Mill Lane has a rating" in err


def test_help_tells_the_columns(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["trial", "--help"])
    assert ended.value.code == 0
    assert "trial,weed,days_after,treatment,rep,control_pct" in capsys.readouterr().out
