"""A stop of a round on a day: its weeds aged to that day, and the situation that the engine is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from typing import Any

from app.engine.errors import InputError
from app.engine.measures import Carrier
from app.engine.output import Amount, CitedSource, Statement
from app.engine.product import Product
from app.engine.situation import Forecast as Weather
from app.engine.situation import Options, PastApplication, Situation, Target, TurfCondition
from app.engine.understood import NOT_EMERGED, Understood, stage_from_counts, understand
from app.season.ageing import Aged, aged
from app.season.daily import AirDay
from app.season.property import Property, PropertyArea, ScoutingNote
from app.season.record import Method
from app.season.round_output import AgedTarget
from knowledge.base import KnowledgeBase

_WEEK = 7
_MOST_TARGETS = 12
# Square metres of a hectare.
SQUARE_METRES = 10_000


@dataclass(frozen=True)
class Stop:
    """An area of a round, with all that is known of it.

    Attributes
    ----------
    notes : tuple of ScoutingNote
        What was seen on it, closed or not.
    applied : tuple of PastApplication
        What was sprayed on it this year.
    """

    slug: str
    property: Property
    area: PropertyArea
    customer: str
    notes: tuple[ScoutingNote, ...]
    applied: tuple[PastApplication, ...]
    method: Method | None


@dataclass(frozen=True)
class Day:
    """What holds for every stop of a day.

    `weather` may be of nothing known; `daily` are temperatures day by day, by which stages are aged.
    """

    date: Date
    weather: Weather
    daily: tuple[AirDay, ...]
    carrier: Carrier | None
    products: tuple[Product, ...] | None
    max_applications: int


@dataclass(frozen=True)
class OnDay:
    """A stop as it is asked about on a day.

    Attributes
    ----------
    understood : Understood or None
        None where `missing` says what is not told, or where nothing was seen that is to be sprayed.
    share : float
        Part of the ground that is sprayed.
    """

    stop: Stop
    targets: tuple[AgedTarget, ...]
    understood: Understood | None
    missing: tuple[Statement, ...]
    method: Method
    method_text: str
    share: float
    sources: dict[str, CitedSource]

    @property
    def hectares(self) -> float:
        """What is sprayed [ha]; nothing where the size is not told."""
        ground = self.stop.area.area
        return ground.quantity.base / SQUARE_METRES * self.share if ground is not None else 0.0

    @property
    def treated(self) -> Amount | None:
        """What is sprayed, in the unit of the ground."""
        ground = self.stop.area.area
        if ground is None:
            return None
        return Amount(value=float(f"{ground.value * self.share:.4g}"), unit=ground.unit)


def on_day(base: KnowledgeBase, stop: Stop, day: Day) -> OnDay:
    """The stop on a day: what is missing, which stages its weeds are in, how it is sprayed."""
    seen = _latest(stop.notes, day.date)
    pairs = [_aged(base, stop, note, day) for note in seen[:_MOST_TARGETS]]
    targets = tuple(target for target, _ in pairs)
    sources = {key: source for _, told in pairs if told is not None for key, source in told.sources.items()}
    method, why, share = _method(base, stop, targets)
    missing = tuple(_missing(stop, day.date))
    understood = None
    if not missing and targets:
        try:
            understood = _understood(base, stop, seen[:_MOST_TARGETS], targets, day)
        except InputError as error:
            missing = tuple(Statement(code="cannot-plan", text=f"{f.path}: {f.message}") for f in error.faults)
    return OnDay(stop, targets, understood, missing, method, why, share, sources)


def _latest(notes: Sequence[ScoutingNote], on: Date) -> list[ScoutingNote]:
    """The last open note of each weed up to a day, the most urgent first."""
    last: dict[str, ScoutingNote] = {}
    for note in sorted(notes, key=lambda n: n.date):
        if note.date <= on:
            last[note.weed] = note
    open_ = [note for note in last.values() if note.closed is None or note.closed > on]
    return sorted(open_, key=lambda n: (-n.priority, -(n.cover_pct or 0), n.weed))


def _aged(base: KnowledgeBase, stop: Stop, note: ScoutingNote, day: Day) -> tuple[AgedTarget, Aged | None]:
    weed = base.weeds[note.weed]
    counted = stage_from_counts(weed, note.tillers, note.leaves)
    stage = note.stage or (counted[0] if counted else None)
    told: Aged | None = None
    stages: tuple[str, ...] = ()
    if stage is None:
        text = f"{weed.name}: no stage was noted; taken from the season."
    elif stop.property.zone is None:
        text, stages = f"{weed.name}: not aged, since the zone of the property is not told.", (stage,)
    else:
        try:
            told = aged(base, note.weed, stage, note.date, day.date, stop.property.zone, day.daily)
            text, stages = told.text, told.stages
        except InputError as error:
            text = f"{weed.name}: {error.faults[0].message}"
    target = AgedTarget(
        weed=note.weed,
        name=weed.name,
        seen_stage=stage,
        seen=note.date,
        stage=told.stage if told is not None else (stages[0] if stages else None),
        stages=stages,
        cover_pct=note.cover_pct,
        priority=note.priority,
        text=text,
        sources=tuple(told.sources) if told is not None else (),
    )
    return target, told


def _method(base: KnowledgeBase, stop: Stop, targets: Sequence[AgedTarget]) -> tuple[Method, str, float]:
    """Spot or broadcast, why, and which share of the ground is sprayed."""
    covers = [target.cover_pct for target in targets]
    waits = any(target.stage == NOT_EMERGED for target in targets)
    told = None if None in covers or not covers else sum(c for c in covers if c is not None)
    most, margin = base.parameter("round-spot-cover"), base.parameter("round-spot-margin")
    share = min(1.0, margin * told / 100) if told else 1.0
    if stop.method == "spot":
        if told is None:
            return "spot", "Spots, as told; how much they cover was not noted, so all of it is counted.", 1.0
        return "spot", f"Spots, as told: {told:.3g} % cover, {100 * share:.3g} % of the ground counted.", share
    if stop.method == "broadcast" or told is None or waits or not told or told > most:
        why = "cover not noted" if told is None else f"{told:.3g} % cover"
        if stop.method == "broadcast":
            why = "as told"
        elif waits:
            why = "what has not come up yet may stand anywhere"
        return "broadcast", f"Broadcast: {why}.", 1.0
    return "spot", f"Spots: {told:.3g} % cover; {100 * share:.3g} % of the ground is counted for them.", share


_WANTED = (
    ("turf", "which turf it is"),
    ("site_use", "what the ground is used for"),
    ("area", "its size"),
)


def _missing(stop: Stop, on: Date) -> list[Statement]:
    found = [
        Statement(code="not-told", text=f"{stop.area.name}: {what} is not told (field {field}).")
        for field, what in _WANTED
        if not getattr(stop.area, field)
    ]
    ended = stop.property.ended
    if ended is not None and ended < on:
        found.append(Statement(code="ended", text=f"{stop.property.name}: its service ended on {ended}."))
    if stop.property.zone is None:
        found.append(Statement(code="not-told", text=f"{stop.property.name}: its zone is not told (field zone)."))
    return found


def _understood(
    base: KnowledgeBase, stop: Stop, notes: Sequence[ScoutingNote], targets: Sequence[AgedTarget], day: Day
) -> Understood:
    """The situation as the engine understands it, with every plausible stage of each weed."""
    area, told = stop.area, stop.property
    weeks = (day.date - area.emerged).days / _WEEK if area.emerged is not None and area.emerged <= day.date else None
    condition: dict[str, Any] = {
        "stand": area.stand,
        "weeks_since_emergence": weeks,
        "green_up": area.green_up,
        "stress": area.stress,
        "seeding_planned": told.seeding_after(area.id, day.date),
        "mowing_height_in": area.mowing_height_in,
    }
    near = tuple(dict.fromkeys((*area.surroundings, *(("slope",) if area.slope == "steep" else ()))))
    situation = Situation(
        date=day.date,
        zone=told.zone,
        site_use=area.site_use,
        turf=area.turf,
        turf_condition=TurfCondition(**{key: value for key, value in condition.items() if value is not None}),
        targets=tuple(
            Target(weed=t.weed, stage=t.stage, priority=t.priority, cover_pct=t.cover_pct, resistant_to=n.resistant_to)
            for t, n in zip(targets, notes, strict=True)
        ),
        forecast=day.weather,
        applied_this_year=tuple(past for past in stop.applied if past.date <= day.date),
        local_rules=told.local_rules,
        carrier=day.carrier,
        catalog="actives" if day.products is None else "shelf",
        options=Options(max_applications=day.max_applications),
        # Where none is told it is unknown, not that there are none.
        **({"surroundings": near} if near else {}),
    )
    understood = understand(situation, base, day.products)
    plausible = tuple(
        replace(target, stages=tuple(dict.fromkeys((t.stage, *t.stages)))) if t.stage is not None else target
        for target, t in zip(understood.targets, targets, strict=True)
    )
    return replace(understood, targets=plausible)
