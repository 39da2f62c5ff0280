"""The years of published calendars stand as their rows tell them, and nothing that is recorded bars them."""

from __future__ import annotations

import pytest

from app.engine.expect import expect
from app.engine.situation import ExpectRequest
from knowledge.base import KnowledgeBase
from tests.published.handbook_years import ROWS, YEARS, HandbookYear, rate_of


def _named(year: HandbookYear) -> str:
    return year.id


@pytest.mark.parametrize("year", YEARS, ids=_named)
def test_each_spray_lies_on_a_day_of_its_row(year: HandbookYear) -> None:
    """The spans are those of the calendars cited in `ROWS`."""
    for spray in year.sprayed:
        row = ROWS[spray.row]
        assert row.start <= f"{spray.date:%m-%d}" <= row.end, spray


def test_every_row_is_used_and_both_kinds_of_turf_are_there(base: KnowledgeBase) -> None:
    assert {row for year in YEARS for row in year.rows} == set(ROWS)
    seasons = [base.turf[year.turf].season for year in YEARS]
    assert seasons.count("cool-season") >= 2
    assert seasons.count("warm-season") >= 2


@pytest.mark.parametrize("year", YEARS, ids=_named)
def test_no_visit_is_barred(base: KnowledgeBase, year: HandbookYear) -> None:
    """What extension tells everybody to spray is no mistake (the calendars cited in `ROWS`), on a usual day."""
    past: list[dict[str, object]] = []
    for day in year.dates:
        sprays = [spray for spray in year.sprayed if spray.date == day]
        parts = [
            {"active": spray.active, "rate": {"value": rate.value, "unit": rate.unit}}
            for spray in sprays
            for rate in (rate_of(base, year, spray),)
        ]
        low, high = base.usual_max_f(year.zone, day.month)
        request = {
            "situation": {
                "date": day.isoformat(),
                "zone": year.zone,
                "site_use": year.site_use,
                "turf": [year.turf],
                "turf_condition": {"stand": "established", "stress": "none"},
                "forecast": {"max_temp_f": (low + high) / 2},
                "targets": [{"weed": weed} for weed in year.weeds],
                "applied_this_year": past,
            },
            "program": {"applications": [{"actives": parts}]},
        }
        answer = expect(base, ExpectRequest.model_validate(request))
        assert answer.stops == (), day
        past = [*past, *({"date": day.isoformat(), **part} for part in parts)]
