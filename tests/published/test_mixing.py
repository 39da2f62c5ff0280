"""Calibration and tank arithmetic against worked examples of bulletins, and units against pint."""

from __future__ import annotations

import itertools

import pint
import pytest

from app.mixing.calibration import CONSTANT, SQUARE_FEET_OF_128TH
from app.services import mixing
from knowledge.quantities import UNITS, Quantity
from tests.mixing.made import amount, base_of, mixed, product

REGISTRY = pint.UnitRegistry()
FOOT, GALLON = REGISTRY.foot, REGISTRY.gallon
# The acre of the international foot, as in federal tables; pint's own is of survey feet.
ACRE = 43560 * FOOT**2
THOUSAND = 1000 * FOOT**2
BY_PINT = {
    "fl oz/1000 ft2": REGISTRY.fluid_ounce / THOUSAND,
    "fl oz/acre": REGISTRY.fluid_ounce / ACRE,
    "pt/acre": REGISTRY.pint / ACRE,
    "qt/acre": REGISTRY.quart / ACRE,
    "gal/acre": GALLON / ACRE,
    "gal/1000 ft2": GALLON / THOUSAND,
    "L/ha": REGISTRY.liter / REGISTRY.hectare,
    "mL/100 m2": REGISTRY.milliliter / (100 * REGISTRY.meter**2),
    "mL/ha": REGISTRY.milliliter / REGISTRY.hectare,
    "oz/acre": REGISTRY.ounce / ACRE,
    "lb/acre": REGISTRY.pound / ACRE,
    "oz/1000 ft2": REGISTRY.ounce / THOUSAND,
    "lb/1000 ft2": REGISTRY.pound / THOUSAND,
    "g/ha": REGISTRY.gram / REGISTRY.hectare,
    "kg/ha": REGISTRY.kilogram / REGISTRY.hectare,
    "g/100 m2": REGISTRY.gram / (100 * REGISTRY.meter**2),
    "lb ae/acre": REGISTRY.pound / ACRE,
    "oz ae/acre": REGISTRY.ounce / ACRE,
    "g ae/ha": REGISTRY.gram / REGISTRY.hectare,
    "kg ae/ha": REGISTRY.kilogram / REGISTRY.hectare,
    "lb ai/acre": REGISTRY.pound / ACRE,
    "oz ai/acre": REGISTRY.ounce / ACRE,
    "g ai/ha": REGISTRY.gram / REGISTRY.hectare,
    "kg ai/ha": REGISTRY.kilogram / REGISTRY.hectare,
    "lb ae/gal": REGISTRY.pound / GALLON,
    "g ae/L": REGISTRY.gram / REGISTRY.liter,
    "lb ai/gal": REGISTRY.pound / GALLON,
    "g ai/L": REGISTRY.gram / REGISTRY.liter,
    "lb/gal": REGISTRY.pound / GALLON,
    "kg/L": REGISTRY.kilogram / REGISTRY.liter,
    "fl oz/gal": REGISTRY.fluid_ounce / GALLON,
    "mL/L": REGISTRY.milliliter / REGISTRY.liter,
    "% v/v": REGISTRY.Quantity(0.01, ""),
    "oz/gal": REGISTRY.ounce / GALLON,
    "g/L": REGISTRY.gram / REGISTRY.liter,
    "ft2": FOOT**2,
    "acre": ACRE,
    "m2": REGISTRY.meter**2,
    "ha": REGISTRY.hectare,
    "gal": 1 * GALLON,
    "qt": 1 * REGISTRY.quart,
    "pt": 1 * REGISTRY.pint,
    "fl oz": 1 * REGISTRY.fluid_ounce,
    "L": 1 * REGISTRY.liter,
    "mL": 1 * REGISTRY.milliliter,
    "lb": 1 * REGISTRY.pound,
    "oz": 1 * REGISTRY.ounce,
    "kg": 1 * REGISTRY.kilogram,
    "g": 1 * REGISTRY.gram,
}
ROUTES = [(a, b) for a, b in itertools.permutations(BY_PINT, 2) if UNITS[a][0] == UNITS[b][0]]


@pytest.mark.parametrize(("one", "other"), ROUTES, ids=lambda unit: unit)
def test_every_route_between_units_is_pints(one: str, other: str) -> None:
    # Source: pint, a general-purpose library of units.
    ours = Quantity(3.7, one).to(other)
    theirs = (3.7 * BY_PINT[one] / BY_PINT[other]).to("").magnitude
    assert ours.value == pytest.approx(theirs, rel=1e-9)
    assert ours.to(one).value == pytest.approx(3.7, rel=1e-9)


def test_no_measure_of_the_mix_is_left_out() -> None:
    mixed_dimensions = ("volume", "mass", "area", "density", "volume-share", "mass-share")
    wanted = {u for u, (d, _) in UNITS.items() if d.endswith(("-rate", "-content")) or d in mixed_dimensions}
    assert wanted == set(BY_PINT)


# Source: Albany County Weed and Pest District (Wyoming), Calibrating your sprayer: 480 fl oz a minute (3.75 GPM),
# 222 in wide, 5 mph give 20 GPA (20.07 by its own equation). Published, seen.
def test_the_boomless_nozzle_of_the_county_bulletin() -> None:
    found = mixing.calibrate({"method": "boom", "gpm": 3.75, "mph": 5, "width_in": 222})
    assert found.carrier is not None
    assert round(found.carrier.value) == 20
    assert found.carrier.value == pytest.approx(20.07, abs=0.005)
    assert "480 fl oz a minute" in found.working[1]


