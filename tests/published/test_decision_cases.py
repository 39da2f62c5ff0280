"""Decisions of publications: what leads, what must not stand first, and what must never appear.

Each case cites its source and basis beside it in decision_cases.yaml.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from app.engine.recommend import recommend
from app.engine.situation import Situation
from knowledge.base import KnowledgeBase

CASES: list[dict[str, Any]] = yaml.safe_load(
    Path(__file__).with_name("decision_cases.yaml").read_text(encoding="utf-8")
)


def _situation(case: dict[str, Any]) -> Situation:
    # A usual day of the month: warm in July and August, mild otherwise.
    heat = 84 if case["date"][5:7] in ("07", "08") else 74
    return Situation.model_validate(
        {
            "date": case["date"],
            "zone": case["zone"],
            "site_use": case["site_use"],
            "turf": case["turf"] if isinstance(case["turf"], list) else [case["turf"]],
            "turf_condition": {
                "stand": "established",
                "stress": "none",
                "green_up": case.get("green_up"),
                "mowing_height_in": 0.125
                if case["site_use"] == "golf-green"
                else 0.5
                if "golf" in case["site_use"]
                else 3,
            },
            "targets": [{"weed": case["weed"], "stage": case["stage"], "resistant_to": case.get("resistant_to", [])}],
            "forecast": {"max_temp_f": heat, "max_temp_next_3_days_f": heat},
            "options": {"top": 10},
        }
    )


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['id']}-{case['weed']}-{case['turf']}")
def test_the_published_decision_is_met(base: KnowledgeBase, case: dict[str, Any]) -> None:
    answer = recommend(base, _situation(case))
    leading = [set(program.actives) for program in answer.ranked[:5]]
    assert any(set(wanted) <= program for wanted in case["any_of"] for program in leading), leading
    assert answer.ranked, "nothing is proposed"
    assert set(answer.ranked[0].actives) not in [set(poor) for poor in case["not_first"]]
    for program in answer.ranked:
        assert not set(program.actives) & set(case["never"])
