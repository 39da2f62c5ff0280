"""What the pages of rounds show: a line of the list, and a round with its plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from app.engine.errors import UnknownId
from app.season.round_output import PlannedStop, PlannedTank, RoundPlan
from app.season.windows_output import WindowDay
from app.services import forecasts, knowledge_service
from app.services.round_windows import tank_days
from app.services.rounds import KeptRound
from app.services.shelf import shelf_products
from app.services.sprayers import sprayer_named
from app.store.opening import Store
from app.web import mix_show, units
from app.web.round_show import paper_words

SAID = {
    "made": "The round is kept; plan it now.",
    "planned": "Planned, and the plan is kept.",
    "changed": "Changed.",
    "done": "The record of this stop is written.",
    "gaps": "The record of this stop is written; something is still to be filled in.",
}


@dataclass(frozen=True)
class Row:
    """A round in the list."""

    slug: str
    name: str
    date: date
    technician: str
    stops: int
    plan: str


@dataclass(frozen=True)
class Shown:
    """The head of a round's page, in words; `stale` says why its plan may not hold any more."""

    slug: str
    name: str
    version: int
    date: date
    technician: str
    sprayer_words: str
    tanks_words: str
    forecast_words: str
    stops: int
    stop_words: tuple[str, ...]
    stale: str


@dataclass(frozen=True)
class ShownStop:
    """A planned stop, with the key of its record where it is done."""

    stop: PlannedStop
    done: str


@dataclass(frozen=True)
class ShownTank:
    """A planned tank with its stops, and its hours where they can be drawn."""

    tank: PlannedTank
    stops: tuple[ShownStop, ...]
    dry: bool
    day: WindowDay | None


def row_of(kept: KeptRound) -> Row:
    """A line of the list."""
    told, plan = kept.round, kept.plan
    words = plan.headline if plan is not None else ""
    return Row(kept.slug, told.name, told.date, told.technician, len(told.stops), words)


def page_of(store: Store, kept: KeptRound, system: units.System) -> dict[str, Any]:
    """What the page of a round needs."""
    plan = kept.plan
    shown = {
        "shown": _shown(store, kept),
        "plan": plan,
        "tanks": (),
        "others": (),
        "said_words": SAID,
        "anchor": lambda item: f"stop-{item.stop.property}-{item.stop.area}",
        **paper_words(system),
    }
    if plan is None:
        return shown
    stops = [ShownStop(stop, kept.done.get((stop.property, stop.area), "")) for stop in plan.stops]
    days = tank_days(store, plan, kept.round.forecast)
    dry = {product.id for product in shelf_products(store) if product.granular}
    tanks = [
        ShownTank(
            tank,
            tuple(item for item in stops if item.stop.tank == tank.label),
            bool(tank.products) and all(product.id in dry for product in tank.products),
            days.get(tank.label),
        )
        for tank in plan.tanks
    ]
    others = [item for item in stops if item.stop.status != "spray"]
    reasons = [r for day in days.values() for span in (*day.shut, *day.careful) for r in span.reasons]
    hours = [key for reason in reasons for key in reason.sources]
    numbers = {key: number for number, key in enumerate(dict.fromkeys((*plan.sources, *hours)), start=1)}
    return {**shown, "tanks": tanks, "others": others, "numbers": numbers}


def _shown(store: Store, kept: KeptRound) -> Shown:
    told = kept.round
    return Shown(
        slug=kept.slug,
        name=told.name,
        version=kept.version,
        date=told.date,
        technician=told.technician,
        sprayer_words=_sprayer(store, told.sprayer),
        tanks_words=f"{told.tanks} tank{'s' if told.tanks > 1 else ''} at most",
        forecast_words=_forecast(store, told.forecast),
        stops=len(told.stops),
        stop_words=tuple(f"{stop.property}, {stop.area}" for stop in told.stops),
        stale=_stale(kept.plan),
    )


def _sprayer(store: Store, slug: str | None) -> str:
    if slug is None:
        return "sprayer not told"
    try:
        return mix_show.sprayer_words(sprayer_named(store, slug))
    except UnknownId:
        return "its sprayer is not kept any more"


def _forecast(store: Store, slug: str | None) -> str:
    if slug is None:
        return "no forecast"
    try:
        return f"forecast “{forecasts.one(store, slug).name}”"
    except UnknownId:
        return "its forecast is not kept any more"


def _stale(plan: RoundPlan | None) -> str:
    """Why a plan may not hold any more."""
    if plan is None:
        return ""
    if plan.knowledge_version != knowledge_service.knowledge_base().version:
        return "The knowledge base has changed since this was planned: plan it again before you fill a tank."
    return ""
