"""The visits of a planned year as they are shown: what, when, against what, why, and what to mind."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date as Date
from itertools import pairwise

from app.engine.citations import cautions_said, source_ids
from app.engine.describe import Spray, applications_of
from app.engine.doses import Dose
from app.engine.offers import spread_dry
from app.engine.output import Caution, Statement
from app.engine.recommend import program_findings
from app.engine.situation import Target
from app.engine.timing_rules import situation_findings
from app.engine.understood import NOT_EMERGED
from app.engine.wording import capital, listed
from app.season.daily import day_words
from app.season.year_candidates import Part, understood_on
from app.season.year_cohorts import Unit
from app.season.year_moved import control_of, window_of, without
from app.season.year_output import VisitWindow, YearVisit
from app.season.year_solving import Solved, applied_before
from knowledge.models import Weed

# A visit is said to be against a weed of which it controls this much more than the plan without it [points].
_FELT = 2.0
_SHOWN = 4
_STAGES = {
    "1-3-leaf": "has one to three leaves",
    "4-5-leaf": "has four or five leaves and no tiller",
    "1-3-tiller": "has one to three tillers",
    "multi-tiller": "has more than three tillers",
    "heading": "is heading",
    "mature": "is ripe",
    "2-4-leaf": "has two to four leaves",
    "5-8-leaf": "has five to eight leaves",
    "flowering": "is in flower",
    "seedling": "is in the seedling",
    "vegetative": "is growing",
    "seed-set": "sets seed",
    "overwintering": "stands in its winter rosette or mat",
}


def shown_visits(held: Solved) -> tuple[YearVisit, ...]:
    """Every visit to every area, by number."""
    dated = sorted(_dates(held))
    found: list[YearVisit] = []
    for number, (date, day) in enumerate(dated, start=1):
        for block, group in enumerate(held.builder.blocks):
            one = _visit(held, number, date, day, block)
            found += [one.model_copy(update={"area": area.id, "name": area.name}) for area in group.areas]
    order = {area.id: place for place, area in enumerate(held.asked.areas)}
    return tuple(sorted(found, key=lambda visit: (visit.number, order[visit.area])))


def _dates(held: Solved) -> list[tuple[Date, int | None]]:
    """The dates of all visits with their places; those on which nothing is sprayed have none where it is chosen."""
    dates: list[tuple[Date, int | None]] = [(held.dates.days[day], day) for day in held.visited]
    dates += [(day, None) for day in held.past]
    if held.dates.chosen:
        for _ in range(held.dates.most - len(dates)):
            free = _free_day(held, [day for day, _ in dates])
            if free is None:
                break
            dates.append((free, None))
    return dates


def _free_day(held: Solved, taken: Sequence[Date]) -> Date | None:
    """The middle of the longest stretch without a visit, for one on which nothing has to be sprayed."""
    days = held.season
    if not days:
        return None
    edges = sorted({min(days), *(day for day in taken if min(days) <= day <= max(days)), max(days)})
    spans = [(later - earlier, earlier) for earlier, later in pairwise(edges)]
    longest = max(spans, key=lambda span: (span[0], -span[1].toordinal()), default=None)
    if longest is None or longest[0].days < 2 * held.dates.gap:
        return None
    return longest[1] + longest[0] / 2


def _visit(held: Solved, number: int, date: Date, day: int | None, block: int) -> YearVisit:
    mine = held.on(block, day) if day is not None else []
    locked = _locked(held, number, date, block)
    if not mine or day is None:
        why = _idle(held, date, day, block, locked=locked)
        window = VisitWindow(start=date, end=date, trigger="Nothing has to be sprayed, so any day will do.")
        return YearVisit(
            number=number, date=date, window=window, area="", name="", applications=(), against=(), groups=(),
            gain=0.0, cost_per_1000_ft2=0.0, locked=locked, reasons=why, cautions=(),
        )  # fmt: skip
    parts = [held.builder.choices[at].part for at in mine]
    against = _against(held, block, mine)
    sprays = _sprays(parts)
    understood = understood_on(held.base, held.builder.blocks[block].place, date, held.products)
    first, last = window_of(held, block, day)
    gain = held.points() - held.points(without(held, mine))
    groups = sorted({int(dose.active.mechanism.group) for part in parts for dose in part.doses})
    costs = [part.cost for part in parts]
    return YearVisit(
        number=number,
        date=date,
        window=VisitWindow(start=first, end=last, trigger=_trigger(held, block, against, date)),
        area="",
        name="",
        applications=applications_of(sprays, understood, held.base),
        against=tuple(against),
        groups=tuple(groups),
        gain=round(gain, 2),
        cost_per_1000_ft2=round(sum(costs), 4) if all(map(math.isfinite, costs)) else None,
        locked=locked,
        reasons=tuple(_reasons(held, block, day, mine, against, gain)),
        cautions=_cautions(held, block, day, sprays, against),
    )


def _sprays(parts: Sequence[Part]) -> list[Spray]:
    """The tank of a visit, and each granule by itself."""
    wet = [part for part in parts if not all(map(spread_dry, part.doses))]
    adjuvant = next((part.adjuvant for part in wet if part.adjuvant != "none"), "none")
    found = [Spray(0, tuple(dose for part in wet for dose in part.doses), adjuvant)] if wet else []
    return [*found, *(Spray(0, part.doses, "none") for part in parts if part not in wet)]


def _locked(held: Solved, number: int, date: Date, block: int) -> bool:
    areas = {area.id for area in held.builder.blocks[block].areas}
    return any(
        (lock.area is None or lock.area in areas) and (lock.date == date or lock.visit == number)
        for lock in held.asked.locks
    )


def _idle(held: Solved, date: Date, day: int | None, block: int, *, locked: bool) -> tuple[Statement, ...]:
    """Why nothing is sprayed on a visit."""
    if date in held.past:
        text = f"{day_words(date, date)} lies before {day_words(held.start, date)}, the first day that is planned."
        return (Statement(code="visit-past", text=text),)
    if locked:
        return (Statement(code="visit-locked", text="The visit is held free: a lock says that nothing is sprayed."),)
    least = held.base.parameters["year-least-gain"]
    sources = source_ids(least.sources)
    worth = [at for at, choice in enumerate(held.builder.choices) if choice.block == block and choice.day == day]
    if day is not None and not worth:
        text = "No weed of the list stands on this day in a stage at which a treatment that is allowed here would help."
        return (Statement(code="no-window", text=text, sources=sources),)
    text = (
        f"Nothing that is allowed adds {least.value:g} % control of one weed to what the other visits do; "
        "come by to look, and note what stands."
    )
    return (Statement(code="nothing-worth", text=text, sources=sources),)


def _against(held: Solved, block: int, mine: Sequence[int]) -> list[str]:
    """Weeds that a visit is against, those of which it controls most first."""
    logs = held.problem.log_killed(held.solution.chosen or ())
    rest = held.problem.log_killed(without(held, mine))
    felt = {}
    for weed in held.builder.blocks[block].weeds:
        lost = control_of(held, logs, block, weed.weed) - control_of(held, rest, block, weed.weed)
        felt[weed.weed] = lost
    ranked = sorted(felt, key=lambda weed: (-felt[weed], weed))
    found = [weed for weed in ranked if felt[weed] >= _FELT]
    return found or ranked[:1]


def stands_on(held: Solved, block: int, weed: str, date: Date) -> list[tuple[Unit, str]]:
    """The units of a weed with the stages in which they stand on a day, while they are still to be judged."""
    found = []
    for judged in held.builder.units:
        if judged.block == block and judged.weed.weed == weed and judged.unit.judged > date:
            found += [(judged.unit, stage) for stage in judged.unit.stages_on(date)[:1]]
    return found


def _trigger(held: Solved, block: int, against: Sequence[str], date: Date) -> str:
    """What opens the window of a visit, by the weed that it is most against."""
    base = held.base
    for key in against:
        weed = base.weeds[key]
        stands = stands_on(held, block, key, date)
        annual = weed.life_cycle in ("summer-annual", "winter-annual")
        waiting = [unit for unit, stage in stands if annual and stage == NOT_EMERGED and unit.emerges is not None]
        _, told = held.builder.memo.shifts.get(
            (key, held.asked.zone, held.asked.year, held.asked.spring_shift_days, held.asked.weather.daily), (0, False)
        )
        by = "by the temperatures told" if told else "by the usual dates of the zone"
        if waiting:
            first = min(unit.emerges for unit in waiting if unit.emerges is not None)
            if first > date:
                return f"Before {weed.name} comes up, about {day_words(first, date)} {by}; water it in."
        for _, stage in stands:
            if stage in _STAGES:
                return f"While {weed.name} {_STAGES[stage]}, {by}."
        if waiting:
            return f"Before the late flush of {weed.name} comes up, {by}; water it in."
    return "Within these days what the visit holds does about as much."


def _reasons(
    held: Solved, block: int, day: int, mine: Sequence[int], against: Sequence[str], gain: float
) -> Iterator[Statement]:
    date = held.dates.days[day]
    for at in mine:
        yield from _does(held, block, at, date, against)
    for key in against[:_SHOWN]:
        yield from _best_window(held, block, held.base.weeds[key], date)
    logs = held.problem.log_killed(held.solution.chosen or ())
    rest = held.problem.log_killed(without(held, mine))
    lost = [
        f"{held.base.weeds[key].name} from {control_of(held, logs, block, key):.0f} to "
        f"{control_of(held, rest, block, key):.0f} %"
        for key in against[:_SHOWN]
    ]
    text = f"Without this visit the year loses {gain:.1f} of 100 points of expected control: {listed(lost)}."
    yield Statement(code="visit-gain", text=text)


def _does(held: Solved, block: int, at: int, date: Date, against: Sequence[str]) -> Iterator[Statement]:
    """What a part does by itself on the weeds that the visit is against, with what that rests on."""
    part = held.builder.choices[at].part
    name = part.label if part.product is not None else " + ".join(dose.active.name for dose in part.doses)
    effects = held.problem.effects
    for key in against:
        units = [
            (judged.unit, sum(effects.size[(effects.choice == at) & (effects.unit == place)]))
            for place, judged in enumerate(held.builder.units)
            if judged.block == block and judged.weed.weed == key
        ]
        unit, size = max(units, key=lambda pair: pair[1])
        control = 100 * (1 - math.exp(-float(size)))
        if control < held.base.parameter("partner-floor"):
            continue
        weed = held.base.weeds[key]
        stage = next(iter(unit.stages_on(date)), NOT_EMERGED)
        how = "not yet up" if stage == NOT_EMERGED else f"which {_STAGES.get(stage, 'stands')}"
        text = f"{capital(name)}: about {control:.0f} % of {weed.name}, {how}, by itself ({unit.name})."
        yield Statement(code="part-does", text=text, sources=_sources(part.doses, weed, stage))


def _sources(doses: Sequence[Dose], weed: Weed, stage: str) -> tuple[str, ...]:
    """What is recorded of these actives on the weed at the stage."""
    held = {dose.active.id for dose in doses}
    return source_ids(
        citation
        for response in weed.responses
        if response.active in held and (stage in response.stages if response.stages else stage != NOT_EMERGED)
        for citation in response.sources
    )


def _best_window(held: Solved, block: int, weed: Weed, date: Date) -> Iterator[Statement]:
    """What the facts say of spraying the weed at this time."""
    key = f"{date.month:02d}-{date.day:02d}"
    stages = {stage for _, stage in stands_on(held, block, weed.id, date)}
    for window in weed.windows:
        fits = (NOT_EMERGED in stages) if window.purpose == "preemergence" else bool(stages - {NOT_EMERGED})
        if window.kind == "best" and held.asked.zone in window.zones and window.holds(key) and fits:
            text = f"{capital(weed.name)}: {window.text}"
            yield Statement(code="best-window", text=text, sources=source_ids(window.sources))
            return


def _cautions(
    held: Solved, block: int, day: int, sprays: Sequence[Spray], against: Sequence[str]
) -> tuple[Caution, ...]:
    """What the rules say of the visit short of a stop; the weather of the day is told by nobody yet."""
    date, base = held.dates.days[day], held.base
    group = held.builder.blocks[block]
    targets = []
    for key in against:
        stages = [stage for _, stage in stands_on(held, block, key, date)]
        told = next(weed for weed in group.weeds if weed.weed == key)
        stage = next((s for s in stages if s != NOT_EMERGED), stages[0] if stages else None)
        targets.append(Target(weed=key, stage=stage, resistant_to=told.resistant_to))
    past = applied_before(held.builder, held.dates, held.solution.chosen or (), block, day)
    understood = understood_on(base, group.place, date, held.products, targets, past)
    found = [f for spray in sprays for f in program_findings(base, understood, [spray])]
    found += situation_findings(base, understood)
    return cautions_said(base, [f for f in found if f.outcome != "stop"])
