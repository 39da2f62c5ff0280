"""The visits of a planned year as a customer counts them: days without an application are left out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date as Date
from itertools import groupby

from app.season.year_output import VisitWindow, YearPlan, YearVisit
from app.season.year_price import VisitPrice, YearPrice


@dataclass(frozen=True)
class Call:
    """One visit on which something is applied.

    Attributes
    ----------
    order : int
        Its place among the visits that are made, from one.
    parts : tuple of YearVisit
        What is applied to each area.
    price : VisitPrice or None
        None where no prices are made.
    """

    order: int
    parts: tuple[YearVisit, ...]
    price: VisitPrice | None

    @property
    def number(self) -> int:
        """Its number in the plan."""
        return self.parts[0].number

    @property
    def date(self) -> Date:
        """The day for which it is planned."""
        return self.parts[0].date

    @property
    def window(self) -> VisitWindow:
        """The days on which all of its parts do about as much."""
        first = self.parts[0].window
        start, end = max(part.window.start for part in self.parts), min(part.window.end for part in self.parts)
        # Every window holds the day of the visit, unless the plan says otherwise.
        return first.model_copy(update={"start": start, "end": end}) if start <= self.date <= end else first

    @property
    def weeds(self) -> tuple[str, ...]:
        """Ids of what it is for, each once."""
        return tuple(dict.fromkeys(weed for part in self.parts for weed in part.against))

    @property
    def actives(self) -> tuple[str, ...]:
        """Ids of what is applied, each once."""
        return tuple(dict.fromkeys(active for part in self.parts for active in actives_of(part)))


def actives_of(part: YearVisit) -> tuple[str, ...]:
    """Ids of what is applied to an area on a visit."""
    return tuple(a.active for tank in part.applications for product in tank.products for a in product.actives)


def calls_of(plan: YearPlan, price: YearPrice | None = None) -> tuple[Call, ...]:
    """The visits on which something is applied, in order."""
    prices = {one.number: one for one in price.visits} if price is not None else {}
    days = groupby(sorted(plan.visits, key=_number), key=_number)
    sprayed = [tuple(part for part in group if part.applications) for _, group in days]
    made = [parts for parts in sprayed if parts]
    return tuple(Call(order, parts, prices.get(parts[0].number)) for order, parts in enumerate(made, start=1))


def _number(visit: YearVisit) -> int:
    return visit.number
