"""Log-odds of control of every dose at every moment, as arrays the screen gathers from."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np

from app.engine.catalog import mechanism_number
from app.engine.control import NO_ACTIVITY, Floats, Ints, expit, logit, share_emerged
from app.engine.doses import Dose
from app.engine.record_shifts import Moment
from app.engine.responses import ESCAPE_STAGE, ControlFacts
from app.engine.rules.tank import interactions_between
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.models import Interaction, Weed

MONTH_DAYS = 28.0
VIEWS = ("single", "first", "last", "second", "escape")


@dataclass(frozen=True)
class Timing:
    """When a program is judged.

    Attributes
    ----------
    interval : float
        Days between the two applications of a program of two.
    days_emerged, days_not_emerged : float
        Days after the last application at which control of emerged weeds, and of weeds yet to
        emerge, is judged.
    """

    interval: float
    days_emerged: float
    days_not_emerged: float

    def days_for(self, stage: str) -> float:
        """Days after the last application at which this stage is judged."""
        return self.days_not_emerged if stage == NOT_EMERGED else self.days_emerged


def usual_timing(base: KnowledgeBase) -> Timing:
    """The timing at which candidates are compared."""
    get = base.parameter
    return Timing(get("second-interval"), get("horizon-emerged"), get("horizon-not-emerged"))


@dataclass(frozen=True)
class Column:
    """One target at one of its plausible stages."""

    target: UnderstoodTarget
    stage: str


@dataclass(frozen=True)
class Tables:
    """Arrays over doses; the last dose is "no dose" and does nothing.

    Attributes
    ----------
    mean, sd : dict of str to array (adjuvants, doses, columns)
        Log-odds of control by view: `single` judged after one application, `first` judged when
        a second follows, `last` the first judged at the end of two, `second` the second on the
        survivors, `escape` the second on what came up through the first.
    rho : array (doses, columns)
        Correlation of susceptibilities inside the dose's mechanism.
    shift, shift_sd : array (doses, doses, columns) or None
        Interaction shift on the row's dose when the column's dose is in the tank; None where no
        interaction is recorded among these doses.
    regrowth : array (columns,)
        Factor by which survivors spread between two applications.
    emerged_between : float
        Share of the season's seedlings that come up between a first application before
        emergence and the second one.
    """

    columns: tuple[Column, ...]
    adjuvants: tuple[str, ...]
    groups: Ints
    mean: dict[str, Floats]
    sd: dict[str, Floats]
    rho: Floats
    shift: Floats | None
    shift_sd: Floats | None
    regrowth: Floats
    emerged_between: float
    emerged: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def columns_of(understood: Understood) -> tuple[Column, ...]:
    """Every target at each of its plausible stages."""
    return tuple(Column(target, stage) for target in understood.targets for stage in target.stages)


def moments(column: Column, understood: Understood, base: KnowledgeBase, timing: Timing) -> dict[str, Moment]:
    """The moments at which this column is judged, by view."""
    now, later = understood.season, understood.season_after(round(timing.interval), base)
    stage, days = column.stage, timing.days_for(column.stage)
    found = {
        "single": Moment(stage, now, days),
        "first": Moment(stage, now, timing.interval),
        "second": Moment(stage, later, days, weather_known=False, survivors=stage != NOT_EMERGED),
    }
    if stage == NOT_EMERGED:
        escape = ESCAPE_STAGE[column.target.weed.life_form]
        found["last"] = Moment(stage, now, timing.interval + days)
        found["escape"] = Moment(escape, later, timing.days_emerged, weather_known=False)
    return found


def regrowth_factor(weed: Weed, interval: float, base: KnowledgeBase) -> float:
    """Factor by which survivors of this weed spread in an interval [days]."""
    rates = [base.parameter(f"regrowth-{organ}") for organ in weed.organs if f"regrowth-{organ}" in base.parameters]
    return 1 + max(rates, default=0.0) * interval / MONTH_DAYS


def build_tables(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    doses: Sequence[Dose],
    adjuvants: Sequence[str],
    timing: Timing,
    used: Collection[int],
) -> Tables:
    """Fill the arrays for these doses and adjuvants.

    Parameters
    ----------
    used : collection of int
        Places of the doses that any program holds; the others stay without activity.
    """
    columns = columns_of(understood)
    shape = (len(adjuvants), len(doses) + 1, len(columns))
    mean = {view: np.full(shape, NO_ACTIVITY) for view in VIEWS}
    sd = {view: np.zeros(shape) for view in VIEWS}
    regrowth = np.asarray([regrowth_factor(c.target.weed, timing.interval, base) for c in columns])
    for c, column in enumerate(columns):
        asked = moments(column, understood, base, timing)
        # A record of the whole sequence already tells of survivors and of the days between.
        both = replace(asked["single"], weather_known=False)
        for d in sorted(used):
            dose = doses[d]
            for a, adjuvant in enumerate(adjuvants):
                for view, moment in asked.items():
                    cell = facts.cell(dose, column.target, moment, adjuvant)
                    mean[view][a, d, c], sd[view][a, d, c] = cell.mean, cell.sd
                whole = facts.cell(dose, column.target, both, adjuvant, applications=2)
                if whole.response is not None and column.stage != NOT_EMERGED:
                    first = float(mean["first"][a, d, c])
                    mean["second"][a, d, c] = _second_of(whole.mean, first, float(regrowth[c]))
                    sd["second"][a, d, c] = whole.sd
    shift, shift_sd = _interaction_arrays(base, understood, doses, columns, used)
    return Tables(
        columns=columns,
        adjuvants=tuple(adjuvants),
        groups=np.asarray([*(mechanism_number(dose) for dose in doses), 0], dtype=np.int64),
        mean=mean,
        sd=sd,
        rho=_rho(base, doses, columns),
        shift=shift,
        shift_sd=shift_sd,
        regrowth=regrowth,
        emerged_between=share_emerged(timing.interval, base.parameter("half-emergence-days")),
        emerged=np.asarray([column.stage != NOT_EMERGED for column in columns], dtype=bool),
    )


def _second_of(whole: float, first: float, regrowth: float) -> float:
    """Log-odds of the second application that makes the sequence give the recorded whole."""
    left = min(1.0, (1 - float(expit(first))) * regrowth)
    surviving = (1 - float(expit(whole))) / left if left > 0 else 1.0
    if surviving >= 1:
        return NO_ACTIVITY
    return float(logit(1 - surviving))


def _rho(base: KnowledgeBase, doses: Sequence[Dose], columns: Sequence[Column]) -> Floats:
    rho = np.full((len(doses) + 1, len(columns)), base.parameter("rho-default"))
    for c, column in enumerate(columns):
        own = {item.group: item.rho for item in column.target.weed.mixture_rho}
        for d, dose in enumerate(doses):
            rho[d, c] = own.get(dose.active.mechanism.group, rho[d, c])
    return rho


def _interaction_arrays(
    base: KnowledgeBase,
    understood: Understood,
    doses: Sequence[Dose],
    columns: Sequence[Column],
    used: Collection[int],
) -> tuple[Floats | None, Floats | None]:
    shape = (len(doses) + 1, len(doses) + 1, len(columns))
    shift, sd = np.zeros(shape), np.zeros(shape)
    for i, j in permutations(sorted(used), 2):
        first, second = doses[i], doses[j]
        for item in interactions_between(base, first.active.id, second.active.id):
            if first.active.id not in item.actives or not item.shift:
                continue
            for c, column in enumerate(columns):
                if _concerns(item, column, understood):
                    shift[i, j, c] += item.shift
                    sd[i, j, c] = max(sd[i, j, c], item.sd)
    return (shift, sd) if shift.any() else (None, None)


def _concerns(item: Interaction, column: Column, understood: Understood) -> bool:
    weed = column.target.weed
    named = bool(item.weeds or item.life_forms)
    return (
        (not named or weed.id in item.weeds or weed.life_form in item.life_forms)
        and (not item.stages or column.stage in item.stages)
        and (not item.turf or any(applies_to_turf(item.turf, turf) >= 0 for turf in understood.turf))
    )
