"""Expected control against percent-control figures printed in publications.

Each row of control_figures.yaml (single actives)
cites its source; all are published. A row's error is the distance from the likely control
to the nearest point of the printed range. One row is one trial and trials scatter, so a whole set is
judged: mean error at most 15 points, and at least 65 % of the rows inside the band from low to high
widened by 3 points.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from app.engine.expect import expect
from app.engine.output import Control
from app.engine.situation import ExpectRequest
from app.services.knowledge_service import knowledge_base
from knowledge.base import rate_for
from knowledge.quantities import parse_quantity

HERE = Path(__file__).parent
SINGLE: list[dict[str, Any]] = yaml.safe_load((HERE / "control_figures.yaml").read_text(encoding="utf-8"))
ROWS = {row["id"]: row for row in SINGLE}
MEAN_ERROR, INSIDE_SHARE, WIDENED, WORST = 15.0, 0.65, 3.0, 10
# A range no wider than this says what control was, not only what it was not.
NARROW = 25
CUT_IN = {"golf-green": 0.125, "golf-fairway": 0.5}
SETS = {
    "single": [row["id"] for row in SINGLE],
    "single-rate-printed": [row["id"] for row in SINGLE if "rate" not in row["assumed"]],
    "single-narrow-range": [row["id"] for row in SINGLE if row["hi"] - row["lo"] <= NARROW],
}


def _dose(row: dict[str, Any], part: dict[str, str]) -> dict[str, Any]:
    active, told = part["active"], part["rate"]
    if told != "usual":
        quantity = parse_quantity(told)
        return {"active": active, "rate": {"value": quantity.value, "unit": quantity.unit}}
    base = knowledge_base()
    timing = "preemergence" if row["stage"] == "not-emerged" else "postemergence"
    rates = rate_for(base.actives[active], base.turf[row["turf"]], timing)
    assert rates is not None, f"{row['id']}: no usual {timing} rate of {active} on {row['turf']}"
    return {"active": active, "rate": {"value": rates.usual.value, "unit": rates.usual.unit}}


@cache
def expected(key: str) -> Control:
    """What the engine expects of the program of one row."""
    row = ROWS[key]
    adjuvant = None if row["adjuvant"] == "none" else {"id": row["adjuvant"]}
    first = {"day": 0, "actives": [_dose(row, part) for part in row["actives"]], "adjuvant": adjuvant}
    sprays = [first]
    if row["applications"] == 2:
        second = [_dose(row, part) for part in row.get("second", row["actives"])]
        sprays.append({"day": row["interval_days"], "actives": second, "adjuvant": adjuvant})
    stand = row.get("stand", "established")
    young = {"weeks_since_emergence": 0, "mowings_since_emergence": 0} if stand == "seedling" else {}
    request = {
        "situation": {
            "date": row["date"],
            "zone": row["zone"],
            "site_use": row["site_use"],
            "turf": [row["turf"]],
            "turf_condition": {
                "stand": stand,
                "stress": "none",
                "green_up": row["green_up"],
                "mowing_height_in": CUT_IN.get(row["site_use"], 3.0),
                **young,
            },
            "targets": [{"weed": row["weed"], "stage": row["stage"]}],
            "forecast": {
                "max_temp_f": row["max_temp_f"],
                "max_temp_next_3_days_f": row["max_temp_f"],
                "rain_free_hours": 48,
                "soil_moisture": "adequate",
            },
        },
        "program": {"applications": sprays},
        "days_after": row["days"],
    }
    return expect(knowledge_base(), ExpectRequest.model_validate(request)).control[0]


def figures(key: str) -> tuple[float, float, float]:
    """Low, likely and high of a row; a row without a figure fails."""
    control = expected(key)
    assert control.low is not None, control.text
    assert control.likely is not None, control.text
    assert control.high is not None, control.text
    return control.low, control.likely, control.high


def nearest_point(key: str) -> float:
    """The point of the printed range nearest to the likely control."""
    return float(min(max(figures(key)[1], ROWS[key]["lo"]), ROWS[key]["hi"]))


def error(key: str) -> float:
    """Points of control between the likely one and the printed range."""
    return abs(nearest_point(key) - figures(key)[1])


def inside(key: str) -> bool:
    """Whether the printed range reaches into the widened band."""
    low, _, high = figures(key)
    return low - WIDENED <= nearest_point(key) <= high + WIDENED


def line(key: str) -> str:
    """One row in words, for the list of worst misses."""
    row, (low, likely, high) = ROWS[key], figures(key)
    what = " + ".join(f"{part['active']} {part['rate']}" for part in row["actives"])
    return (
        f"{key} {row['weed']} {row['stage']}: {what} x{row['applications']}, {row['days']} d, {row['adjuvant']}: "
        f"printed {row['lo']}..{row['hi']}, expected {likely:.0f} ({low:.0f} to {high:.0f}); "
        f"assumed {row['assumed']}; {row['source'][:50]}"
    )


@pytest.mark.parametrize("key", ROWS)
def test_a_printed_pair_of_weed_and_active_has_a_figure(key: str) -> None:
    assert expected(key).likely is not None, expected(key).text


@pytest.mark.parametrize("name", SETS)
def test_expected_control_stands_near_the_printed_figures(name: str) -> None:
    keys = SETS[name]
    errors = {key: error(key) for key in keys}
    mean = sum(errors.values()) / len(keys)
    share = sum(inside(key) for key in keys) / len(keys)
    worst = sorted(errors, key=lambda key: -errors[key])[:WORST]
    report = "\n".join([f"mean error {mean:.1f}, inside {share:.0%} of {len(keys)}", *(line(key) for key in worst)])
    assert mean <= MEAN_ERROR, report
    assert share >= INSIDE_SHARE, report


def test_the_set_is_large_and_names_what_it_assumes() -> None:
    assert len(SINGLE) >= 80
    assert len(ROWS) == len(SINGLE)
    for row in SINGLE:
        assert ("rate" in row["assumed"]) == any(part["rate"] == "usual" for part in row["actives"]), row["id"]
