"""Sentences of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Date
from itertools import groupby

import numpy as np

from app.engine.output import Control, Statement
from app.engine.shared_tanks import SharedTanks
from app.season.assign import Assigned
from app.season.round_output import PlannedStop, PlannedTank, Status, Tradeoff
from app.season.round_stops import OnDay
from app.season.windows_output import WindowDay

CURRENCY = "USD"


def limb(names: Sequence[str]) -> str:
    """Several names in a sentence."""
    *others, last = dict.fromkeys(names)
    return f"{', '.join(others)} and {last}" if others else last


def day_words(day: Date) -> str:
    """A day as people say it, for example 24 July."""
    return f"{day.day} {day:%B}"


def headline(stops: Sequence[PlannedStop], tanks: Sequence[PlannedTank]) -> str:
    """The plan in one sentence."""
    if not stops:
        return "No stop is chosen yet."
    parts = [f"tank {tank.label} serves {tank.stops}" for tank in tanks]
    waiting = sorted(
        (s for s in stops if s.status == "wait"), key=lambda s: (s.wait_until is None, s.wait_until or Date.max)
    )
    for until, group in groupby(waiting, key=lambda s: s.wait_until):
        count = len(list(group))
        when = f" until {day_words(until)}" if until is not None else "; look again"
        parts.append(f"{count} {'waits' if count == 1 else 'wait'}{when}")
    for status, words in (("nothing", "nothing to spray on"), ("unknown", "something is not told of")):
        count = sum(s.status == status for s in stops)
        if count:
            parts.append(f"{words} {count}")
    return f"{len(stops)} {'area' if len(stops) == 1 else 'areas'}: {', '.join(parts)}."


def open_words(day: WindowDay | None) -> str:
    """When a tank may be sprayed, in words; empty where no hours are told."""
    return day.words if day is not None else ""


def given_up(
    tank: tuple[str, str], own: bool, own_name: str, loss: float, control: Sequence[Control], best: Sequence[Control]
) -> str:
    """What a stop gives up by its tank, which is told by its label and name."""
    label, name = tank
    by_itself = (
        "By itself it would get the same at other rates" if name == own_name else f"By itself it would get {own_name}"
    )
    if own:
        return f"Tank {label} is what it would get by itself."
    if not loss:
        return f"{by_itself}; tank {label} is expected to do as well, to the whole percent."
    apart = [
        f"{now.name} {now.likely:.0f} % in place of {before.likely:.0f} %"
        for now, before in zip(control, best, strict=True)
        if now.likely is not None and before.likely is not None and round(now.likely) < round(before.likely)
    ]
    what = f" ({'; '.join(apart)})" if apart else ""
    return (
        f"{by_itself}; sharing tank {label} gives up {loss:.0f} "
        f"{'point' if loss == 1 else 'points'} of expected control{what}."
    )


def not_served(own: str, at_most: int) -> Statement:
    """Why a stop that could be sprayed is left out."""
    tanks = "one tank" if at_most == 1 else f"{at_most} tanks"
    text = f"It needs a mix of its own ({own}): none of those filled may be sprayed here, and only {tanks} are filled."
    return Statement(code="no-tank-left", text=text.replace("tank are", "tank is"))


def rest_words(one: OnDay, status: Status, again: Date | None, come_back: str) -> list[Statement]:
    """What a stop that rests is told besides its reasons."""
    if status == "nothing":
        name = one.stop.area.name
        return [Statement(code="nothing-seen", text=f"{name}: no open scouting note; nothing is sprayed without one.")]
    if status == "unknown":
        return []
    found = []
    if again is not None:
        text = f"From {day_words(again)} something passes every stop, by what is known now; look at it again then."
        found.append(Statement(code="wait-until", text=text))
    if come_back:
        found.append(Statement(code="come-back", text=come_back))
    return found


def tradeoff(count: int, found: Assigned, serving: int, tanks: SharedTanks | None) -> Tradeoff:
    """What so many tanks at most come to."""
    priced = tanks is not None and all(np.isfinite(tanks.cost()[tank]) for tank in found.tanks)
    mean = found.loss / found.served if found.served else 0.0
    left = serving - found.served
    used = len(found.tanks)
    text = f"{used} {'tank' if used == 1 else 'tanks'}: {found.served} of {serving} areas sprayed"
    text += f", {mean:.1f} points of control given up on the mean" if found.served else ""
    text += f"; materials {found.cost:.2f} {CURRENCY}" if priced and found.served else ""
    text += "; proved to be the best." if found.proven else f"; not proved, within {100 * found.gap:.0f} % of the best."
    return Tradeoff(
        tanks=count,
        used=used,
        served=found.served,
        unserved=left,
        loss_pct=round(mean, 2),
        cost=round(found.cost, 2) if priced else None,
        currency=CURRENCY,
        proven=found.proven,
        bound=round(found.bound, 4),
        gap=round(found.gap, 6),
        text=text,
    )
