"""Calibration in metric units, held against the US equations and a general unit library."""

from __future__ import annotations

from typing import Any

import pint
import pytest

from app.engine.errors import InputError
from app.services.mixing import calibrate

UNITS = pint.UnitRegistry()
# The library's acre is that of the survey foot, four millionths larger.
SURVEY_ACRE = 1e-5


def test_the_boom_equation_is_solved_for_each_of_its_four() -> None:
    # 400 L/ha at 6 km/h and 0.5 m: 400 x 6 x 0.5 / 600 = 2 L/min.
    told = {"l_per_ha": 400, "l_per_min": 2, "km_h": 6, "width_m": 0.5}
    for left, value in told.items():
        found = calibrate({"method": "boom-metric", **{key: other for key, other in told.items() if key != left}})
        assert f"= {value:g} " in found.working[0]
        assert found.carrier is not None
        assert (found.carrier.value, found.carrier.unit) == (pytest.approx(400), "L/ha")


def test_metric_and_us_equations_agree() -> None:
    us = calibrate({"method": "boom", "gpa": 40, "mph": 4, "width_in": 20})
    flow = UNITS.Quantity(40, "gallon/acre")
    metric = calibrate(
        {
            "method": "boom-metric",
            "l_per_ha": flow.to("liter/hectare").magnitude,
            "km_h": UNITS.Quantity(4, "mile/hour").to("kilometer/hour").magnitude,
            "width_m": UNITS.Quantity(20, "inch").to("meter").magnitude,
        }
    )
    assert metric.flow == pytest.approx(us.flow, rel=SURVEY_ACRE)
    assert metric.speed == pytest.approx(us.speed, rel=1e-6)
    assert metric.width == pytest.approx(us.width, rel=1e-6)
    assert metric.carrier_per_1000_ft2 is not None
    assert us.carrier_per_1000_ft2 is not None
    assert metric.carrier_per_1000_ft2.value == pytest.approx(us.carrier_per_1000_ft2.value, rel=SURVEY_ACRE)


def test_what_is_caught_over_a_course_is_a_depth_on_its_area() -> None:
    found = calibrate({"method": "course-metric", "width_m": 0.5, "course_m": 80, "caught_ml": 1500})
    depth = UNITS.Quantity(1500, "milliliter") / (UNITS.Quantity(0.5, "meter") * UNITS.Quantity(80, "meter"))
    assert found.carrier is not None
    assert found.carrier.value == pytest.approx(depth.to("liter/hectare").magnitude)


def test_a_gun_by_timed_area() -> None:
    found = calibrate({"method": "gun-metric", "area_m2": 100, "seconds": 90, "caught_ml": 2000, "caught_seconds": 30})
    # 2 L in 30 s are 6 L in 90 s, on 100 m2: 600 L/ha.
    assert found.carrier is not None
    assert found.carrier.value == pytest.approx(600)
    assert found.flow == pytest.approx(UNITS.Quantity(4, "liter").to("gallon").magnitude, rel=1e-6)


def test_speed_and_nozzles() -> None:
    assert calibrate({"method": "speed-metric", "metres": 100, "seconds": 60}).speed == pytest.approx(
        UNITS.Quantity(6, "kilometer/hour").to("mile/hour").magnitude
    )
    assert calibrate({"method": "nozzles-metric", "caught_ml": [700, 700, 700, 900]}).off == (4,)
    assert calibrate({"method": "nozzles-metric", "caught_ml": [700, 710, 705]}).off == ()


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"method": "boom-metric", "l_per_ha": 400}, "km_h"),
        ({"method": "boom-metric", "l_per_ha": 400, "l_per_min": 2, "km_h": 6, "width_m": 0.5}, "l_per_ha"),
        ({"method": "course-metric", "width_m": 0, "caught_ml": 100}, "width_m"),
        ({"method": "gun-metric", "area_m2": 100}, "seconds"),
        ({"method": "nozzles-metric", "caught_ml": [0, 0]}, "caught_ml"),
        ({"method": "nozzles-metric", "caught_ml": [1, -1]}, "caught_ml.1"),
        ({"method": "speed-metric", "metres": float("inf"), "seconds": 1}, "metres"),
    ],
)
def test_what_cannot_be_reckoned_names_its_field(told: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        calibrate(told)
    assert field in [fault.path for fault in refused.value.faults]
