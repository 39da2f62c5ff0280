"""The plan of a round: every tank judged at every stop, the fewest filled, and what that costs each stop."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from app.engine.citations import cited
from app.engine.control import Floats
from app.engine.output import Statement, TurnedDown
from app.engine.recommend import turned_down
from app.engine.responses import Cell, ControlFacts
from app.engine.screening import screen
from app.engine.shared_tanks import SharedTanks, TanksHere, shared_tanks, tanks_here
from app.engine.situation import Situation
from app.engine.timing_rules import no_treatment
from app.engine.understood import Understood
from app.season.assign import Assigned, assign
from app.season.planned import Served, best_of, planned_stop, planned_tanks, resting_stop
from app.season.planned_words import headline, tradeoff
from app.season.round_output import PlannedStop, RoundPlan
from app.season.round_stops import Day, OnDay, Stop, on_day
from app.season.tank_weather import Weather
from knowledge.base import KnowledgeBase

Bools = NDArray[np.bool_]
_PRODUCTS = 3
# Days after the day of the round on which a stop that must wait is tried again; the first that serves is told.
_LATER = (1, 2, 3, 4, 5, 6, 7, 14, 21, 28, 42, 56, 84, 112)
# Of these, days that differ from the first by their weather alone: tried only where the forecast reaches them.
_NEAR = frozenset(range(1, 7))
# How many tanks beyond those asked for are reckoned, to show what one more would give.
_MORE = 1


@dataclass(frozen=True)
class Judged:
    """A stop with what every tank does on it, or why nothing is sprayed on it."""

    asked: OnDay
    here: TanksHere | None
    rests: tuple[Statement, ...]
    come_back: str = ""


def plan_round(
    base: KnowledgeBase,
    stops: Sequence[Stop],
    days: Callable[[Date], Day],
    date: Date,
    at_most: int,
    weather: Callable[[Date], Weather],
    weather_text: str,
    time_limit: float | None = None,
) -> RoundPlan:
    """Plan a day.

    Parameters
    ----------
    days : callable
        What holds for every stop on a day: its weather, and what may be sprayed.
    at_most : int
        Different mixes that may be filled.
    weather : callable
        When tanks may be sprayed on a day, by the forecast.
    time_limit : float, optional
        Seconds for each aim of the optimisation; where they run out the plan says that it is not proved.
    """
    asked = [on_day(base, stop, days(date)) for stop in stops]
    distinct = _distinct(asked)
    memo: dict[object, Cell] = {}
    facts = {key: ControlFacts(base, understood, memo) for key, understood in distinct.items()}
    tanks = shared_tanks(base, [(distinct[key], facts[key]) for key in distinct], _PRODUCTS) if distinct else None
    here = {key: tanks_here(base, distinct[key], facts[key], tanks) for key in distinct} if tanks else {}
    barred = weather(date).barred(base, tanks) if tanks else np.zeros(0, dtype=bool)
    judged = [_judged(base, one, here, tanks, weather(date), barred) for one in asked]
    serving = [place for place, one in enumerate(judged) if one.here is not None]
    found = _assigned([judged[p] for p in serving], tanks, at_most, time_limit) if tanks and serving else ()
    chosen = found[at_most - 1] if found else None
    served = [Served(one.asked, one.here) for one in judged if one.here is not None]
    labels, shown = planned_tanks(base, tanks, chosen, served, weather(date))
    waiting = [one for one in judged if one.here is None and one.asked.understood is not None]
    until = _until(base, waiting, days, date, weather, memo)
    planned: list[PlannedStop] = []
    of = dict(zip(serving, chosen.of, strict=True)) if chosen is not None else {}
    for place, one in enumerate(judged):
        tank = of.get(place)
        if one.here is not None and tank is not None:
            planned.append(planned_stop(base, one.asked, one.here, tank, labels))
            continue
        again = until.get(id(one))
        planned.append(resting_stop(base, one.asked, one.here, one.rests, again, one.come_back, at_most))
    used = [s for stop in planned for s in _sources_of(stop)]
    used += [s for tank in shown for reason in tank.closed for s in reason.sources]
    told = {key: source for one in asked for key, source in one.sources.items()}
    return RoundPlan(
        date=date,
        headline=headline(planned, shown),
        tanks=shown,
        stops=tuple(planned),
        at_most=at_most,
        tradeoffs=tuple(tradeoff(count, one, len(serving), tanks) for count, one in enumerate(found, start=1)),
        proven=chosen.proven if chosen is not None else True,
        weather_text=weather_text,
        notices=tuple(notice.text for notice in base.notices.values()),
        sources={**told, **cited(base, [s for s in used if s not in told])},
        knowledge_version=base.version,
    )


def _sources_of(stop: PlannedStop) -> list[str]:
    groups = (stop.why, stop.control, stop.own_control, stop.turf_injury, stop.cautions)
    found = [source for group in groups for item in group for source in item.sources]
    return found + [source for shown in stop.control for part in shown.parts for source in part.sources]


def _distinct(asked: Sequence[OnDay]) -> dict[str, Understood]:
    """Every situation once: lawns that are alike are judged together."""
    found: dict[str, Understood] = {}
    for one in asked:
        if one.understood is not None:
            found.setdefault(situation_key(one.understood), one.understood)
    return found


def situation_key(understood: Understood) -> str:
    """Equal for situations that are judged alike; how large the ground is does not count."""
    told: Situation = understood.situation.model_copy(update={"area": None})
    # Products are the same for the whole round, and long.
    plain = told.model_copy(update={"catalog": "actives"}).model_dump_json()
    return f"{plain}{[target.stages for target in understood.targets]}"


def _judged(
    base: KnowledgeBase,
    one: OnDay,
    here: Mapping[str, TanksHere],
    tanks: SharedTanks | None,
    weather: Weather,
    barred: Bools,
) -> Judged:
    if one.understood is None:
        return Judged(one, None, one.missing)
    assert tanks is not None, "a stop that is understood is among those judged"
    found = here[situation_key(one.understood)]
    advice = no_treatment(base, one.understood, best_of(found))
    if advice is not None and found.best is not None:
        weak = any(reason.code == "weak-control" for reason in advice.reasons)
        kept_out = _stops_of(base, one.understood) if weak else ()
        return Judged(one, None, (*kept_out, *advice.reasons), advice.come_back)
    if found.best is None:
        nothing = Statement(code="nothing-passes", text="Nothing passes every stop here.")
        kept_out = _stops_of(base, one.understood)
        return Judged(one, None, (nothing, *kept_out), advice.come_back if advice is not None else "")
    open_ = replace(
        found,
        control=np.where(barred, np.nan, found.control),
        place=np.where(barred, -1, found.place),
    )
    if open_.best is None:
        return Judged(one, None, weather.why(base, tanks, int(found.best)))
    return Judged(one, open_, ())


_SHOWN_STOPS, _SHOWN_NAMES = 3, 3


def _stops_of(base: KnowledgeBase, understood: Understood) -> tuple[Statement, ...]:
    """What keeps out what would work here: each kind of stop once, that which keeps most out first."""
    kinds: dict[str, list[TurnedDown]] = {}
    for item in turned_down(screen(base, understood)):
        kinds.setdefault(item.stops[0].code, []).append(item)
    most = sorted(kinds.values(), key=len, reverse=True)[:_SHOWN_STOPS]
    return tuple(_kept_out(items) for items in most)


def _kept_out(items: Sequence[TurnedDown]) -> Statement:
    stop = items[0].stops[0]
    names = list(dict.fromkeys(item.name for item in items))
    more = f" and {len(names) - _SHOWN_NAMES} more" if len(names) > _SHOWN_NAMES else ""
    text = f"Kept out: {', '.join(names[:_SHOWN_NAMES])}{more}. {stop.text}"
    return Statement(code=stop.code, text=text, sources=stop.sources)


def _assigned(
    judged: Sequence[Judged], tanks: SharedTanks, at_most: int, time_limit: float | None
) -> tuple[Assigned, ...]:
    """The best choice with one tank, with two, and so on, one more than asked for."""
    loss = np.stack([losses(one.here) for one in judged if one.here is not None])
    hectares = np.asarray([one.asked.hectares for one in judged])
    prices = tanks.cost()
    known = prices[np.isfinite(prices)]
    # What has no price is never taken for cheap.
    cost = np.where(np.isfinite(prices), prices, known.max(initial=0.0))[None, :] * hectares[:, None]
    cost = np.round(cost, 2)
    return tuple(assign(loss, cost, count, time_limit) for count in range(1, at_most + _MORE + 1))


def losses(here: TanksHere) -> Floats:
    """What each tank gives up against the one that the stop would get by itself [whole percentage points].

    NaN where a stop stands against the tank. To the whole point: a band is many points wide.
    """
    best = here.best
    assert best is not None, "asked only where something passes"
    return np.asarray(np.round(np.maximum(here.control[best] - here.control, 0.0)))


def _until(
    base: KnowledgeBase,
    waiting: Sequence[Judged],
    days: Callable[[Date], Day],
    date: Date,
    weather: Callable[[Date], Weather],
    memo: dict[object, Cell],
) -> dict[int, Date]:
    """By the identity of a stop the first of some later days on which something is allowed and worth it there."""
    found: dict[int, Date] = {}
    for later in _LATER:
        day = date + timedelta(days=later)
        left = [one for one in waiting if id(one) not in found]
        if not left:
            break
        if later in _NEAR and not weather(day).told:
            continue
        asked = {id(one): on_day(base, one.asked.stop, days(day)) for one in left}
        distinct = _distinct(list(asked.values()))
        facts = {key: ControlFacts(base, distinct[key], memo) for key in distinct}
        tanks = shared_tanks(base, [(distinct[key], facts[key]) for key in distinct], 1)
        barred = weather(day).barred(base, tanks)
        serves = {key: _serves(base, distinct[key], facts[key], tanks, barred) for key in distinct}
        for one in left:
            understood = asked[id(one)].understood
            if understood is not None and serves[situation_key(understood)]:
                found[id(one)] = day
    return found


def _serves(
    base: KnowledgeBase, understood: Understood, facts: ControlFacts, tanks: SharedTanks, barred: Bools
) -> bool:
    here = tanks_here(base, understood, facts, tanks)
    if here.best is None or no_treatment(base, understood, best_of(here)) is not None:
        return False
    return bool((here.place[~barred] >= 0).any())
