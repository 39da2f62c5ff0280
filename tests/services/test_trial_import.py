"""Importing trials: what the preview says is what is done, and all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from app.engine.errors import InputError
from app.services import trials
from app.services.house import evidence_of
from app.services.trial_csv import read_trials
from app.services.trial_import import (
    Imported,
    confirm,
    forget_pending,
    keep_pending,
    kept_trial,
    pending_file,
    preview,
)
from app.services.trial_write import write_trials
from app.store import pending
from app.store import trials as kept
from app.store.changed import Changed
from app.store.opening import Store, open_in_memory
from tests.services.trial_files import sheet, trial_sheet

MILL = trial_sheet()
OTHER = trial_sheet("Weir Bank")
TWO = MILL + OTHER.split("\r\n", 1)[1]
CHANGED = trial_sheet(injury_pct="4")


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


def versions(store: Store) -> dict[str, int]:
    """What is kept, by id, with its version."""
    return {item.slug: item.version for item in trials.listing(store)}


def test_a_preview_says_what_a_trial_is_and_stores_nothing(store: Store) -> None:
    found = preview(store, TWO)
    assert [item.trial.name for item in found.trials] == ["Mill Field", "Weir Bank"]
    mill = found.trials[0]
    assert (mill.status, mill.slug, mill.version, mill.fault) == ("new", "", 0, "")
    assert mill.weeds == (("dandelion", "dandelion", True),)
    assert (mill.dates, mill.plots, mill.missing) == ((28, 56), 32, 0)
    assert mill.design.startswith("Randomised complete blocks: 4 replicates")
    made = {item.name: (tuple(part.active for part in item.actives), item.guessed) for item in mill.treatments}
    assert made["2,4-D + triclopyr"] == (("2-4-d", "triclopyr"), True)
    assert made["nontreated"] == ((), False)
    assert [item.is_check for item in mill.treatments] == [True, False, False, False]
    assert found.usable
    assert found.seen == {}
    assert trials.listing(store) == ()


def test_what_a_trial_moves_is_what_is_kept_beside_it(store: Store) -> None:
    found = preview(store, MILL)
    assert found.trials[0].moves
    assert {(item.weed, item.active, item.days_after) for item in found.trials[0].moves} == {
        ("dandelion", active, days) for active in ("2-4-d", "triclopyr") for days in (28, 56)
    }
    assert [item.treatment for item in found.trials[0].silent] == ["2,4-D + triclopyr"]
    confirm(store, MILL)
    kept_as = tuple(item.model_copy(update={"trial": "mill-field"}) for item in found.trials[0].moves)
    assert evidence_of(store) == trials.one(store, "mill-field").evidence == kept_as


def test_a_weed_that_is_not_known_is_kept_and_moves_nothing(store: Store) -> None:
    text = trial_sheet(weed="marsh nobody")
    (mill,) = preview(store, text).trials
    assert mill.weeds == (("marsh nobody", "marsh nobody", False),)
    assert mill.moves == ()
    confirm(store, text)
    assert trials.one(store, "mill-field").trial.weeds == ("marsh nobody",)
    assert evidence_of(store) == ()


def test_what_is_told_of_a_treatment_is_no_guess(store: Store) -> None:
    (told,) = preview(store, write_trials(read_trials(MILL).trials)).trials
    assert [item.guessed for item in told.treatments] == [False] * 4


def test_confirming_keeps_every_trial_as_it_was_read(store: Store) -> None:
    assert confirm(store, TWO, seen={}) == Imported(
        ("mill-field", "weir-bank"), (), (), (("new", "mill-field"), ("new", "weir-bank"))
    )
    with store.reading() as session:
        assert tuple(kept_trial(item) for item in kept.every(session)) == read_trials(TWO).trials
    again = preview(store, TWO)
    assert [item.status for item in again.trials] == ["unchanged", "unchanged"]
    assert again.seen == {"mill-field": 1, "weir-bank": 1}
    assert confirm(store, TWO, seen=again.seen) == Imported(
        (), (), ("mill-field", "weir-bank"), (("unchanged", "mill-field"), ("unchanged", "weir-bank"))
    )
    assert versions(store) == {"mill-field": 1, "weir-bank": 1}


def _alone(*rows: dict[str, str]) -> str:
    """One treatment of a trial, with the columns of the others."""
    return sheet(*rows, headings=tuple(MILL.split("\r\n", 1)[0].split(",")))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (_alone({"rep": "1"}, {"rep": "2", "control_pct": "140"}), "line 35, control_pct"),
        (trial_sheet("Weir Bank", reps=1), "Weir Bank"),
        (_alone({"rep": "1"}, {"rep": "2"}, {"rep": "3"}), "Mill Field"),
    ],
)
def test_one_bad_row_or_trial_blocks_the_whole_file(store: Store, text: str, says: str) -> None:
    whole = OTHER.replace("Weir Bank", "Good") + text.split("\r\n", 1)[1]
    found = preview(store, whole)
    assert not found.usable
    assert found.faults or any(item.fault for item in found.trials)
    with pytest.raises(InputError, match=rf"csv: .*{says}"):
        confirm(store, whole)
    assert trials.listing(store) == ()


def test_a_name_that_is_kept_is_replaced_only_where_told(store: Store) -> None:
    confirm(store, MILL)
    text = CHANGED.replace("Mill Field", "MILL  field")
    found = preview(store, text)
    assert [item.status for item in found.trials] == ["changed"]
    assert found.trials[0].slug == "mill-field"
    with pytest.raises(InputError, match="a trial named Mill Field is kept already"):
        confirm(store, text, seen=found.seen)
    assert trials.one(store, "mill-field").trial.plots[0].injury_pct is None
    with pytest.raises(InputError, match="kept already"):
        confirm(store, _both(CHANGED, OTHER))
    assert versions(store) == {"mill-field": 1}
    assert confirm(store, text, seen=found.seen, replace=True) == Imported(
        (), ("mill-field",), (), (("changed", "mill-field"),)
    )
    assert trials.one(store, "mill-field").trial.plots[0].injury_pct == 4
    assert versions(store) == {"mill-field": 2}


def _both(first: str, second: str) -> str:
    """Two trials of which only the first has injury."""
    return write_trials((*read_trials(first).trials, *read_trials(second).trials))


def test_replacing_the_plots_leaves_the_notes(store: Store) -> None:
    confirm(store, MILL)
    told = trials.one(store, "mill-field").trial.model_dump(mode="json")
    trials.change(store, "mill-field", {**told, "notes": "windy"}, 1)
    assert [item.status for item in preview(store, MILL).trials] == ["unchanged"]
    confirm(store, CHANGED, replace=True)
    assert trials.one(store, "mill-field").trial.notes == "windy"


def test_what_somebody_else_did_meanwhile_is_told_and_stays(store: Store) -> None:
    unseen = preview(store, MILL).seen
    confirm(store, CHANGED)
    with pytest.raises(Changed) as raised:
        confirm(store, MILL, seen=unseen, replace=True)
    assert (raised.value.key, raised.value.version) == ("mill-field", 1)
    seen = preview(store, MILL).seen
    confirm(store, trial_sheet(place="East"), replace=True)
    with pytest.raises(Changed):
        confirm(store, MILL, seen=seen, replace=True)
    assert trials.one(store, "mill-field").trial.place == "East"
    trials.remove(store, "mill-field", 2)
    with pytest.raises(Changed, match="removed"):
        confirm(store, MILL, seen=seen, replace=True)
    assert trials.listing(store) == ()


def test_a_file_waits_with_what_was_told_of_it(store: Store) -> None:
    text = MILL.replace(",rep,", ",plot row,").replace("Mill Field", "Mühle")
    told = {"rep": "plot row"}
    found = preview(store, text, told, "crd")
    assert found.trials[0].design == "Completely randomised, as told."
    key = keep_pending(store, text, found, told, "crd")
    waiting = pending_file(store, key)
    assert (waiting.text, waiting.columns, waiting.design, waiting.seen) == (text, told, "crd", {})
    confirm(store, waiting.text, waiting.columns, waiting.seen, design=waiting.design)
    assert trials.one(store, "muhle").trial.design == "crd"
    forget_pending(store, key)
    with pytest.raises(InputError, match="choose it again"):
        pending_file(store, key)


def test_a_file_waits_no_longer_than_two_hours(store: Store) -> None:
    with store.session() as session:
        old = datetime.now(UTC) - pending.KEPT_FOR - timedelta(minutes=1)
        key = pending.keep(session, "{}", {}, old, kind="trials")
    with pytest.raises(InputError, match="waited longer than two hours"):
        pending_file(store, key)
