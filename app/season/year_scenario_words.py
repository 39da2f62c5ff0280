"""The sentence of a scenario: what is lost, and what the new plan does instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date

from app.engine.wording import listed
from app.season.daily import day_words
from app.season.year_output import ScenarioControl, YearPlan, YearVisit

# Figures are said in whole points; what is less is none.
_A_POINT = 1.0


@dataclass(frozen=True)
class ScenarioWords:
    """How a scenario is called, and the start of its sentence."""

    title: str
    where: str

    def sentence(
        self,
        plan: YearPlan,
        made: YearPlan,
        control: Sequence[ScenarioControl],
        visits: Sequence[YearVisit],
        start: Date,
    ) -> str:
        """What is lost against the plan, which visit takes over, and where the year stands.

        Parameters
        ----------
        plan, made : YearPlan
            As planned, and planned anew.
        control : sequence of ScenarioControl
            By weed, before and after.
        visits : sequence of YearVisit
            Those of `made`, numbered on from the visits of `plan` before `start`.
        """
        if made.relax:
            return f"{self.where}, nothing that is asked for can be planned any more: {made.relax[0].text}"
        stands = f"the year stands at {made.objective:.0f} of 100 points instead of {plan.objective:.0f}"
        worst = _worst(control)
        if worst is None:
            moves = _moves(plan, visits, start)
            return f"{self.where}, nothing of note is lost: {moves}, and {stands}."
        lost = f"{worst.name} falls from {worst.before:.0f} to {worst.after:.0f} % control"
        return f"{self.where}, {lost}: {_takes_over(plan, visits, worst, start)}, and {stands}."


def _worst(control: Sequence[ScenarioControl]) -> ScenarioControl | None:
    """The weed that loses most over the whole property; None where none loses a point."""
    told = [item for item in control if item.area is None] or list(control)
    found = max(told, key=lambda item: item.before - item.after, default=None)
    return found if found is not None and found.before - found.after >= _A_POINT else None


def actives_of(visit: YearVisit) -> tuple[str, ...]:
    """Ids of the actives that a visit brings, in the order of its tanks."""
    parts = (part for application in visit.applications for product in application.products for part in product.actives)
    return tuple(dict.fromkeys(part.active for part in parts))


def _names(visit: YearVisit) -> str:
    parts = (part for application in visit.applications for product in application.products for part in product.actives)
    return listed(dict.fromkeys(part.name for part in parts))


def _takes_over(plan: YearPlan, visits: Sequence[YearVisit], lost: ScenarioControl, start: Date) -> str:
    """Which visit now works against a weed that was not planned to, or not with this, or not on this day."""
    against = [v for v in visits if lost.weed in v.against and (lost.area is None or v.area == lost.area)]
    if not against:
        return f"no later visit can take over against {lost.name}"
    planned = {(v.area, actives_of(v)) for v in plan.visits if v.date >= start and lost.weed in v.against}
    for visit in against:
        if (visit.area, actives_of(visit)) not in planned:
            return f"visit {visit.number} on {day_words(visit.date, start)} takes over with {_names(visit)}"
    moved = _moves(plan, against, start)
    return moved if moved != _UNCHANGED else f"visit {against[0].number} still works against it, as planned"


_UNCHANGED = "the later visits stay as they are"


def _moves(plan: YearPlan, visits: Sequence[YearVisit], start: Date) -> str:
    """What the new plan does otherwise, by visit."""
    planned = {(visit.number, visit.area): visit for visit in plan.visits}
    told = []
    for visit in visits:
        was = planned.get((visit.number, visit.area))
        if was is None or not visit.applications:
            continue
        if actives_of(was) != actives_of(visit):
            told.append(f"visit {visit.number} holds {_names(visit)}")
        elif was.date != visit.date:
            days = f"from {day_words(was.date, start)} to {day_words(visit.date, start)}"
            told.append(f"visit {visit.number} moves {days}")
    return listed(dict.fromkeys(told)) if told else _UNCHANGED
