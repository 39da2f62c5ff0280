"""Random situations over the real ids, all of them sound."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from app.engine.situation import Situation
from app.services.knowledge_service import knowledge_base
from knowledge.models import SITE_USES, SURROUNDINGS, ZONES

BASE = knowledge_base()
WEEDS, ACTIVES, TURFS = sorted(BASE.weeds), sorted(BASE.actives), sorted(BASE.turf)
FORMS = sorted(form.id for active in BASE.actives.values() for form in active.forms)
GROUPS = sorted({active.mechanism.group for active in BASE.actives.values()})
YEAR = 2027


def days(first: date = date(YEAR, 1, 1), last: date = date(YEAR, 12, 31)) -> st.SearchStrategy[date]:
    """Days of the year."""
    return st.dates(first, last)


def or_none(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """A value, or a fact that is not told."""
    return st.none() | strategy


KNOWN_FORECAST = st.fixed_dictionaries(
    {
        "max_temp_f": st.integers(35, 100),
        "max_temp_next_3_days_f": st.integers(35, 100),
        "rain_free_hours": st.integers(0, 72),
        "wind_mph": st.integers(0, 25),
        "soil_moisture": st.sampled_from(["dry", "adequate", "wet"]),
    }
)
FORECAST = KNOWN_FORECAST | st.just({}) | st.fixed_dictionaries({"max_temp_f": st.integers(35, 100)})


@st.composite
def conditions(draw: st.DrawFn, today: date) -> dict[str, Any]:
    """A state of the turf; most stands are established, some are young or about to be sown."""
    stand = draw(st.sampled_from(["established", "established", "seedling", "newly-sodded", "newly-sprigged", None]))
    young = stand not in ("established", None)
    planned = draw(st.none() | st.none() | st.integers(0, 200))
    return {
        "stand": stand,
        "mowings_since_emergence": draw(or_none(st.integers(0, 8))) if young else None,
        "weeks_since_emergence": draw(or_none(st.integers(0, 16))) if young else None,
        "green_up": draw(st.sampled_from([None, "active", "active", "transition", "dormant"])),
        "stress": draw(st.sampled_from([None, "none", "none", "drought", "shade"])),
        "seeding_planned": None if planned is None else (today + timedelta(days=planned)).isoformat(),
        "mowing_height_in": draw(or_none(st.sampled_from([0.125, 0.5, 1.0, 3.0]))),
    }


@st.composite
def targets(draw: st.DrawFn, turf: list[str], most: int) -> list[dict[str, Any]]:
    """Weeds that are not the turf itself, at a told stage or none."""
    known = [weed for weed in WEEDS if not set(BASE.weeds[weed].same_species_turf) & set(turf)]
    chosen = draw(st.lists(st.sampled_from(known), min_size=1, max_size=most, unique=True))
    return [
        {
            "weed": weed,
            "stage": draw(or_none(st.sampled_from(BASE.weeds[weed].treatable_stages))),
            "priority": draw(st.integers(1, 3)),
            "resistant_to": draw(st.just([]) | st.lists(st.sampled_from(GROUPS), max_size=1)),
        }
        for weed in chosen
    ]


@st.composite
def past(draw: st.DrawFn, today: date) -> list[dict[str, Any]]:
    """A few applications earlier this year."""
    count = draw(st.sampled_from([0, 0, 1, 2]))
    found = []
    for _ in range(count):
        active = BASE.actives[draw(st.sampled_from(ACTIVES))]
        if active.rates:
            usual = active.rates[0].usual
            day = draw(days(date(YEAR, 1, 1), today))
            rate = {"value": usual.value, "unit": usual.unit}
            found.append({"date": day.isoformat(), "active": active.id, "rate": rate})
    return found


@st.composite
def local_rules(draw: st.DrawFn, today: date) -> list[dict[str, Any]]:
    """At most one rule of the place."""
    kind = draw(st.sampled_from([None, None, "ban-active", "ban-form", "ban-group", "closed-season"]))
    if kind is None:
        return []
    if kind == "closed-season":
        start = today + timedelta(days=draw(st.integers(-20, 60)))
        end = start + timedelta(days=draw(st.integers(0, 40)))
        return [{"kind": kind, "from": start.isoformat(), "to": end.isoformat()}]
    field, ids = {
        "ban-active": ("active", ACTIVES),
        "ban-form": ("form", FORMS),
        "ban-group": ("group", GROUPS),
    }[kind]
    return [{"kind": kind, field: draw(st.sampled_from(ids))}]


@st.composite
def payloads(draw: st.DrawFn, most_targets: int = 2, forecast: st.SearchStrategy[Any] = FORECAST) -> dict[str, Any]:
    """A situation as plain data."""
    today = draw(days())
    turf = draw(st.lists(st.sampled_from(TURFS), min_size=1, max_size=2, unique=True))
    return {
        "date": today.isoformat(),
        "zone": draw(st.sampled_from(ZONES)),
        "site_use": draw(st.sampled_from(SITE_USES)),
        "turf": turf,
        "turf_condition": draw(conditions(today)),
        "targets": draw(targets(turf, most_targets)),
        "forecast": draw(forecast),
        "surroundings": draw(st.lists(st.sampled_from(SURROUNDINGS), max_size=2, unique=True)),
        "applied_this_year": draw(past(today)),
        "local_rules": draw(local_rules(today)),
        "options": {
            "max_products": draw(st.sampled_from([1, 2, 2, 3])),
            "max_applications": draw(st.integers(1, 2)),
            "adjuvants": draw(st.booleans()),
        },
    }


def situations(**changes: Any) -> st.SearchStrategy[Situation]:
    """Sound situations."""
    return payloads(**changes).map(Situation.model_validate)
