"""Two plans of one year beside each other: what the second gives up or gains, in control and in money."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date as Date

from app.season.year_output import YearControl, YearPlan, YearVisit

# Below half of what is shown, a difference is none [points, money].
_NO_POINTS, _NO_MONEY = 0.05, 0.005


@dataclass(frozen=True)
class WeedBeside:
    """Expected control of one weed by two plans; `points` is the second less the first, likely values."""

    name: str
    first: YearControl | None
    second: YearControl | None
    points: float | None


@dataclass(frozen=True)
class VisitBeside:
    """What two plans do on one day, on areas that they treat alike; empty where one of them has no visit then."""

    date: Date
    areas: tuple[str, ...]
    first: str
    second: str

    @property
    def same(self) -> bool:
        """Whether both do the same on the same day."""
        return self.first == self.second


@dataclass(frozen=True)
class YearsBeside:
    """Two plans of one year.

    Attributes
    ----------
    headline : str
        The difference in a sentence.
    points : float
        Expected control of the second less the first [points of 100].
    money : float or None
        Cost of the second less the first [currency per 1000 ft2]; None where one is unknown.
    """

    headline: str
    points: float
    money: float | None
    currency: str
    weeds: tuple[WeedBeside, ...]
    visits: tuple[VisitBeside, ...]


def beside(first: YearPlan, second: YearPlan, since: Date | None = None) -> YearsBeside:
    """The second plan against the first; `since` is the first day that the second plans."""
    points = second.objective - first.objective
    money = second.cost - first.cost if first.cost is not None and second.cost is not None else None
    weeds = tuple(_weeds(whole(first.control), whole(second.control)))
    return YearsBeside(
        _headline(points, money, second.currency, weeds),
        points,
        money,
        second.currency,
        weeds,
        tuple(_visits(first.visits, second.visits, since)),
    )


def whole(control: Iterable[YearControl]) -> tuple[YearControl, ...]:
    """Control of each weed over the whole property; area by area where a plan tells no more."""
    every = tuple(control)
    told = {item.weed for item in every if item.area is None}
    return tuple(item for item in every if item.area is None or item.weed not in told)


def treatment(visit: YearVisit) -> str:
    """What a visit sprays: its products by name, or its actives; empty where nothing is sprayed."""
    held = [product for application in visit.applications for product in application.products]
    return " + ".join(product.product or " + ".join(part.name for part in product.actives) for product in held)


def _weeds(first: tuple[YearControl, ...], second: tuple[YearControl, ...]) -> Iterable[WeedBeside]:
    before, after = ({(c.weed, c.area): c for c in side} for side in (first, second))
    for key in dict.fromkeys((*before, *after)):
        one, other = before.get(key), after.get(key)
        points = other.likely - one.likely if one is not None and other is not None else None
        told = other or one
        assert told is not None, "one of them holds it"
        yield WeedBeside(told.name, one, other, points)


def _visits(first: tuple[YearVisit, ...], second: tuple[YearVisit, ...], since: Date | None) -> Iterable[VisitBeside]:
    before, after = ({(v.date, v.area): _done(v) for v in side} for side in (first, second))
    for date in sorted({day for day, _ in (*before, *after)}):
        alike: dict[tuple[str, str], list[str]] = {}
        for area in sorted({area for day, area in (*before, *after) if day == date}):
            usual = "before its first day" if since is not None and date < since else ""
            alike.setdefault((before.get((date, area), ""), after.get((date, area), usual)), []).append(area)
        for (one, other), areas in alike.items():
            yield VisitBeside(date, tuple(areas), one, other)


def _done(visit: YearVisit) -> str:
    return treatment(visit) or "nothing sprayed"


def _headline(points: float, money: float | None, currency: str, weeds: tuple[WeedBeside, ...]) -> str:
    told = [_points_words(points)]
    if money is not None and abs(money) >= _NO_MONEY:
        told.append(f"{abs(money):.2f} {currency} per 1000 ft2 {'more' if money > 0 else 'less'}")
    elif money is not None:
        told.append("at the same cost")
    else:
        told.append("the difference in cost is not known, since a price is missing")
    sentence = f"{told[0]}, {told[1]}"
    known = [item for item in weeds if item.points is not None]
    lost = min(known, key=lambda item: item.points or 0, default=None)
    won = max(known, key=lambda item: item.points or 0, default=None)
    if lost is not None and lost.points is not None and lost.points < -_NO_POINTS:
        sentence += f"; {lost.name} loses most, {-lost.points:.1f} points"
    elif won is not None and won.points is not None and won.points > _NO_POINTS:
        sentence += f"; {won.name} gains most, {won.points:.1f} points"
    return f"{sentence}."


def _points_words(points: float) -> str:
    if abs(points) < _NO_POINTS:
        return "As much expected control"
    what = f"{abs(points):.1f} {'point' if f'{abs(points):.1f}' == '1.0' else 'points'}"
    return f"{what} of 100 {'more' if points > 0 else 'less'} expected control"