# Source: the same page: 32 fl oz/A at 20 GPA is 32 fl oz in each 20 gallons. Published, seen.
def test_the_tank_of_the_county_bulletin() -> None:
    made = mixed(
        product(rate="32 fl oz/acre"), area=amount("1 acre"), carrier=amount("20 gal/acre"), tank=amount("20 gal")
    )
    (poured,) = made.tanks[0].products
    assert (poured.said, poured.error_pct) == ("1 qt", 0.0)


# Source: Waltz C, Murphy T, Calibrate sprayer, University of Georgia extension news: a sprayer putting out 25 GPA,
# half a gallon of product an acre, a 2-gal tank (256 fl oz) takes 5.12 fl oz; 1/128 acre is 340.3 ft2. Published, seen.
def test_the_hand_sprayer_of_the_georgia_article() -> None:
    rate = product(rate="0.5 gal/acre", active="2-4-d as 2-4-d-dma 1 lb ae/gal")
    made = mixed(
        rate, method="spot", spray=amount("2 gal"), carrier=amount("25 gal/acre"), area=None, tank=None, turf=None
    )
    (poured,) = made.tanks[0].products
    assert poured.amount.value == pytest.approx(5.12)
    assert pytest.approx(340.3, abs=0.05) == SQUARE_FEET_OF_128TH
    assert pytest.approx(18.5**2, rel=0.01) == SQUARE_FEET_OF_128TH


# Source: the 1/128-acre method of the same article and of two county bulletins. Published, seen.
def test_ounces_caught_are_gallons_an_acre() -> None:
    found = mixing.calibrate({"method": "course", "width_in": 18.5 * 12, "caught_fl_oz": 25})
    assert found.carrier is not None
    assert found.carrier.value == 25
    assert found.course_length == pytest.approx(18.4, abs=0.05)


# Source: from memory; arithmetic on exact definitions (43560 ft2 x 12 in / 88 ft a minute = 5940).
@pytest.mark.parametrize(
    ("told", "field", "value"),
    [
        ({"gpa": 40, "mph": 4, "width_in": 20}, "flow", 0.5387),
        ({"gpa": 87.12, "mph": 3, "width_in": 20}, "flow", 0.88),
        ({"gpa": 40, "gpm": 0.5387205, "width_in": 20}, "speed", 4.0),
        ({"gpa": 40, "gpm": 0.5387205, "mph": 4}, "width", 20.0),
    ],
)
def test_the_boom_equation_is_solved_for_any_of_its_parts(told: dict[str, float], field: str, value: float) -> None:
    assert CONSTANT == 5940
    found = mixing.calibrate({"method": "boom", **told})
    assert getattr(found, field) == pytest.approx(value, rel=1e-4)


# Source: from memory; one mile an hour is 88 ft a minute: 200 ft in 45 s are 3.03 mph.
def test_ground_speed() -> None:
    assert mixing.calibrate({"method": "speed", "feet": 200, "seconds": 45}).speed == pytest.approx(3.03, abs=0.005)


# Source: arithmetic by hand. 64 fl oz in 30 s are 1 gal a minute; 1000 ft2 in 90 s take 1.5 gal.
def test_a_walking_gun_by_timed_area() -> None:
    found = mixing.calibrate(
        {"method": "gun", "area_ft2": 1000, "seconds": 90, "caught_fl_oz": 64, "caught_seconds": 30}
    )
    assert found.carrier_per_1000_ft2 is not None
    assert found.carrier_per_1000_ft2.value == pytest.approx(1.5)
    assert found.flow == pytest.approx(1.0)


# Source: common practice, no source: a nozzle more than 10 % from the mean is cleaned or replaced.
@pytest.mark.parametrize(("last", "off"), [(10.9, ()), (9.1, ()), (11.5, (4,)), (8.5, (4,))])
def test_a_nozzle_that_differs(last: float, off: tuple[int, ...]) -> None:
    assert mixing.calibrate({"method": "nozzles", "caught_fl_oz": [10, 10, 10, last]}).off == off


# Source: Waltz C, Murphy T (as above): 1.5 fl oz/1000 ft2 beside 4.0 pt/A (exactly 4.08 pt/A). Published, seen.
def test_the_round_figure_of_the_georgia_article_is_two_percent_low() -> None:
    exact = Quantity(1.5, "fl oz/1000 ft2").to("pt/acre").value
    assert exact == pytest.approx(4.08375)
    assert 100 * (4.0 / exact - 1) == pytest.approx(-2, abs=0.1)


def test_pounds_of_active_in_the_load_agree_with_pint() -> None:
    made = mixed(area=amount("3 acre"), tank=None)
    pounds = (1 * REGISTRY.quart / ACRE * 3 * ACRE * 3 * REGISTRY.pound / GALLON).to("pound").magnitude
    assert made.active_load[0].amount.value == pytest.approx(pounds)
    assert base_of(made.totals[0].amount) == pytest.approx((3 * REGISTRY.quart).to("liter").magnitude)
