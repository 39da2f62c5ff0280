"""Ratings after applications: kept, put into trials, changed with their record, and what is due."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest

from app.engine.errors import InputError, UnknownId
from app.season.record import FollowUp
from app.services import follow_ups, records, trials
from app.services.house import evidence_of
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from knowledge.base import KnowledgeBase
from tests.services.kept import DAY, KEY, NOW, applied, branch_with

SEEN = FollowUp.model_validate({"date": "2027-06-30", "by": "Ada Holm", "ratings": {"smooth-crabgrass": 80}})


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    branch_with(opened)
    yield opened
    opened.close()


def seen(**changes: Any) -> FollowUp:
    return FollowUp.model_validate({**SEEN.model_dump(mode="json", exclude_none=True), **changes})


def moved(store: Store) -> list[tuple[str, float, int]]:
    """Active, control and days after of what moves the advice."""
    return [(item.active, item.control_pct, item.days_after) for item in evidence_of(store)]


def test_a_rating_moves_the_advice_as_one_of_the_lawn_form_does(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    kept = follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    assert (kept.days_after, kept.said) == (28, ())
    (slug,) = kept.trials
    (by_record,) = evidence_of(store)
    assert (by_record.stage, by_record.adjuvant, by_record.season) == ("1-3-tiller", "mso", "late-spring")
    # The lawn form, given the same, makes the same figure.
    other = open_in_memory()
    trials.add_rating(
        other,
        {
            "lawn": "Brindle Yard, Front lawn",
            "weed": "smooth-crabgrass",
            "stage": "1-3-tiller",
            "days_after": 28,
            "treatment": by_record.treatment,
            "actives": [{"active": "quinclorac", "form": by_record.form, "rate": {"value": 0.7, "unit": "lb ai/acre"}}],
            "adjuvant": "mso",
            "control_pct": 80,
            "applied": f"{DAY}",
            "season": "late-spring",
            "turf": "tall-fescue",
            "trial": trials.one(store, slug).trial.name,
        },
    )
    assert evidence_of(other) == (by_record,)
    other.close()


def test_lawns_treated_alike_on_a_day_stand_in_one_trial(store: Store) -> None:
    for number, area in enumerate(["front", "back"]):
        key = f"key-of-form-{number}"
        records.keep(store, key, applied(area=area, area_name=f"{area} lawn"), NOW)
        follow_ups.add_follow_up(store, key, seen(ratings={"smooth-crabgrass": 70 + 20 * number}), NOW)
    (listed,) = trials.listing(store)
    assert (listed.plots, moved(store)) == (2, [("quinclorac", 80.0, 28)])
    records.keep(store, "key-of-form-9", applied(date="2027-06-03"), NOW)
    follow_ups.add_follow_up(store, "key-of-form-9", SEEN, NOW)
    assert len(trials.listing(store)) == 2


def test_the_same_lawn_recorded_twice_a_day_stays_two_lawns(store: Store) -> None:
    for key in ("key-of-form-1", "key-of-form-2"):
        records.keep(store, key, applied(), NOW)
        assert follow_ups.add_follow_up(store, key, SEEN, NOW).trials
    assert trials.listing(store)[0].plots == 2


def test_changing_and_removing_a_rating_changes_the_trial(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    kept = follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    changed = follow_ups.change_follow_up(
        store, KEY, kept.key, seen(date="2027-07-01", ratings={"smooth-crabgrass": 40}), kept.version, NOW
    )
    assert moved(store) == [("quinclorac", 40.0, 29)]
    with pytest.raises(Changed):
        follow_ups.change_follow_up(store, KEY, kept.key, SEEN, kept.version, NOW)
    assert moved(store) == [("quinclorac", 40.0, 29)]
    follow_ups.remove_follow_up(store, KEY, kept.key, changed.version, NOW)
    assert moved(store) == []
    assert trials.listing(store) == ()
    assert follow_ups.follow_ups_of(store, KEY) == ()


def test_changing_or_voiding_the_record_changes_the_trial(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    records.change(store, KEY, applied(date="2027-06-05"), 1, "Ada", "Wrong day", NOW)
    assert moved(store) == [("quinclorac", 80.0, 25)]
    records.void(store, KEY, 2, "Ada", "Not ours", NOW)
    assert moved(store) == []
    assert [item.days_after for item in follow_ups.follow_ups_of(store, KEY)] == [25]
    with pytest.raises(InputError, match="is void"):
        follow_ups.add_follow_up(store, KEY, seen(date="2027-07-10"), NOW)


def test_what_another_lawn_says_stays_where_one_is_taken_out(store: Store) -> None:
    for number, area in enumerate(["front", "back"]):
        records.keep(store, f"key-of-form-{number}", applied(area=area, area_name=area), NOW)
        follow_ups.add_follow_up(store, f"key-of-form-{number}", SEEN, NOW, f"key-of-rating-{number}")
    follow_ups.remove_follow_up(store, "key-of-form-0", "key-of-rating-0", 1, NOW)
    assert [listed.plots for listed in trials.listing(store)] == [1]
    assert follow_ups.follow_ups_of(store, "key-of-form-1")[0].trials


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"products": [{"name": "Larkmere Three", "rate": {"value": 1.1, "unit": "fl oz/1000 ft2"}}]},
            "a mixture: records are of one active",
        ),
        ({"products": [{"name": "Unknown can"}]}, "what was sprayed is not known whole"),
        ({"targets": [{"weed": "smooth-crabgrass"}]}, "the stage of the weed is not told"),
        ({"application": 2}, "sprayed 2 times"),
    ],
)
def test_what_moves_nothing_says_so(store: Store, changes: dict[str, Any], said: str) -> None:
    records.keep(store, KEY, applied(**changes), NOW)
    kept = follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    assert said in " ".join(kept.said)
    assert moved(store) == []


def test_a_rating_after_a_second_spray_moves_nothing(store: Store) -> None:
    records.keep(store, "key-of-form-1", applied(), NOW)
    records.keep(store, "key-of-form-2", applied(date="2027-06-20"), NOW)
    kept = follow_ups.add_follow_up(store, "key-of-form-1", SEEN, NOW)
    assert kept.trials == ()
    assert "sprayed again on 2027-06-20" in kept.said[0]


def test_a_trial_that_was_removed_by_hand_is_let_be(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    kept = follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    trials.remove(store, kept.trials[0], 1)
    follow_ups.remove_follow_up(store, KEY, kept.key, kept.version, NOW)
    assert follow_ups.follow_ups_of(store, KEY) == ()


def test_the_same_rating_twice_is_kept_once(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    first, second = (follow_ups.add_follow_up(store, KEY, SEEN, NOW, "key-of-rating-1") for _ in range(2))
    assert first == second
    assert len(follow_ups.follow_ups_of(store, KEY)) == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"date": "2027-06-01"}, "date"),
        ({"ratings": {"crabgras": 5}}, "ratings.crabgras"),
        ({"ratings": {}}, "ratings"),
    ],
)
def test_what_cannot_be_rated_is_named(store: Store, changes: dict[str, Any], field: str) -> None:
    records.keep(store, KEY, applied(), NOW)
    with pytest.raises(InputError) as told:
        follow_ups.add_follow_up(store, KEY, seen(**changes), NOW)
    assert [fault.path for fault in told.value.faults] == [field]
    assert follow_ups.follow_ups_of(store, KEY) == ()


def test_a_day_is_rated_once(store: Store) -> None:
    records.keep(store, KEY, applied(), NOW)
    follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    with pytest.raises(InputError, match="change that one"):
        follow_ups.add_follow_up(store, KEY, seen(by="Ben"), NOW)
    with pytest.raises(UnknownId):
        follow_ups.add_follow_up(store, "no-such-record", SEEN, NOW)
    with pytest.raises(UnknownId):
        follow_ups.remove_follow_up(store, KEY, "no-such-rating", 1, NOW)


def test_a_rating_is_due_three_to_six_weeks_after(store: Store, base: KnowledgeBase) -> None:
    # Both ends of the span: common practice, no source (parameters follow-up-from and follow-up-to).
    assert (base.parameter("follow-up-from"), base.parameter("follow-up-to")) == (21, 42)
    records.keep(store, KEY, applied(), NOW)
    due = {days: follow_ups.due_follow_ups(store, DAY + timedelta(days=days)) for days in (20, 21, 42, 43)}
    assert {days: len(found) for days, found in due.items()} == {20: 0, 21: 1, 42: 1, 43: 0}
    (item,) = due[21]
    assert (item.kind, item.key, item.first, item.last) == ("rating", KEY, date(2027, 6, 23), date(2027, 7, 14))
    follow_ups.add_follow_up(store, KEY, seen(date="2027-06-09"), NOW)
    assert len(follow_ups.due_follow_ups(store, DAY + timedelta(days=30))) == 1
    follow_ups.add_follow_up(store, KEY, SEEN, NOW)
    assert follow_ups.due_follow_ups(store, DAY + timedelta(days=30)) == ()


def test_the_next_application_is_due_until_the_place_is_sprayed_again(store: Store) -> None:
    records.keep(store, "key-of-form-1", applied(next_due="2027-06-16", targets=[]), NOW)
    assert follow_ups.due_follow_ups(store, date(2027, 6, 15)) == ()
    (item,) = follow_ups.due_follow_ups(store, date(2027, 6, 16))
    assert (item.kind, item.key) == ("application", "key-of-form-1")
    records.keep(store, "key-of-form-2", applied(date="2027-06-17", area="back", targets=[]), NOW)
    assert len(follow_ups.due_follow_ups(store, date(2027, 6, 18))) == 1
    records.keep(store, "key-of-form-3", applied(date="2027-06-17", targets=[]), NOW)
    assert follow_ups.due_follow_ups(store, date(2027, 6, 18)) == ()
    records.void(store, "key-of-form-3", 1, "", "Rained off", NOW)
    assert len(follow_ups.due_follow_ups(store, date(2027, 6, 18))) == 1
