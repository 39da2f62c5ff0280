"""The few figures of a plan that sums over a branch need, kept beside it so that no plan is read for them."""

from __future__ import annotations

from datetime import date as Date

from pydantic import ValidationError

from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount, Application, Output
from app.season.year_output import YearPlan, YearVisit
from app.store.year_jobs import PLANNED, StoredFold


class ActiveUsed(Output):
    """An active of an application, at a rate per area."""

    active: str
    name: str
    rate: Amount


class Used(Output):
    """A product of an application, or the actives where none is named; `adjuvant` is the id of one."""

    product: str | None
    id: str | None
    adjuvant: str | None
    rate: Amount | None
    actives: tuple[ActiveUsed, ...]


class Work(Output):
    """What is done on a day on an area of the situation; `carrier` is the volume of spray per area.

    From `first` to `last` it does about as much.
    """

    date: Date
    first: Date
    last: Date
    area: str
    carrier: Amount | None
    used: tuple[Used, ...]


class WeedFigure(Output):
    """Expected control of a weed over the season [percent]."""

    weed: str
    name: str
    low: float
    likely: float
    high: float


class FoldFigures(Output):
    """The figures of a plan; `reason` says why there is none. `cost` is per 1000 ft2."""

    reason: str = ""
    headline: str = ""
    objective: float = 0
    gap: float = 0
    proven: bool = False
    cost: float | None = None
    currency: str = "USD"
    control: tuple[WeedFigure, ...] = ()
    work: tuple[Work, ...] = ()


def figures_of(plan: YearPlan) -> FoldFigures:
    """The figures of a plan; one in which nothing is feasible has the first constraint to loosen as its reason."""
    if plan.relax is not None:
        least = plan.relax[0].text if plan.relax else plan.headline
        return FoldFigures(reason=f"Nothing is feasible. {least}", headline=plan.headline)
    whole = [item for item in plan.control if item.area is None] or plan.control
    return FoldFigures(
        headline=plan.headline,
        objective=plan.objective,
        gap=plan.gap,
        proven=plan.proven,
        cost=plan.cost,
        currency=plan.currency,
        control=tuple(WeedFigure(weed=c.weed, name=c.name, low=c.low, likely=c.likely, high=c.high) for c in whole),
        work=tuple(_work(visit, told) for visit in plan.visits for told in visit.applications),
    )


def _work(visit: YearVisit, told: Application) -> Work:
    used = [
        Used(
            product=item.product,
            id=item.id,
            adjuvant=None,
            rate=item.rate,
            actives=tuple(ActiveUsed(active=a.active, name=a.name, rate=a.rate) for a in item.actives),
        )
        for item in told.products
    ]
    beside = told.adjuvant
    if beside is not None and beside.id != "none":
        named = beside.product or None
        used.append(Used(product=named, id=None, adjuvant=beside.id, rate=beside.rate, actives=()))
    first, last = min(visit.window.start, told.date), max(visit.window.end, told.date)
    return Work(date=told.date, first=first, last=last, area=visit.area, carrier=told.carrier, used=tuple(used))


def read_figures(item: StoredFold) -> FoldFigures:
    """The figures of a situation as they are kept.

    Raises
    ------
    InputError
        Where they are damaged.
    """
    try:
        if item.state == PLANNED and "headline" not in item.figures:
            raise _damaged(item.fold)
        return FoldFigures.model_validate(item.figures)
    except ValidationError as error:
        raise _damaged(item.fold) from error


def _damaged(fold: str) -> InputError:
    what = f"the plan of situation {fold[:12]} is damaged; remove this plan of the branch and plan anew"
    return InputError([FieldFault("job", what)])
