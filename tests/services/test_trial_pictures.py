"""Pictures of a trial: no more is analysed than one shows, and a mark tells whether it is still the same."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import UnknownId
from app.services import trials
from app.services.knowledge_service import knowledge_base
from app.services.trial_marks import mark_of
from app.services.trial_pictures import picture_in, picture_of
from app.store.opening import open_in_memory
from app.trials.analysis import report
from app.trials.trial import Trial
from tests.services.trial_files import trial_sheet


@pytest.fixture(scope="module")
def trial() -> Trial:
    """Two weeds at three dates."""
    store = open_in_memory()
    trials.fill_demo(store)
    found = trials.one(store, "larkmere-dandelion-clover-2026").trial
    store.close()
    return found


def test_a_part_of_a_report_has_the_figures_of_the_whole(trial: Trial) -> None:
    base = knowledge_base()
    whole = report(base, trial, 0.1)
    assert len({(item.weed, item.days_after) for item in whole.analyses}) > 2
    for item in whole.analyses:
        part = report(base, trial, 0.1, weed=item.weed, days_after=item.days_after)
        assert (part.analyses, part.courses) == ((item,), ())
    for course in whole.courses:
        assert report(base, trial, 0.1, weed=course.weed).courses == (course,)


def test_a_lost_plot_of_another_date_still_counts_in_the_layout(trial: Trial) -> None:
    dates = sorted({plot.days_after for plot in trial.plots})
    first = trial.plots[0]
    lost = tuple(plot for plot in trial.plots if plot != first)
    gappy = trial.model_copy(update={"plots": lost})
    part = report(knowledge_base(), gappy, weed=first.weed, days_after=first.days_after)
    assert [(item.treatment, item.rep) for item in part.analyses[0].missing] == [(first.treatment, first.rep)]
    assert len(dates) > 1


def test_a_picture_is_that_of_the_whole_report(trial: Trial) -> None:
    whole = report(knowledge_base(), trial)
    weed = trial.weeds[-1]
    for what, day in (("means", None), ("means", whole.analyses[0].days_after), ("course", None)):
        assert picture_of(trial, what, weed, day) == picture_in(whole, what, weed, day)


def test_no_more_is_analysed_than_a_picture_shows(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[dict[str, Any]] = []

    def seen(*given: Any, **only: Any) -> Any:
        asked.append(only)
        return report(*given, **only)

    monkeypatch.setattr("app.services.trial_pictures.reported", seen)
    last = max(plot.days_after for plot in trial.plots if plot.weed == trial.weeds[0])
    picture_of(trial, "means", trial.weeds[0])
    picture_of(trial, "course", trial.weeds[0])
    assert asked == [{"weed": trial.weeds[0], "days_after": last}, {"weed": trial.weeds[0], "days_after": None}]


def test_a_mark_differs_by_what_is_asked_and_how_the_trials_stand() -> None:
    store = open_in_memory()
    trials.confirm(store, trial_sheet("Mill Field"))
    first, all_first = mark_of(store, "bars", "mill-field"), mark_of(store, "forest")
    assert first == mark_of(store, "bars", "mill-field") != mark_of(store, "course", "mill-field")
    trials.confirm(store, trial_sheet("Hill Field"))
    assert mark_of(store, "bars", "mill-field") == first
    assert mark_of(store, "forest") != all_first
    # Removed and brought in again it has the version it had, at another moment.
    before = trials.one(store, "mill-field")
    trials.remove(store, "mill-field", before.version)
    with pytest.raises(UnknownId, match="'mill-field' is no trial that is kept"):
        mark_of(store, "bars", "mill-field")
    trials.confirm(store, trial_sheet("Mill Field"))
    assert trials.one(store, "mill-field").version == before.version
    assert mark_of(store, "bars", "mill-field") != first
    store.close()
