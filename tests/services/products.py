"""Random sound products over the real ids, for tests of the shelf."""

from __future__ import annotations

from datetime import date
from typing import Any

from hypothesis import strategies as st

from app.engine.product import FORMULATIONS, LIQUIDS, Product
from app.services.knowledge_service import knowledge_base
from knowledge.models import SITE_USES
from knowledge.quantities import (
    CARRIER_UNITS,
    MASS_RATE_UNITS,
    MASS_UNITS,
    RATE_UNITS,
    UNITS,
    VOLUME_RATE_UNITS,
    VOLUME_UNITS,
)

BASE = knowledge_base()
FORMS = [(active.id, form.id) for active in BASE.actives.values() for form in active.forms]
TURFS = [*BASE.turf, "all", "cool-season", "warm-season"]
ADJUVANTS = ["nis", "coc", "mso", "ams", "uan", "drift-agent"]

# Signs that a file for spreadsheets may stumble over come up more often than by chance.
_LETTERS = st.sampled_from("=+-@'\"\t,;: ()aé中\u00a0|/") | st.characters(
    codec="utf-8", exclude_categories=["Cs", "Cc", "Cf", "Cn", "Co", "Zs", "Zl", "Zp"]
)
LINE = st.text(_LETTERS, max_size=30)
NAME = LINE.map(lambda text: text if text.split() else f"x{text}")
NOTES = st.text(_LETTERS | st.just("\n"), max_size=60)


def figures(least: float = 0.0, most: float = 1e6) -> st.SearchStrategy[float]:
    """Numbers of every length, none of them zero unless asked for."""
    return st.floats(least, most, exclude_min=not least, allow_subnormal=False) | st.sampled_from(
        [0.1, 1.0, 2.5, 1 / 3]
    )


def measures(units: Any, most: float = 1e6) -> st.SearchStrategy[dict[str, Any]]:
    """A figure with one of these units, as plain data."""
    return st.fixed_dictionaries({"value": figures(most=most), "unit": st.sampled_from(list(units))})


def _maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def _ordered(line: dict[str, Any]) -> dict[str, Any]:
    low, high = line["low"], line["high"]
    if low["value"] * UNITS[low["unit"]][1] > high["value"] * UNITS[high["unit"]][1]:
        low, high = high, low
    return {**line, "low": low, "high": high}


@st.composite
def payloads(draw: st.DrawFn) -> dict[str, Any]:
    """A sound product as plain data."""
    formulation = draw(st.sampled_from(FORMULATIONS))
    liquid = formulation in LIQUIDS
    # An ounce of a liquid is a fluid ounce; weights of liquids are pounds or grams.
    per_area = VOLUME_RATE_UNITS + tuple(u for u in MASS_RATE_UNITS if "oz" not in u) if liquid else MASS_RATE_UNITS
    rate_units = draw(st.sampled_from([VOLUME_RATE_UNITS, per_area[-2:]])) if liquid else per_area
    amounts = VOLUME_UNITS if liquid else MASS_UNITS
    shared: dict[str, Any] = {
        "id": draw(_maybe(st.sampled_from(["some-id", "a", "7"]))),
        "name": draw(NAME.map(lambda text: text[:120])),
        "formulation": formulation,
        "registration": draw(LINE),
        "granule_carrier": draw(LINE),
        "reentry_text": draw(LINE),
        "notes": draw(NOTES),
        "packs": draw(
            st.lists(st.fixed_dictionaries({"size": measures(amounts), "price": _maybe(figures())}), max_size=3)
        ),
        "stock": draw(_maybe(measures(amounts))),
        "expiry": draw(_maybe(st.dates(date(2000, 1, 1), date(2100, 12, 31)).map(date.isoformat))),
        "currency": draw(st.sampled_from(["USD", "EUR"])),
        "basis": draw(st.sampled_from(["house", "invented"])),
        "signal_word": draw(_maybe(st.sampled_from(["none", "caution", "warning", "danger"]))),
        "reentry_hours": draw(_maybe(figures(most=720))),
    }
    if draw(st.integers(0, 5)) == 0:
        rate = measures([*RATE_UNITS, "% v/v"])
        return {**shared, "kind": "adjuvant", "adjuvant": draw(st.sampled_from(ADJUVANTS)), "adjuvant_rate": draw(rate)}
    return {**shared, **draw(_of_herbicide(liquid, rate_units))}


@st.composite
def _of_herbicide(draw: st.DrawFn, liquid: bool, rate_units: tuple[str, ...]) -> dict[str, Any]:
    contents = ["lb ae/gal", "g ai/L", "% w/w"] if liquid else ["% w/w"]
    kinds = draw(st.lists(st.sampled_from(FORMS), min_size=1, max_size=3, unique_by=lambda pair: pair[0]))
    actives = [
        {"active": active, "form": draw(st.sampled_from([None, form])), "content": draw(measures(contents, most=30))}
        for active, form in kinds
    ]
    spot = ("fl oz/gal", "mL/L", "% v/v") if liquid else ("oz/gal", "g/L")

    def line(purposes: list[str], units: tuple[str, ...]) -> st.SearchStrategy[dict[str, Any]]:
        return st.fixed_dictionaries(
            {
                "turf": st.lists(st.sampled_from(TURFS), min_size=1, max_size=3, unique=True),
                "purpose": st.sampled_from(purposes),
                "low": measures(units),
                "high": measures(units),
                "note": LINE,
            }
        ).map(_ordered)

    lines = line(["postemergence", "preemergence"], rate_units) | line(["spot"], spot)
    return {
        "actives": actives,
        "rates": draw(st.lists(lines, min_size=1, max_size=3)),
        "rate": draw(_maybe(measures(rate_units))),
        "site_uses": draw(_maybe(st.lists(st.sampled_from(SITE_USES), max_size=3, unique=True))),
        "turf": draw(_maybe(st.lists(st.sampled_from(TURFS), max_size=3, unique=True))),
        "max_per_application": draw(_maybe(measures(rate_units))),
        "max_per_year": draw(_maybe(measures(rate_units))),
        "max_applications_per_year": draw(_maybe(st.integers(1, 52))),
        "min_interval_days": draw(_maybe(st.integers(0, 730))),
        "carrier_floor": draw(_maybe(measures(CARRIER_UNITS))),
        "max_air_f": draw(_maybe(figures(32, 140).filter(lambda value: value >= 32))),
        "adjuvants": draw(
            st.lists(
                st.fixed_dictionaries(
                    {"id": st.sampled_from(ADJUVANTS), "use": st.sampled_from(["allowed", "required", "forbidden"])}
                ),
                max_size=3,
                unique_by=lambda item: item["id"],
            )
        ),
        "rainfast_hours": draw(_maybe(figures(most=168))),
        "seeding_interval_days": draw(_maybe(st.integers(0, 1825))),
    }


def products() -> st.SearchStrategy[Product]:
    """Sound products."""
    return payloads().map(Product.model_validate)
