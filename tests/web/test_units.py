"""Units: figures shown, typed figures turned, sentences of the facts."""

from __future__ import annotations

import pytest

from app.engine.measures import Area
from app.engine.output import Amount
from app.web import units
from app.web.units import System


@pytest.mark.parametrize(
    ("unit", "value", "system", "words"),
    [
        ("lb ae/acre", 1.0, "us", "1 lb ae/acre"),
        ("lb ae/acre", 1.0, "metric", "1120 g ae/ha"),
        ("oz ai/acre", 0.6, "us", "0.0375 lb ai/acre"),
        ("g ai/ha", 35.0, "metric", "35 g ai/ha"),
        ("% v/v", 0.25, "metric", "0.25 % v/v"),
        ("gal/1000 ft2", 1.0, "metric", "407 L/ha"),
        ("gal/1000 ft2", 1.5, "us", "1.5 gal/1000 ft2"),
        ("L/ha", 400.0, "us", "42.8 gal/acre"),
    ],
)
def test_a_rate_is_shown_in_the_system(unit: str, value: float, system: System, words: str) -> None:
    assert units.rate(Amount(value=value, unit=unit), system) == words


def test_a_rate_is_shown_for_a_small_area() -> None:
    pound = Amount(value=1.0, unit="lb ae/acre")
    assert units.small_rate(pound, "us") == "0.37 oz ae"
    assert units.small_rate(pound, "metric") == "11 g ae"
    assert units.small_rate(Amount(value=1.0, unit="% v/v"), "us") == ""


def test_a_rate_is_shown_for_the_area_told() -> None:
    pound = Amount(value=1.0, unit="lb ae/acre")
    assert units.for_area(pound, Area(value=43560, unit="ft2"), "us") == "1 lb ae"
    assert units.for_area(pound, Area(value=4356, unit="ft2"), "us") == "1.6 oz ae"
    assert units.for_area(pound, Area(value=1, unit="ha"), "metric") == "1.12 kg ae"
    assert units.area(Area(value=12000, unit="ft2"), "us") == "12,000 ft2"
    assert units.area(Area(value=1, unit="acre"), "metric") == "0.4047 ha"


@pytest.mark.parametrize(
    ("kind", "us", "metric"),
    [("temperature", "77", "25"), ("wind", "5", "8.047"), ("height", "3", "7.62"), ("past_rate", "1", "1121")],
)
def test_a_typed_figure_turns_and_comes_back(kind: str, us: str, metric: str) -> None:
    assert units.retyped(kind, us, "us", "metric") == metric
    assert float(units.retyped(kind, metric, "metric", "us")) == pytest.approx(float(us), rel=1e-3)
    assert units.retyped(kind, "warm", "us", "metric") == "warm"
    assert units.retyped("number", "12", "us", "metric") == "12"


@pytest.mark.parametrize(
    ("text", "metric"),
    [
        ("sprays of 0.5 to 1 lb ae/acre", "sprays of 560 to 1120 g ae/ha"),
        ("at 0.5, 0.75 and 1 lb ai/acre", "at 560, 841 and 1120 g ai/ha"),
        ("wind between 3 and 10 mph", "wind between 4.8 and 16 km/h"),
        ("days past 75 F.", "days past 24 °C."),
        ("mown at 2 inches", "mown at 5.1 cm"),
        ("at least 10 gal/acre", "at least 93.5 L/ha"),
        ("130 degree-days (base 50 F)", "130 degree-days (base 50 F)"),
        ("28 days apart in 2027; group 4", "28 days apart in 2027; group 4"),
    ],
)
def test_a_sentence_is_said_in_metric(text: str, metric: str) -> None:
    assert units.sentence(text, "metric") == metric


def test_a_large_figure_is_never_in_powers_of_ten() -> None:
    assert units.figure(1_234_567.0) == "1230000"
    assert units.figure(0.0) == "0"
