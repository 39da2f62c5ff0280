"""Versions of a property's year in the store, on both engines; the checks are computed by hand."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from app.engine.errors import InputError, UnknownId
from app.store import years
from app.store.changed import Changed
from app.store.opening import Store
from app.store.properties import PROPERTIES
from tests.store.test_products import NOW

PLACE = "12-mill-lane"


def document(objective: float = 80.0, cost: float | None = 5.5) -> dict[str, Any]:
    plan = {"headline": f"Control {objective:g}.", "objective": objective, "cost": cost, "currency": "USD"}
    return {"asked": {}, "plan": plan, "note": {}}


def keep(session: Session, number: int, at: int, season: int = 2027, *, choose: bool = True) -> years.StoredYear:
    return years.keep(
        session, f"key-of-{season}-{number}", PLACE, season, document(80 + number), at, NOW, choose=choose
    )


@pytest.fixture
def placed(store: Store) -> Store:
    columns = {"customer": None, "technician": "", "found_by": "", "ordered_by": ""}
    with store.session() as session:
        PROPERTIES.insert(session, [("12 Mill Lane", {}, columns)], NOW)
    return store


def test_versions_follow_each_other_and_the_last_is_chosen(placed: Store) -> None:
    with placed.session() as session:
        assert years.mark(session, PLACE, 2027) == 0
        first = keep(session, 1, 0)
        second = keep(session, 2, years.mark(session, PLACE, 2027))
    assert (first.number, second.number, second.chosen) == (1, 2, True)
    with placed.reading() as session:
        told = years.versions(session, PLACE, 2027)
        assert [(v.number, v.chosen, v.objective, v.cost, v.headline) for v in told] == [
            (1, False, 81.0, 5.5, "Control 81."),
            (2, True, 82.0, 5.5, "Control 82."),
        ]
        held = years.chosen(session, PLACE, 2027)
        assert held is not None
        assert held.number == 2


def test_a_cost_that_is_not_known_stays_unknown(placed: Store) -> None:
    with placed.session() as session:
        years.keep(session, "key-without-cost", PLACE, 2027, document(cost=None), 0, NOW)
    with placed.reading() as session:
        assert years.versions(session, PLACE, 2027)[0].cost is None


def test_every_change_makes_the_mark_greater_and_a_stale_one_is_refused(placed: Store) -> None:
    with placed.session() as session:
        keep(session, 1, 0)
        seen = years.mark(session, PLACE, 2027)
        keep(session, 2, seen)
        after = years.mark(session, PLACE, 2027)
        assert after > seen
    with placed.session() as session, pytest.raises(Changed) as caught:
        keep(session, 3, seen)
    assert caught.value.version == after
    assert caught.value.stored is not None
    assert caught.value.stored["plan"]["objective"] == 82.0
    with placed.session() as session, pytest.raises(Changed):
        years.choose(session, PLACE, 2027, 1, seen)
    with placed.session() as session:
        years.choose(session, PLACE, 2027, 1, after)
        assert years.mark(session, PLACE, 2027) > after


def test_the_same_key_keeps_once(placed: Store) -> None:
    with placed.session() as session:
        keep(session, 1, 0)
        again = keep(session, 1, 0)
        assert again.number == 1
        assert len(years.versions(session, PLACE, 2027)) == 1


def test_one_is_chosen_and_no_more(placed: Store) -> None:
    with placed.session() as session:
        # The first is chosen even where it was to stand beside others.
        assert keep(session, 1, 0, choose=False).chosen
        beside = keep(session, 2, years.mark(session, PLACE, 2027), choose=False)
        assert not beside.chosen
        years.choose(session, PLACE, 2027, 2, years.mark(session, PLACE, 2027))
        assert [v.chosen for v in years.versions(session, PLACE, 2027)] == [False, True]
        with pytest.raises(UnknownId):
            years.choose(session, PLACE, 2027, 3, years.mark(session, PLACE, 2027))


def test_seasons_and_pages_are_told_without_documents(placed: Store) -> None:
    with placed.session() as session:
        keep(session, 1, 0)
        keep(session, 2, years.mark(session, PLACE, 2027))
        keep(session, 1, 0, season=2028)
        assert years.seasons(session) == {2027: 1, 2028: 1}
        assert years.seasons(session, "elsewhere") == {}
        assert {key: item.number for key, item in years.chosen_briefs(session, 2027, [PLACE, "elsewhere"]).items()} == {
            PLACE: 2
        }
        assert [(item.season, item.number) for item in years.every(session)] == [(2027, 1), (2027, 2), (2028, 1)]


def test_there_are_not_ever_more_versions(placed: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(years, "MOST_VERSIONS", 1)
    with placed.session() as session:
        keep(session, 1, 0)
        with pytest.raises(InputError, match="1 versions of 2027 are kept already"):
            keep(session, 2, years.mark(session, PLACE, 2027))


def test_a_property_that_goes_takes_its_years_along(placed: Store) -> None:
    with placed.session() as session:
        keep(session, 1, 0)
        keep(session, 1, 0, season=2028)
        assert years.forget(session, PLACE) == 2
        assert years.every(session) == ()
