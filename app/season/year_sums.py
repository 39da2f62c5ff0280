"""What a planned year comes to: control of each weed, what is used of each active, mechanisms, and the calendar."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from datetime import date as Date

import numpy as np

from app.engine.citations import source_ids
from app.engine.control import Survivors, blend
from app.engine.output import Statement
from app.engine.rules.limits import limits_on
from app.engine.wording import capital, listed
from app.season.course import day_of
from app.season.year_candidates import group_of
from app.season.year_output import Allowance, WeedWindow, WeedYear, YearControl, YearVisit
from app.season.year_solving import Solved, applied_before
from knowledge.base import tolerance_for
from knowledge.models import Active
from knowledge.quantities import Quantity

_RIPE = ("seed-set", "mature")


def expected(held: Solved, visits: tuple[YearVisit, ...]) -> tuple[YearControl, ...]:
    """Control of each weed on the whole property, and by area where areas differ."""
    blocks = range(len(held.builder.blocks))
    found = []
    for weed in held.asked.weeds:
        having = [b for b in blocks if any(w.weed == weed.weed for w in held.builder.blocks[b].weeds)]
        if having:
            found.append(_control(held, visits, weed.weed, having, None))
        if len(having) > 1:
            for block in having:
                for area in held.builder.blocks[block].areas:
                    found.append(_control(held, visits, weed.weed, [block], area.id))
    return tuple(found)


def _control(held: Solved, visits: tuple[YearVisit, ...], key: str, blocks: list[int], area: str | None) -> YearControl:
    weed = held.base.weeds[key]
    chosen = [*(held.solution.chosen or ()), *held.problem.done]
    logs = held.problem.log_killed(held.solution.chosen or ())
    places = [at for at, judged in enumerate(held.builder.units) if judged.block in blocks and judged.weed.weed == key]
    whole = sum(held.builder.units[at].weight for at in places)
    branches = []
    for at in places:
        told = [held.builder.spread.get((at, choice), (0.0, 0.0)) for choice in chosen]
        spread, squares = (np.asarray([[sum(t[i] for t in told)]]) for i in (0, 1))
        survivors = Survivors(np.asarray([[-logs[at]]]), spread, squares)
        branches.append((held.builder.units[at].weight / whole, survivors))
    band = blend(branches, held.base.parameter("site-correlation"))
    mine = {a.id for b in blocks for a in held.builder.blocks[b].areas}
    numbers = sorted({v.number for v in visits if key in v.against and (v.area == area if area else v.area in mine)})
    likely = float(band.likely[0, 0])
    if numbers:
        by = f"visit{'s' if len(numbers) > 1 else ''} {listed(map(str, numbers))}"
        text = f"{capital(weed.name)}: {percent(likely)} over the season, by {by}."
    elif likely >= held.base.parameter("activity-floor"):
        text = f"{capital(weed.name)}: {percent(likely)} beside what the visits are against."
    else:
        text = f"{capital(weed.name)}: the plan does next to nothing against it."
    return YearControl(
        weed=key,
        name=weed.name,
        area=area,
        low=round(float(band.low[0, 0]), 1),
        likely=round(likely, 1),
        high=round(float(band.high[0, 0]), 1),
        visits=tuple(numbers),
        text=text,
        sources=_sources(held, key, chosen, places),
    )


def percent(likely: float) -> str:
    """Expected control in words: never all of it.

    >>> percent(88.2), percent(99.7)
    ('about 88 %', 'over 99 %')
    """
    return "over 99 %" if round(likely) >= 100 else f"about {likely:.0f} %"


def _sources(held: Solved, key: str, chosen: list[int], places: list[int]) -> tuple[str, ...]:
    e = held.problem.effects
    acting = {int(at) for at in np.unique(e.choice[np.isin(e.unit, places) & np.isin(e.choice, chosen)])}
    actives = {active for at in acting for active in held.builder.choices[at].part.actives}
    responses = held.base.weeds[key].responses
    return source_ids(citation for r in responses if r.active in actives for citation in r.sources)


def allowances(held: Solved) -> tuple[Allowance, ...]:
    """How much of each active is used on each area, against its ceilings of the year."""
    found = []
    for block, group in enumerate(held.builder.blocks):
        past = applied_before(held.builder, held.dates, held.solution.chosen or (), block, len(held.dates.days))
        actives = sorted({p.active for p in past if p.date.year == held.asked.year})
        for key in actives:
            active = held.base.actives[key]
            before = sum(rate for _, rate in held.rows.before(block, active))
            uses = [
                dose.rate.base
                for at in held.solution.chosen or ()
                if held.builder.choices[at].block == block
                for dose in held.builder.choices[at].part.doses
                if dose.active.id == key
            ]
            count = len(held.rows.before(block, active)) + len(uses)
            found += [_allowance(held, block, active, area.id, before, sum(uses), count) for area in group.areas]
    return tuple(sorted(found, key=lambda a: (a.area, a.name)))


def _allowance(
    held: Solved, block: int, active: Active, area: str, before: float, coming: float, count: int
) -> Allowance:
    place = held.builder.blocks[block].place
    turf = tuple(held.base.turf[key] for key in place.area.turf)
    limits = limits_on(active, turf, place.site_use)
    unit = f"lb {active.rate_basis}/acre"
    per = Quantity(1.0, unit).base
    totals = [limit for limit in limits if limit.annual_max is not None]
    least = min(totals, key=lambda limit: limit.annual_max.base if limit.annual_max else math.inf, default=None)
    records = [tolerance_for(grass, active.id, place.site_use) for grass in turf]
    counts = [limit.max_applications for limit in limits if limit.max_applications is not None]
    counts += [r.max_applications for r in records if r is not None and r.max_applications is not None]
    maximum = least.annual_max.base / per if least is not None and least.annual_max is not None else None
    sources = source_ids(c for limit in limits for c in limit.sources)
    return Allowance(
        area=area,
        active=active.id,
        name=active.name,
        used=float(f"{(before + coming) / per:.4g}"),
        before=float(f"{before / per:.4g}"),
        maximum=float(f"{maximum:.4g}") if maximum is not None else None,
        unit=unit,
        count=count,
        most=min(counts) if counts else (None if maximum is not None else 1),
        sources=sources,
    )


def rotation(held: Solved) -> tuple[Statement, ...]:
    """Each mechanism of the year: on how many visits, how often it may be, and what it did last year."""
    return tuple(_rotation(held))


def _rotation(held: Solved) -> Iterator[Statement]:
    used: dict[str, set[Date]] = defaultdict(set)
    number_of: dict[str, str] = {}
    for at in held.solution.chosen or ():
        choice = held.builder.choices[at]
        for dose in choice.part.doses:
            group = group_of(held.base, dose.active)
            used[group].add(held.dates.days[choice.day])
            number_of[group] = dose.active.mechanism.group
    last_year, this_year = set(), defaultdict(set)
    for block in held.builder.blocks:
        for past in block.place.applied:
            key = group_of(held.base, held.base.actives[past.active])
            if past.date.year < held.asked.year:
                last_year.add(key)
            else:
                this_year[key].add(past.date)
    for group in sorted(used, key=lambda g: (int(number_of[g]), g)):
        use = held.base.mechanisms[number_of[group]]
        count = len(used[group] | this_year[group])
        name = f"Mechanism {use.id} ({use.name})" if use.shared else capital(held.base.actives[group].name)
        visits = f"{count} visit{'s' if count > 1 else ''} of at most {use.most_visits}"
        text = f"{name}: {visits}; risk of resistance {use.risk}."
        if group in last_year:
            text += " It was used last year too"
            weeds = [weed.weed for weed in held.asked.weeds]
            turned = use.alternate_years and any(held.base.must_alternate(use.id, weed) for weed in weeds)
            text += ", so another mechanism acts beside it on the weeds that it was used against." if turned else "."
        yield Statement(code="rotation", text=text, sources=source_ids(use.sources))


def calendar(held: Solved) -> tuple[WeedYear, ...]:
    """The windows of every weed through the year, in order of their days."""
    found = []
    for told in held.asked.weeds:
        weed = held.base.weeds[told.weed]
        windows = sorted(_windows(held, told.weed), key=lambda w: (w.start, w.kind, w.purpose))
        found.append(WeedYear(weed=weed.id, name=weed.name, pressure=told.pressure, windows=tuple(windows)))
    return tuple(found)


def _windows(held: Solved, key: str) -> Iterator[WeedWindow]:
    weed, year, zone = held.base.weeds[key], held.asked.year, held.asked.zone
    asked = held.asked
    late, told = held.memo.shifts.get((key, zone, year, asked.spring_shift_days, asked.weather.daily), (0, False))
    by = "weather" if told else "calendar"
    units = [judged.unit for judged in held.builder.units if judged.weed.weed == key]
    emerging = [unit for unit in units if unit.emerges is not None and unit.emerges.year == year]
    if emerging:
        first = min(unit.emerges for unit in emerging if unit.emerges is not None)
        last = min(max(unit.soil_until for unit in emerging), Date(year, 12, 31))
        text = f"{capital(weed.name)} comes up" + (
            f", {abs(late)} days {'late' if late > 0 else 'early'}." if late else "."
        )
        yield WeedWindow(
            start=first, end=max(first, last), kind="emerging", purpose="", text=text, told_by=by, sources=()
        )
    ripe = [day for unit in units for day, stage in unit.steps if stage in _RIPE and day.year == year]
    if ripe:
        text = f"{capital(weed.name)} sets seed."
        yield WeedWindow(start=min(ripe), end=max(ripe), kind="seeds", purpose="", text=text, told_by=by, sources=())
    for window in weed.windows:
        if zone not in window.zones:
            continue
        for start, end in _spans(year, window.start, window.end):
            yield WeedWindow(
                start=start,
                end=end,
                kind=window.kind,
                purpose=window.purpose,
                text=window.text,
                told_by="calendar",
                sources=source_ids(window.sources),
            )


def _spans(year: int, start: str, end: str) -> list[tuple[Date, Date]]:
    """A span of months and days in a year; two where it runs over the turn of the year."""
    first, last = (day_of(year, text) for text in (start, end))
    if first <= last:
        return [(first, last)]
    return [(Date(year, 1, 1), last), (first, Date(year, 12, 31))]
