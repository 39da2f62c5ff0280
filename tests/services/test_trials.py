"""Kept trials: listed, changed, removed, analysed, and added to lawn by lawn."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import trials
from app.services.house import evidence_of
from app.services.knowledge_service import knowledge_base
from app.services.trial_csv import trials_of
from app.services.trial_import import confirm
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from app.trials.answer import answer
from app.trials.synthesis import synthesis as pool
from tests.services.trial_files import sheet, trial_sheet

LAWN: dict[str, Any] = {
    "lawn": "12 Mill Lane",
    "weed": "dandelion",
    "days_after": 30,
    "treatment": "2,4-D amine",
    "actives": [{"active": "2-4-d", "rate": {"value": 1, "unit": "lb ae/acre"}}],
    "control_pct": 85,
}


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    confirm(opened, trial_sheet())
    yield opened
    opened.close()


def document(store: Store, **changes: Any) -> dict[str, Any]:
    """The kept trial as plain data, with changes."""
    return {**trials.one(store, "mill-field").trial.model_dump(mode="json"), **changes}


def test_the_list_says_what_each_trial_holds(store: Store) -> None:
    confirm(store, trial_sheet("Alder Green", place="Pellmere", applied="2026-09-08"))
    alder, mill = trials.listing(store)
    assert (alder.name, alder.place, str(alder.applied)) == ("Alder Green", "Pellmere", "2026-09-08")
    assert (mill.slug, mill.weeds, mill.dates) == ("mill-field", ("dandelion",), (28, 56))
    assert (mill.treatments, mill.plots, mill.missing, mill.version) == (4, 32, 0, 1)
    assert mill.moves == len(trials.one(store, "mill-field").evidence) > 0


def test_a_trial_that_is_not_kept_is_told_with_the_nearest(store: Store) -> None:
    for call in (trials.one, trials.report_of):
        with pytest.raises(UnknownId, match="'mill-feild' is no trial that is kept; nearest: mill-field"):
            call(store, "mill-feild")
    with pytest.raises(UnknownId):
        trials.change(store, "nowhere", document(store), 1)


def test_a_kept_trial_and_its_file_are_analysed_alike(store: Store) -> None:
    read = trials_of(trial_sheet())
    told = answer(knowledge_base(), read, 0.1)
    assert trials.report_of(store, "mill-field", 0.1).analyses == told.analyses
    assert trials.analyse_csv(trial_sheet(), 0.1).analyses == told.analyses
    assert trials.analyse_csv(trial_sheet(), 0.1, design="crd").analyses[0].design == "crd"


@pytest.mark.parametrize("alpha", [0.0, 0.6, -1.0, float("nan")])
def test_an_error_rate_out_of_range_is_refused(store: Store, alpha: float) -> None:
    for call in (
        lambda: trials.analyse_csv(trial_sheet(), alpha),
        lambda: trials.report_of(store, "mill-field", alpha),
    ):
        with pytest.raises(InputError, match=r"alpha: must lie between"):
            call()


def test_what_was_guessed_or_not_read_is_said_with_the_answer() -> None:
    said = trials.analyse_csv(trial_sheet(remarks="x")).notices
    assert "Mill Field: by its name alone, '2,4-D + triclopyr' is taken for 2,4-D + triclopyr" in said
    assert said[-1] == "columns that are not read: remarks"
    for text in (sheet({}, {"rep": "2", "rate": "1"}), sheet({}, {"rep": "2"})):
        with pytest.raises(InputError):
            trials.analyse_csv(text)


def test_a_change_without_plots_leaves_them(store: Store) -> None:
    before = trials.one(store, "mill-field")
    told = document(store, place="West bank", name="Mill Meadow")
    del told["plots"]
    after = trials.change(store, "mill-field", told, 1)
    assert (after.slug, after.version, after.trial.place) == ("mill-field", 2, "West bank")
    assert after.trial.plots == before.trial.plots
    assert trials.one(store, "mill-field") == after


def test_a_change_of_what_was_sprayed_changes_the_evidence(store: Store) -> None:
    before = evidence_of(store)
    told = document(store)
    for treatment in told["treatments"]:
        treatment["actives"] = []
    after = trials.change(store, "mill-field", told, 1)
    assert before
    assert after.evidence == evidence_of(store) == ()


@pytest.mark.parametrize(
    ("index", "change", "says"),
    [
        (
            1,
            {"actives": [{"active": "2-4-b"}]},
            r"treatments.1.actives.0.active: '2-4-b' is no known active; nearest: ",
        ),
        (1, {"actives": [{"active": "2-4-d", "form": "2-4-d-xyz"}]}, r"treatments.1.actives.0.form: .*nearest: 2-4-d"),
        (1, {"actives": [{"active": "2-4-d"}, {"active": "2-4-d"}]}, r"treatments.1.actives.1.active: .*stands twice"),
        (1, {"stages": {"dandelion": "multi-tiller"}}, r"treatments.1.stages.dandelion: .*no known stage of dandelion"),
        (1, {"stages": {"henbit": "seedling"}}, r"treatments.1.stages.henbit: 'henbit' is rated in no plot"),
        (0, {"actives": [{"active": "2-4-d"}]}, r"treatments.0.actives: the check is not treated"),
        (1, {"adjuvant": "soap"}, r"treatments.1.adjuvant: 'soap' is not one of"),
        (1, {"name": "other"}, r"plots.8.treatment: '2,4-D' is none of the trial's treatments"),
    ],
)
def test_a_change_that_cannot_be_is_refused(store: Store, index: int, change: dict[str, Any], says: str) -> None:
    told = document(store)
    told["treatments"][index].update(change)
    with pytest.raises(InputError, match=says):
        trials.change(store, "mill-field", told, 1)
    assert trials.one(store, "mill-field").version == 1


def test_a_change_that_leaves_one_replicate_or_no_turf_is_refused(store: Store) -> None:
    told = document(store)
    with pytest.raises(InputError, match="turf: 'tall-fescu' is no known turf; nearest: tall-fescue"):
        trials.change(store, "mill-field", {**told, "turf": "tall-fescu"}, 1)
    with pytest.raises(InputError, match="Mill Field"):
        trials.change(store, "mill-field", {**told, "plots": [p for p in told["plots"] if p["rep"] == "1"]}, 1)
    assert trials.change(store, "mill-field", {**told, "turf": "tall-fescue"}, 1).version == 2


def test_the_second_of_two_who_change_or_remove_is_told(store: Store) -> None:
    told = document(store)
    trials.change(store, "mill-field", {**told, "place": "East"}, 1)
    with pytest.raises(Changed) as raised:
        trials.change(store, "mill-field", {**told, "place": "West"}, 1)
    assert raised.value.stored is not None
    assert (raised.value.stored["place"], raised.value.version) == ("East", 2)
    with pytest.raises(Changed):
        trials.remove(store, "mill-field", 1)
    trials.remove(store, "mill-field", 2)
    assert trials.listing(store) == ()
    assert evidence_of(store) == ()


def test_ratings_of_lawns_are_gathered_by_their_treatment(store: Store) -> None:
    first = trials.add_rating(store, LAWN)
    assert (first.trial.name, first.trial.kind, first.version) == ("Lawns treated with 2,4-D amine", "lawns", 1)
    second = trials.add_rating(store, {**LAWN, "lawn": "3 Weir Row", "actives": [], "control_pct": 70})
    assert (second.slug, second.version, len(second.trial.plots)) == (first.slug, 2, 2)
    (lawns,) = trials.report_of(store, first.slug).lawns
    assert (lawns.n, lawns.mean) == (2, 77.5)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"control_pct": 101}, "control_pct"),
        ({"control_pct": None}, "control_pct"),
        ({"days_after": -1}, "days_after"),
        ({"lawn": ""}, "lawn"),
        ({}, "lawn: 12 Mill Lane has a rating of dandelion 30 days after already"),
        ({"lawn": "12  mill lane"}, "already"),
        ({"lawn": "B", "treatment": "Nontreated"}, "treatment: a lawn that was not treated"),
        ({"lawn": "B", "trial": "mill field"}, "trial: Mill Field is a trial of plots"),
        ({"lawn": "B", "actives": [{"active": "dicamba"}]}, "actives: in Lawns treated with 2,4-D amine"),
        ({"lawn": "B", "place": "East"}, "place: of Lawns treated with 2,4-D amine it is not told"),
        ({"lawn": "B", "stage": "heading"}, "no known stage of dandelion"),
        ({"lawn": "B", "trial": "New", "actives": [{"active": "dicambo"}]}, "no known active; nearest: dicamba"),
        ({"lawn": "B", "trial": "New", "turf": "moor"}, "turf: 'moor' is no known turf"),
        ({"colour": "brown"}, "colour: is not a known key"),
    ],
)
def test_a_rating_that_cannot_be_kept_is_refused(store: Store, change: dict[str, Any], says: str) -> None:
    trials.add_rating(store, LAWN)
    before = [(item.slug, item.version) for item in trials.listing(store)]
    with pytest.raises(InputError, match=says):
        trials.add_rating(store, {**LAWN, **change})
    assert [(item.slug, item.version) for item in trials.listing(store)] == before


def test_the_demo_fills_a_store_that_holds_no_trial_and_no_other(store: Store) -> None:
    assert trials.fill_demo(store) == 0
    empty = open_in_memory()
    count = trials.fill_demo(empty)
    assert count == len(trials.listing(empty)) == 6
    assert trials.fill_demo(empty) == 0
    assert {item.name.split()[0] for item in trials.listing(empty)} == {"Larkmere"}
    empty.close()


def test_pictures_are_found_by_what_they_show(store: Store) -> None:
    last = trials.picture(store, "mill-field", "means", "dandelion")
    assert "56 days" in last.alt
    assert "28 days" in trials.picture(store, "mill-field", "means", "dandelion", 28).alt
    assert trials.picture(store, "mill-field", "course", "dandelion").svg().startswith(b"<?xml")
    with pytest.raises(UnknownId, match="'dandelio' is no weed of the trial Mill Field; nearest: dandelion"):
        trials.picture(store, "mill-field", "means", "dandelio")
    with pytest.raises(UnknownId, match="'29' is no rating date of the trial Mill Field; nearest: 28, 56"):
        trials.picture(store, "mill-field", "means", "dandelion", 29)
    with pytest.raises(UnknownId, match="no dose curve"):
        trials.picture(store, "mill-field", "dose", "dandelion")
    with pytest.raises(InputError, match="what: 'pie' is no picture; use one of means, course, dose"):
        trials.picture(store, "mill-field", "pie", "dandelion")


def test_a_trial_of_rates_has_a_picture_of_its_curve_and_one_of_a_single_date_no_course() -> None:
    opened = open_in_memory()
    trials.fill_demo(opened)
    assert "triclopyr" in trials.picture(opened, "larkmere-violet-rates-2026", "dose", "wild-violet").alt
    single = sheet(
        *(
            {"rep": str(rep), "treatment": name, "control_pct": str(50 + 3 * rep)}
            for rep in (1, 2, 3)
            for name in ("a", "b")
        )
    )
    confirm(opened, single)
    with pytest.raises(UnknownId, match="no course over several dates of the trial Mill Field"):
        trials.picture(opened, "mill-field", "course", "dandelion")
    opened.close()


def test_kept_trials_are_pooled_under_any_exact_name_of_the_weed(store: Store) -> None:
    confirm(store, trial_sheet("Weir Bank", place="Pellmere"))
    told = pool(knowledge_base(), trials.every_trial(store), "dandelion", "triclopyr", "2,4-D", 28)
    assert trials.synthesis(store, "Taraxacum officinale", " triclopyr", "2,4-D", 28) == told
    assert [effect.trial for effect in told.effects] == ["Mill Field", "Weir Bank"]
    assert trials.synthesis(store, "dandelion", "triclopyr").question == "control by triclopyr"
    assert trials.synthesis_picture(store, "dandelion", "triclopyr", "nontreated").svg().startswith(b"<?xml")


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("dandelio", "triclopyr"), "weed: 'dandelio' is no weed of a trial that is kept; nearest: dandelion"),
        (("dandelion", "triclopir"), "treatment: 'triclopir' is no treatment of a trial that is kept; nearest: tri"),
        (("dandelion", "triclopyr", "2,4-B"), "against: '2,4-B' is no treatment of a trial"),
        (("dandelion", "triclopyr"), "two are needed"),
        (("dandelion", "triclopyr", "triclopyr"), "against: must be another treatment"),
        (("dandelion", "triclopyr", None, 0), "days_after: must be 1 or more"),
        (("dandelion", "triclopyr", None, 28, 0.7), "alpha"),
    ],
)
def test_what_cannot_be_pooled_is_said(store: Store, asked: tuple[Any, ...], says: str) -> None:
    with pytest.raises(InputError, match=says):
        trials.synthesis(store, *asked)


def test_nothing_is_pooled_where_nothing_is_kept() -> None:
    empty = open_in_memory()
    with pytest.raises(InputError, match="no trial that is kept can tell"):
        trials.synthesis(empty, "dandelion", "triclopyr")
    empty.close()
