"""Plans as the worker processes make them: by the real model, and no other for what was forgotten meanwhile."""

from __future__ import annotations

from typing import Any

import pytest

from app.season import year_planning
from app.season.year import YearAsked
from app.season.year_fold import folded
from app.season.year_output import YearPlan
from app.services import year_job_plan
from app.services.year_job_figures import FoldFigures
from app.store.keyed import Document
from tests.season.branch_years import asked


def _asked(turf: str, **told: Any) -> Document:
    area = {"id": "lawn", "turf": [turf], "turf_condition": {"stand": "established"}}
    plain = {"visits": {"count": 1}, "options": {"frontier": False}, "areas": [area], **told}
    return folded(YearAsked.model_validate(asked(**plain))).asked.model_dump(mode="json", by_alias=True)


def test_what_is_forgotten_changes_no_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    questions = [_asked("tall-fescue"), _asked("fine-fescue"), _asked("tall-fescue")]
    remembered = year_job_plan.planning(None)
    first = [remembered(told) for told in questions]
    made: list[object] = []

    class Counted(year_planning.YearMemo):
        def __init__(self) -> None:
            super().__init__()
            made.append(self)

    monkeypatch.setattr(year_planning, "YearMemo", Counted)
    monkeypatch.setattr(year_job_plan, "MOST_DAYS", 0)
    forgetful = year_job_plan.planning(None)
    assert [forgetful(told) for told in questions] == first
    assert len(made) == len(questions)
    assert first[0] == first[2]


def test_the_figures_beside_a_plan_are_those_of_the_plan() -> None:
    document = year_job_plan.planning(None)(_asked("tall-fescue"))
    plan, figures = YearPlan.model_validate(document["plan"]), FoldFigures.model_validate(document["figures"])
    assert (figures.objective, figures.gap, figures.proven) == (plan.objective, plan.gap, plan.proven)
    assert figures.reason == ""
    assert [(w.weed, w.likely) for w in figures.control] == [(c.weed, c.likely) for c in plan.control if c.area is None]
    sprayed = [(a.date, p.actives[0].rate) for v in plan.visits for a in v.applications for p in a.products]
    assert sprayed
    assert [(work.date, used.actives[0].rate) for work in figures.work for used in work.used if used.actives] == sprayed


def test_where_nothing_fits_the_least_to_loosen_is_the_reason() -> None:
    locks = [{"visit": 1, "actives": ["dicamba"]}]
    document = year_job_plan.planning(None)(_asked("tall-fescue", locks=locks, forbid=[{"actives": ["dicamba"]}]))
    plan, figures = YearPlan.model_validate(document["plan"]), FoldFigures.model_validate(document["figures"])
    assert plan.relax
    assert figures.reason == f"Nothing is feasible. {plan.relax[0].text}"
    assert figures.work == ()


def test_what_the_trials_of_the_house_saw_counts_as_it_does_for_one_property() -> None:
    seen = {
        **{"name": "Larkmere 2026", "kind": "plots", "treatment": "2,4-D", "weed": "dandelion", "active": "2-4-d"},
        **{"form": "2-4-d-dma", "rate": {"value": 1.0, "unit": "lb ae/acre"}, "stage": "seed-set"},
        **{"season": "late-spring", "days_after": 28, "n": 4, "control_pct": 20, "log_odds": -1.39, "variance": 0.05},
    }
    told = _asked("tall-fescue", weeds=[{"weed": "dandelion"}], visits={"dates": ["2027-05-31"]})
    plain = year_job_plan.planning(None)(told)
    learned = year_job_plan.planning(None, [{**seen, "trial": f"larkmere-{number}"} for number in (1, 2)])(told)
    assert learned["figures"]["objective"] < plain["figures"]["objective"]
