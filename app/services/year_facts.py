"""What is kept of a property, as the question of its year takes it: areas, weeds and what was applied."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date
from typing import Literal

from app.engine.errors import FieldFault, InputError
from app.engine.situation import PastApplication, TurfCondition
from app.season.forecast import Forecast, coolest, dates_of, warmest
from app.season.property import Property, PropertyArea, ScoutingNote
from app.season.record import ApplicationRecord
from app.season.year import Pressure, WarmDay, YearArea, YearPast, YearWeed
from app.services import record_year
from app.store.opening import Store
from knowledge.base import KnowledgeBase
from knowledge.models.common import SiteUse

Whence = Literal["note", "record", "likely", "told"]
PRESSURES: tuple[Pressure, ...] = ("low", "moderate", "high")
# What a question takes.
MOST_WEEDS, MOST_PAST, _MOST_RESISTANT, _MOST_DAYS = 25, 400, 10, 800
_WEEK = 7


@dataclass(frozen=True)
class FoundWeed:
    """A weed of a year and whence it comes, in words."""

    weed: YearWeed
    whence: Whence
    text: str


@dataclass(frozen=True)
class Ground:
    """The areas of a property that are planned together.

    `left_out` says in sentences which are not, and why; `site_uses` holds every use that could be planned.
    """

    site_use: SiteUse
    areas: tuple[YearArea, ...]
    left_out: tuple[str, ...]
    site_uses: tuple[SiteUse, ...]


def ground_of(base: KnowledgeBase, told: Property, first: Date, site_use: SiteUse | None = None) -> Ground:
    """The areas of one site use, as they stand on the first day that is planned.

    Parameters
    ----------
    site_use : str, optional
        The use to plan; that of the largest ground where none is told.

    Raises
    ------
    InputError
        Where nothing of the property can be planned.
    """
    if told.ended is not None and told.ended < first:
        raise InputError([FieldFault("property", f"its service ended on {told.ended}; it is not planned any more")])
    if told.zone is None:
        raise InputError([FieldFault("property.zone", f"the zone of {told.name} is not told; tell it first")])
    able = [area for area in told.areas if area.turf and area.site_use is not None]
    uses = tuple(dict.fromkeys(area.site_use for area in able if area.site_use is not None))
    if not uses:
        what = f"{told.name} has no area with its turf and its use; tell these of one area first"
        raise InputError([FieldFault("property.areas", what)])
    if site_use is not None and site_use not in uses:
        what = f"no area of {told.name} is {base.sites[site_use].name.lower()}; use {', '.join(uses)}"
        raise InputError([FieldFault("site_use", what)])
    chosen = site_use if site_use is not None else _largest(able, uses)
    planned = [area for area in able if area.site_use == chosen]
    left = [f"{area.name} is not planned here: {_why(base, area)}." for area in told.areas if area not in planned]
    return Ground(chosen, tuple(_area(told, area, first) for area in planned), tuple(left), uses)


def _largest(areas: Iterable[PropertyArea], uses: Sequence[SiteUse]) -> SiteUse:
    """The use of the largest ground; the first of equal ones."""
    ground = dict.fromkeys(uses, 0.0)
    for area in areas:
        if area.site_use is not None and area.area is not None:
            ground[area.site_use] += area.area.quantity.base
    return max(uses, key=lambda use: ground[use])


def _why(base: KnowledgeBase, area: PropertyArea) -> str:
    if not area.turf:
        return "its turf is not told"
    if area.site_use is None:
        return "its use is not told, and labels differ by it"
    return f"it is {base.sites[area.site_use].name.lower()}, and a year is planned for one use at a time"


def _area(told: Property, area: PropertyArea, first: Date) -> YearArea:
    """An area with its turf as it will stand; a stand that is yet to come up is a seeding that is planned."""
    seedings = [day for day in (told.seeding_after(area.id, first),) if day is not None]
    stand, weeks = area.stand, None
    if area.emerged is not None and area.emerged > first:
        seedings, stand = [*seedings, area.emerged], None
    elif area.emerged is not None:
        weeks = (first - area.emerged).days / _WEEK
    condition = TurfCondition(
        stand=stand,
        weeks_since_emergence=weeks,
        # Shade and traffic stay; drought, heat and disease are of the day they were seen on.
        stress=area.stress if area.stress in ("shade", "traffic") else None,
        seeding_planned=min(seedings, default=None),
        mowing_height_in=area.mowing_height_in,
    )
    near = dict.fromkeys((*area.surroundings, *(("slope",) if area.slope == "steep" else ())))
    return YearArea(
        id=area.id,
        name=area.name,
        turf=area.turf,
        area=area.area,
        turf_condition=condition,
        surroundings=tuple(near),
    )


def weeds_of(
    base: KnowledgeBase,
    ground: Ground,
    notes: Sequence[ScoutingNote],
    records: Sequence[ApplicationRecord],
    zone: str,
) -> tuple[FoundWeed, ...]:
    """The weeds that a property has had, by its notes and records, then those that usually stand there; each once."""
    found: dict[str, FoundWeed] = {}
    areas = {area.id: area for area in ground.areas}
    for weed in dict.fromkeys(note.weed for note in notes):
        seen = [note for note in notes if note.weed == weed and note.area in areas]
        if seen and weed in base.weeds:
            found[weed] = _noted(base, weed, seen, areas)
    for record in sorted(records, key=lambda item: item.date, reverse=True):
        for target in record.targets:
            where = [record.area] if record.area in areas else []
            if target.weed in base.weeds and target.weed not in found and (where or record.area is None):
                text = f"sprayed against on {record.date}"
                found[target.weed] = FoundWeed(_weed(target.weed, areas, where), "record", text)
    ordered = sorted(found.values(), key=lambda f: (-f.weed.priority, -PRESSURES.index(f.weed.pressure), f.weed.weed))
    return tuple(_allowed(base, areas, [*ordered, *_likely(base, ground, zone, set(found))]))


def _likely(base: KnowledgeBase, ground: Ground, zone: str, known: set[str]) -> list[FoundWeed]:
    """What usually stands on turf of this kind in this zone, the heaviest pressure first."""
    found: dict[str, tuple[Pressure, list[str], str]] = {}
    for area in ground.areas:
        for told in (item for turf in area.turf for item in base.likely_weeds(zone, turf, ground.site_use)):
            if told.weed in known:
                continue
            usual = next(pressure for pressure in PRESSURES if pressure == told.pressure)
            pressure, where, why = found.get(told.weed, (usual, [], told.text))
            found[told.weed] = max(pressure, usual, key=PRESSURES.index), [*where, area.id], why
    areas = {area.id: area for area in ground.areas}
    weeds = [
        FoundWeed(_weed(key, areas, where).model_copy(update={"pressure": pressure}), "likely", f"usual here: {why}")
        for key, (pressure, where, why) in found.items()
    ]
    return sorted(weeds, key=lambda item: -PRESSURES.index(item.weed.pressure))


def pressure_of(base: KnowledgeBase, cover: float | None) -> Pressure:
    """The pressure of a weed by the ground it covers [percent]; moderate where that was not noted."""
    if cover is None:
        return "moderate"
    if cover < base.parameter("year-cover-low"):
        return "low"
    return "high" if cover > base.parameter("year-cover-high") else "moderate"


def _noted(base: KnowledgeBase, weed: str, seen: Sequence[ScoutingNote], areas: dict[str, YearArea]) -> FoundWeed:
    """A weed by its notes: the greatest pressure of the last note of each area."""
    last = {note.area: note for note in sorted(seen, key=lambda note: note.date)}
    notes = sorted(last.values(), key=lambda note: note.date, reverse=True)
    pressure = max((pressure_of(base, note.cover_pct) for note in notes), key=PRESSURES.index)
    covers = [note.cover_pct for note in notes if note.cover_pct is not None]
    resistant = dict.fromkeys(item for note in seen for item in note.resistant_to)
    text = f"noted on {notes[0].date}"
    text += f", {max(covers):.3g} % cover" if covers else ", cover not noted"
    if all(note.closed is not None for note in seen):
        text += ", closed since"
    told = _weed(weed, areas, [note.area for note in notes])
    changed = {
        "pressure": pressure,
        "priority": max(note.priority for note in notes),
        "resistant_to": tuple(resistant)[:_MOST_RESISTANT],
    }
    return FoundWeed(told.model_copy(update=changed), "note", text)


def _weed(weed: str, areas: dict[str, YearArea], where: Iterable[str | None]) -> YearWeed:
    """A weed on some areas; on all where every area, or none, is named."""
    named = [key for key in areas if key in set(where)]
    return YearWeed(weed=weed, areas=tuple(named) if 0 < len(named) < len(areas) else ())


def _allowed(base: KnowledgeBase, areas: dict[str, YearArea], found: Iterable[FoundWeed]) -> Iterable[FoundWeed]:
    """The weeds without those that are the turf itself wherever they would stand."""
    for item in found:
        same = base.weeds[item.weed.weed].same_species_turf
        places = item.weed.areas or tuple(areas)
        free = tuple(key for key in places if not any(turf in same for turf in areas[key].turf))
        if free:
            where = free if len(free) < len(areas) else ()
            yield FoundWeed(item.weed.model_copy(update={"areas": where}), item.whence, item.text)


def past_of(
    store: Store, slug: str, areas: Sequence[YearArea], season: int, until: Date | None, base: KnowledgeBase
) -> tuple[tuple[YearPast, ...], tuple[YearPast, ...], tuple[str, ...]]:
    """What was applied this season up to a day (nothing without one), what last year, and what cannot be counted."""
    this: list[YearPast] = []
    last: list[YearPast] = []
    untold: list[str] = []
    for area in areas:
        before = record_year.year_so_far(store, slug, area.id, Date(season - 1, 12, 31), base)
        last += [_past(area, item) for item in before.applications]
        untold += before.untold
        if until is not None:
            so_far = record_year.year_so_far(store, slug, area.id, until, base)
            this += [_past(area, item) for item in so_far.applications]
            untold += so_far.untold
    return tuple(this[-MOST_PAST:]), tuple(last[-MOST_PAST:]), tuple(dict.fromkeys(untold))


def _past(area: YearArea, item: PastApplication) -> YearPast:
    return YearPast(date=item.date, active=item.active, rate=item.rate, product=item.product, area=area.id)


def warm_days(forecast: Forecast, season: int) -> tuple[WarmDay, ...]:
    """Lowest and highest air of each day of a season that a forecast tells [F]."""
    days = sorted({day for day in (*dates_of(forecast), *(d.date for d in forecast.daily)) if day.year == season})
    found = ((day, coolest(forecast, day), warmest(forecast, day)) for day in days)
    told = [WarmDay(date=d, min_f=low, max_f=high) for d, low, high in found if low is not None and high is not None]
    return tuple(told[-_MOST_DAYS:])
