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
        if made.relax and not made.visits:
            return f"{self.where}, nothing that is asked for can be planned any more: {made.relax[0].text}"
        stands = _stands(plan.objective, made.objective)
        worst = _worst(control)
        if worst is None:
            moves = _moves(plan, visits, start)
            return f"{self.where}, nothing of note is lost: {moves}, and {stands}."
        lost = f"{worst.name} falls from {worst.before:.0f} to {worst.after:.0f} % control"
        return f"{self.where}, {lost}: {_takes_over(plan, visits, worst, start)}, and {stands}."


def _stands(before: float, after: float) -> str:
    was, now = f"{before:.0f}", f"{after:.0f}"
    return f"the year {f'stands at {now}' if was != now else f'still stands at {now}'} of 100 points" + (
        f" instead of {was}" if was != now else ""
    )


def _worst(control: Sequence[ScenarioControl]) -> ScenarioControl | None:
    """The weed that loses most over the whole property; None where none loses a point."""
    told = [item for item in control if item.area is None] or list(control)
    found = max(told, key=lambda item: item.before - item.after, default=None)
    return found if found is not None and found.before - found.after >= _A_POINT else None


def actives_of(visit: YearVisit) -> tuple[str, ...]:
    """Ids of the actives that a visit brings, in the order of its tanks."""
    parts = (part for application in visit.applications for product in application.products for part in product.actives)
    return tuple(dict.fromkeys(part.active for part in parts))


def _names(visit: YearVisit, *others: YearVisit) -> str:
    """The actives of a visit in words, but for those that others bring."""
    known = {key for other in others for key in actives_of(other)}
    parts = (part for application in visit.applications for product in application.products for part in product.actives)
    return listed(dict.fromkeys(part.name for part in parts if part.active not in known))


def _takes_over(plan: YearPlan, visits: Sequence[YearVisit], lost: ScenarioControl, start: Date) -> str:
    """Which visit now works against a weed that was not planned to, or not with this, or not on this day."""
    if not visits:
        return "no visit is left to take over"
    against = [v for v in visits if lost.weed in v.against and (lost.area is None or v.area == lost.area)]
    if not against:
        return f"no later visit can take over against {lost.name}"
    for visit in against:
        was = [v for v in plan.visits if (v.number, v.area) == (visit.number, visit.area)]
        if any(set(actives_of(visit)) <= set(actives_of(v)) and lost.weed in v.against for v in was):
            continue
        shares = any(set(actives_of(visit)) & set(actives_of(v)) for v in was)
        how = f", now also with {_names(visit, *was)}," if shares else f" with {_names(visit)}"
        return f"visit {visit.number} on {day_words(visit.date, start)} takes over{how}".rstrip(",")
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
