"""The words of a label: spellings are forgiven, a missing unit and an ambiguous figure are not."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.services import label_text as words
from knowledge.quantities import UNITS, Quantity

REGISTRY: pint.UnitRegistry = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("typed", "value", "unit"),
    [
        ("1.5 fl oz/1000 ft2", 1.5, "fl oz/1000 ft2"),
        ("1.5fl. oz. per 1,000 sq. ft.", 1.5, "fl oz/1000 ft2"),
        ("2 Fluid Ounces per 1000 square feet", 2, "fl oz/1000 ft2"),
        ("1 quart per acre", 1, "qt/acre"),
        ("2 pts/A", 2, "pt/acre"),
        ("3 lbs / acre", 3, "lb/acre"),
        ("1,5 l/ha", 1.5, "L/ha"),
        ("250 mL/100 m²", 250, "mL/100 m2"),
        ("4 LB AE/GAL", 4, "lb ae/gal"),
        ("40 % by weight", 40, "% w/w"),
        ("0.25% v/v", 0.25, "% v/v"),
        ("2.5 gallons", 2.5, "gal"),
        ("500 millilitres", 500, "mL"),
        (".5 kg/ha", 0.5, "kg/ha"),
        ("7 furlongs", 7, "furlongs"),
    ],
)
def test_spellings_of_labels_are_read(typed: str, value: float, unit: str) -> None:
    assert words.measure(typed) == {"value": value, "unit": unit}


@pytest.mark.parametrize(
    ("spelt", "by_pint"),
    [
        ("3 fluid ounces per acre", "3 fluid_ounce / acre"),
        ("2 pints per acre", "2 pint / acre"),
        ("1 gallon per 1,000 sq ft", "1 gallon / (1000 foot ** 2)"),
        ("5 litres per hectare", "5 liter / hectare"),
        ("12 fl oz per 1000 square feet", "12 fluid_ounce / (1000 foot ** 2)"),
    ],
)
def test_what_is_read_is_what_a_general_unit_library_reads(spelt: str, by_pint: str) -> None:
    # Source: the library pint, with its own table of US customary units (international foot).
    told = words.measure(spelt)
    assert Quantity(**told).base == pytest.approx(REGISTRY.Quantity(by_pint).to("liter / hectare").magnitude, rel=1e-5)


@pytest.mark.parametrize("text", ["", "some", "1.2.3 gal", "1,250 gal", "1e999 gal", "--1 gal", "gal"])
def test_what_is_no_figure_is_refused(text: str) -> None:
    with pytest.raises(words.Unreadable):
        words.measure(text, "gal")


def test_a_unit_beside_the_figure_counts_where_none_is_typed() -> None:
    assert words.measure("2", "gal")["unit"] == "gal"
    assert words.measure("2 L", "gal")["unit"] == "L"
    with pytest.raises(words.Unreadable, match="no unit"):
        words.measure("2")


@pytest.mark.parametrize(
    ("typed", "beside", "degrees"),
    [("85 F", "", 85), ("85°F", "C", 85), ("85", "F", 85), ("29 C", "", 84.2), ("0 deg C", "", 32), ("-40", "C", -40)],
)
def test_temperatures_in_both_scales(typed: str, beside: str, degrees: float) -> None:
    # 0 degC is 32 degF and -40 is the same on both, by definition of the scales.
    assert words.temperature(typed, beside) == pytest.approx(degrees)


def test_a_temperature_without_its_scale_is_refused() -> None:
    for text in ("85", "85 K", "warm"):
        with pytest.raises(words.Unreadable):
            words.temperature(text)


def test_days_and_hours() -> None:
    assert words.whole("4 weeks", words.DAY_UNITS) == 28
    assert words.whole("28", words.DAY_UNITS) == 28
    assert words.counted("1.5 hours", words.HOUR_UNITS) == 1.5
    assert words.counted("2 days", words.HOUR_UNITS) == 48
    with pytest.raises(words.Unreadable, match="days"):
        words.counted("3 fortnights", words.DAY_UNITS)


@given(st.floats(0, 1e12, allow_subnormal=False), st.sampled_from(sorted(UNITS)))
def test_a_figure_is_written_as_it_is_read(value: float, unit: str) -> None:
    assert words.measure(f"{words.written(value)} {unit}") == {"value": value, "unit": unit}


def test_a_note_may_hold_anything() -> None:
    (line,) = words.rates('all: spot 1 fl oz/gal "say ""no""; then: stop"')
    assert line["note"] == 'say "no"; then: stop'


@pytest.mark.parametrize("text", ["all: 1 to 2 to 3 fl oz/acre", 'all: "x" 1 fl oz/acre', "all:", 'all: 1 gal/acre "'])
def test_a_line_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(words.Unreadable):
        words.rates(text)
