"""What folding leaves out changes no plan: the plan of the situation is that of the property."""

from __future__ import annotations

from typing import Any

import pytest

from app.season.year import YearAsked
from app.season.year_fold import folded, unfolded
from app.season.year_output import YearPlan
from app.season.year_planning import YearMemo, plan_year
from knowledge.base import KnowledgeBase
from tests.season.branch_years import asked


@pytest.fixture(scope="module")
def memo() -> YearMemo:
    return YearMemo()


def _told(*areas: dict[str, Any], **told: Any) -> YearAsked:
    plain = {"visits": {"count": 2}, "options": {"frontier": False}, **told}
    return YearAsked.model_validate(asked(areas=list(areas), **plain))


def _area(key: str, size: float, *turf: str) -> dict[str, Any]:
    stand = {"stand": "established"}
    area = {"value": size, "unit": "ft2"}
    return {"id": key, "name": key.title(), "turf": turf, "area": area, "turf_condition": stand}


def _essence(plan: YearPlan) -> Any:
    visits = sorted(
        (v.date, v.area, sorted(a.active for told in v.applications for p in told.products for a in p.actives))
        for v in plan.visits
    )
    control = sorted((c.weed, c.area or "", round(c.likely, 6)) for c in plan.control)
    return visits, control, round(plan.objective, 6)


@pytest.mark.parametrize(
    "told",
    [
        _told(_area("lawn", 7300, "kentucky-bluegrass", "fine-fescue"), weeds=[{"weed": "dandelion"}]),
        _told(
            _area("back", 900, "tall-fescue"),
            _area("front", 21_000, "tall-fescue"),
            weeds=[{"weed": "smooth-crabgrass"}, {"weed": "dandelion", "pressure": "high"}],
        ),
        _told(
            _area("zinnia", 3000, "tall-fescue"),
            _area("aster", 7000, "fine-fescue"),
            weeds=[{"weed": "white-clover", "areas": ["zinnia"]}, {"weed": "dandelion"}],
        ),
    ],
    ids=("one area", "two alike", "two unlike"),
)
def test_the_plan_of_the_situation_is_the_plan_of_the_property(
    base: KnowledgeBase, memo: YearMemo, told: YearAsked
) -> None:
    found = folded(told)
    names = {area.id: area.name for area in told.areas}
    shared = unfolded(plan_year(base, found.asked, None, memo), found.areas, names)
    own = plan_year(base, told, None, memo)
    assert _essence(shared) == _essence(own)
    assert "area-0" not in shared.model_dump_json()


def test_an_area_of_which_no_weed_is_told_gets_nothing(base: KnowledgeBase, memo: YearMemo) -> None:
    told = _told(
        *(_area("front", 5000, "tall-fescue"), _area("back", 5000, "tall-fescue")),
        weeds=[{"weed": "dandelion", "areas": ["front"]}],
    )
    found = plan_year(base, told, None, memo)
    assert {visit.area for visit in found.visits if visit.applications} == {"front"}
