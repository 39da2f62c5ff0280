"""Use cases of scouting notes. Invented places; what can be counted on which weed is common practice, no source."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.services import properties, scouting
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from tests.services.places import TODAY, area, place

SEEN = {"area": "front", "weed": "dandelion", "date": "2027-06-01"}


@pytest.fixture
def store() -> Store:
    opened = open_in_memory()
    properties.add(opened, place(areas=[area(), area(name="Back Lawn", turf=["creeping bentgrass"])]))
    return opened


def add(store: Store, key: str | None = None, **told: Any) -> scouting.KeptNote:
    return scouting.add_note(store, "12-mill-lane", {**SEEN, **told}, key=key, today=TODAY)[0]


def faults(store: Store, **told: Any) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        add(store, **told)
    assert scouting.notes_of(store, "12-mill-lane") == ()
    return {fault.path: fault.message for fault in caught.value.faults}


@pytest.mark.parametrize(
    ("told", "meant"),
    [
        ("creeping charlie", "ground-ivy"),
        ("Wild Violets", "wild-violet"),
        ("nutgrass", "yellow-nutsedge"),
        ("dandylion", "dandelion"),
        ("smooth-crabgrass", "smooth-crabgrass"),
    ],
)
def test_a_weed_is_known_by_what_people_call_it(store: Store, told: str, meant: str) -> None:
    assert add(store, weed=told).note.weed == meant


def test_a_weed_that_is_not_known_names_three(store: Store) -> None:
    message = faults(store, weed="xyzzy")["weed"]
    assert len(message.split("nearest: ")[1].split(", ")) == 3


def test_an_area_is_known_by_name_or_id(store: Store) -> None:
    assert add(store, area="BACK  lawn").note.area == add(store, area="back-lawn").note.area == "back-lawn"


def test_an_area_that_is_not_there_is_told_with_those_that_are(store: Store) -> None:
    assert faults(store, area="side") == {"area": "'side' is no area of 12 Mill Lane; use Front, Back Lawn"}


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"stage": "1-3-tiller"}, "stage"),
        ({"tillers": 2}, "tillers"),
        ({"leaves": 2}, "leaves"),
        ({"weed": "smooth crabgrass", "stage": "1-3-leaf", "tillers": 5}, "tillers"),
        ({"weed": "creeping-bentgrass-weed", "area": "back-lawn"}, "weed"),
        ({"cover_pct": 101}, "cover_pct"),
        ({"resistant_to": ["99"]}, "resistant_to.0"),
        ({"date": "2027-06-17"}, "date"),
        ({"date": "2027-06-31"}, "date"),
        ({"closed": "2027-05-31"}, "closed"),
        ({"area": None}, "area"),
        ({"colour": "green"}, "colour"),
    ],
)
def test_what_cannot_have_been_seen_is_refused_at_its_field(store: Store, told: dict[str, Any], field: str) -> None:
    assert list(faults(store, **told)) == [field]


@pytest.mark.parametrize("told", [None, [], "dandelion"])
def test_a_note_that_is_none_is_refused(store: Store, told: object) -> None:
    with pytest.raises(InputError):
        scouting.add_note(store, "12-mill-lane", told)


@pytest.mark.parametrize(
    "told", [{"weed": 7}, {"weed": " "}, {"area": ["front"]}, {"resistant_to": [None]}, {"resistant_to": "3"}]
)
def test_what_is_of_another_kind_is_refused_and_breaks_nothing(store: Store, told: dict[str, Any]) -> None:
    (head,) = told
    assert all(path.startswith(head) for path in faults(store, **told))


def test_what_can_have_been_seen_is_kept(store: Store) -> None:
    told = {"weed": "smooth crabgrass", "stage": "1-3-tiller", "tillers": 2, "resistant_to": ["Quinclorac", "2"]}
    note = add(store, **told, date="2027-06-16").note
    assert (note.tillers, note.resistant_to, note.date) == (2, ("quinclorac", "2"), date(2027, 6, 16))
    assert add(store, closed="2027-06-01").note.closed == date(2027, 6, 1)


def test_every_fault_is_told_at_once(store: Store) -> None:
    assert list(faults(store, area="side", weed="xyzzy", date="soon", cover_pct=-1)) == [
        "area",
        "weed",
        "date",
        "cover_pct",
    ]


def test_a_form_sent_twice_is_one_note(store: Store) -> None:
    first = add(store, key="aaaaaaaa")
    kept, new = scouting.add_note(store, "12-mill-lane", SEEN, key="aaaaaaaa", today=TODAY)
    assert (kept, new) == (first, False)
    assert len(scouting.notes_of(store, "12-mill-lane")) == 1
    properties.add(store, place(name="Elm 3"))
    with pytest.raises(InputError, match="note of another property"):
        scouting.add_note(store, "elm-3", SEEN, key="aaaaaaaa", today=TODAY)


def test_notes_come_the_latest_first_and_close(store: Store) -> None:
    old, new = add(store), add(store, date="2027-06-10", weed="wild violet")
    assert scouting.notes_of(store, "12-mill-lane") == (new, old)
    closed = scouting.close_note(store, "12-mill-lane", old.key, 1, TODAY)
    assert (closed.version, closed.open, closed.note.closed) == (2, False, TODAY)
    assert scouting.open_notes_of(store, ["12-mill-lane", "elm-3"]) == {"12-mill-lane": (new,)}
    with pytest.raises(Changed):
        scouting.close_note(store, "12-mill-lane", old.key, 1, TODAY)
    with pytest.raises(InputError, match="lies before 2027-06-10"):
        scouting.close_note(store, "12-mill-lane", new.key, 1, date(2027, 6, 9))


def test_a_change_needs_the_version_it_was_made_on(store: Store) -> None:
    kept = add(store)
    changed = scouting.change_note(store, "12-mill-lane", kept.key, {**SEEN, "stage": "flowering"}, 1, today=TODAY)
    assert (changed.version, changed.note.stage) == (2, "flowering")
    with pytest.raises(Changed) as caught:
        scouting.change_note(store, "12-mill-lane", kept.key, SEEN, 1, today=TODAY)
    assert caught.value.stored is not None
    assert caught.value.stored["stage"] == "flowering"


def test_a_note_belongs_to_its_property(store: Store) -> None:
    properties.add(store, place(name="Elm 3"))
    kept = add(store)
    for slug, key in (("elm-3", kept.key), ("12-mill-lane", "not-there-at-all"), ("not-there", kept.key)):
        with pytest.raises(UnknownId):
            scouting.note(store, slug, key)
        with pytest.raises(UnknownId):
            scouting.close_note(store, slug, key, 1, TODAY)


def test_what_is_noted_most_comes_first(store: Store) -> None:
    for weed in ("dandelion", "wild violet", "wild violet"):
        add(store, weed=weed)
    assert scouting.often_noted(store) == ("wild-violet", "dandelion")
