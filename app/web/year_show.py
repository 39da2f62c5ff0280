"""Words and figures of the papers of a year; nothing is reckoned here."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from app.engine.measures import Area
from app.engine.output import Amount, Application, ProductInTank
from app.mixing.output import NamedAmount
from app.season.proposal import Proposal, ProposalVisit
from app.season.proposal_words import count_said, day_said
from app.season.year_calls import Call
from app.season.year_output import YearPlan, YearVisit
from app.season.year_price import VisitPrice
from app.services.year_amounts import Taken, taken
from app.services.year_papers import YearPapers
from app.web import units
from app.web.round_show import area_words, beside, exact, long_day
from app.web.show import BASIS_WORDS, day_words
from knowledge.quantities import UNITS

_SQUARE_FEET = 1000.0
_SIGNS = {"USD": "$"}
_PLAIN = {"ft2": "square feet", "m2": "square metres", "acre": "acres", "ha": "hectares"}
# Letters to a line of the visits as they print, and the lines for which the first page has room.
_LETTERS, _FIRST_PAGE, _SPACE = 76, 36.0, 0.6
# How much wider than others bold letters are.
_BOLD = 1.12
# Sentences beside the visits from which on the second page is set tighter.
_MOST_LINES = 24
_NEARLY_ALL = 99
# So many areas stand abreast in a table of the sheet.
_ABREAST = 4
# More areas than these are told by their number.
_MOST_AREAS = 3


def sheet_words(papers: YearPapers, system: units.System) -> dict[str, Any]:
    """What the template of the year sheet calls, and the amounts that it shows."""
    held = {product.name: product for product in papers.catalog}
    carrier = papers.sprayer[1] if papers.sprayer is not None else None
    # Sources are numbered as they stand in the answer.
    numbers = {key: number for number, key in enumerate(papers.plan.sources, start=1)}

    def area_of(told: Amount) -> str:
        return area_words(told, system)

    def dose(value: float, unit: str) -> str:
        return dose_words(value, unit, system)

    return {
        "amounts": {
            (part.number, part.area, place): taken(
                application, papers.area(part.area), papers.asked.site_use, held, system, carrier
            )
            for call in papers.calls
            for part in call.parts
            for place, application in enumerate(part.applications)
        },
        "alike": alike,
        "registrations": {name: product.registration for name, product in held.items()},
        "numbers": numbers,
        "optimum": optimum(papers.plan),
        "pressures": pressures(papers),
        "resting": [part for part in papers.plan.visits if not part.applications],
        "area_of": area_of,
        "dose": dose,
        "treated": treated,
        "totals_of": totals_of,
        "adjuvant_of": adjuvant_of,
        "money": money,
        "exact": exact,
        "beside": beside,
        "long_day": long_day,
        "short_day": short_day,
        "basis_words": BASIS_WORDS,
    }


def proposal_words(papers: YearPapers, proposal: Proposal, system: units.System) -> dict[str, Any]:
    """What the template of the proposal calls."""

    def price_words(value: Decimal) -> str:
        return priced_in(value, proposal.currency)

    return {
        "areas_said": areas_said(papers, system),
        "price_words": price_words,
        "priced": proposal.price is not None,
        "day_said": dated,
        "unbroken": unbroken,
        "of_100": of_100,
        "seen": seen(proposal),
        "tight": len(proposal.lines) > _MOST_LINES,
    }


def areas_said(papers: YearPapers, system: units.System) -> str:
    """The areas with their sizes, or how many there are and how large together."""
    areas = papers.asked.areas
    if len(areas) <= _MOST_AREAS:
        told = [f"{_begun(papers.area_name(a.id))}{f', {_plain(a.area, system)}' if a.area else ''}" for a in areas]
        return "; ".join(told)
    sizes = [area.area.quantity.to("ft2").value for area in areas if area.area is not None]
    whole = f", {_plain(Area(value=sum(sizes), unit='ft2'), system)} together" if len(sizes) == len(areas) else ""
    return f"{count_said(len(areas))} areas{whole}"


def _begun(name: str) -> str:
    """A name within a sentence."""
    return name[:1].lower() + name[1:]


def of_100(value: float) -> str:
    """So many of 100 plants; never all of them, whatever the rounding.

    >>> of_100(99.7), of_100(87.5)
    ('99', '88')
    """
    return str(min(round(value), _NEARLY_ALL))


def _plain(told: Area, system: units.System) -> str:
    figure, unit = area_words(Amount(value=told.value, unit=told.unit), system).split(" ", 1)
    return f"{figure} {_PLAIN.get(unit, unit)}"


def has_room(proposal: Proposal) -> bool:
    """Whether its visits find room on the first page."""
    return _room(proposal) >= 0


def _room(proposal: Proposal) -> float:
    """Lines that are left on the first page below the visits."""
    return _FIRST_PAGE - sum(_lines(visit) for visit in proposal.visits)


def seen(proposal: Proposal) -> frozenset[tuple[int, int]]:
    """Visits and their purposes of which it is said what will be seen afterwards, as far as the first page has room.

    The figures stand on the second page in any case.
    """
    left, found = _room(proposal), set()
    for visit in proposal.visits:
        for place, one in enumerate(visit.purposes):
            lines = len(one.expect) / _LETTERS
            if one.expect and lines <= left:
                left -= lines
                found.add((visit.order, place))
    return frozenset(found)


def _lines(visit: ProposalVisit) -> float:
    """Lines of print that a visit takes without what will be seen, and the space below it."""
    told = [
        _BOLD * len(one.what) + len(f" {one.why}{' As on visit 2.' if one.as_on else ''}") for one in visit.purposes
    ]
    return _SPACE + sum(
        math.ceil((letters + len(visit.where) * (not place)) / _LETTERS) for place, letters in enumerate(told)
    )


def unbroken(when: str) -> str:
    r"""Days that break, where they must, between two dates alone.

    >>> unbroken("April 30 to May 14") == "April\xa030 to\xa0May\xa014"
    True
    >>> unbroken("April 2 to 16") == "April\xa02\xa0to\xa016"
    True
    """
    return re.sub("\xa0to(?=\xa0[A-Z])", " to", when.replace(" ", "\xa0"))


def dated(day: date) -> str:
    """A day as a customer writes it.

    >>> dated(date(2027, 3, 22))
    'March 22, 2027'
    """
    return f"{day_said(day)}, {day.year}"


def priced_in(value: Decimal, currency: str) -> str:
    """A price as it stands on a proposal.

    >>> priced_in(Decimal("1234.50"), "USD"), priced_in(Decimal("68.00"), "CHF")
    ('$1,234.50', '68.00 CHF')
    """
    sign = _SIGNS.get(currency)
    return f"{sign}{money(value)}" if sign else f"{money(value)} {currency}"


def alike(call: Call) -> list[list[YearVisit]]:
    """What is applied on a visit, areas that get the same for the same reasons together."""
    found: list[list[YearVisit]] = []
    for part in call.parts:
        same = next((g for g in found if len(g) < _ABREAST and _but_area(g[0]) == _but_area(part)), None)
        if same is None:
            found.append([part])
        else:
            same.append(part)
    return found


def _but_area(part: YearVisit) -> YearVisit:
    return part.model_copy(update={"area": "", "name": "", "gain": 0.0})


def money(value: Decimal) -> str:
    """An amount of money to the cent.

    >>> money(Decimal("1234.5"))
    '1,234.50'
    """
    return f"{value:,.2f}"


def short_day(day: date) -> str:
    """A day of the season.

    >>> short_day(date(2027, 4, 8))
    '8 April'
    """
    return day_words(day).rsplit(" ", 1)[0]


def optimum(plan: YearPlan) -> str:
    """How sure it is that no plan does better."""
    points = f"{plan.objective:.1f} of 100 points of expected control by priority"
    if plan.proven:
        return f"{points}; proved: no plan within these limits does better (gap {plan.gap:.2g})."
    return f"{points}; not proved: no plan does better than {plan.bound:.1f} (gap {plan.gap:.2g})."


def pressures(papers: YearPapers) -> Mapping[str, str]:
    """How hard each weed presses, and what it weighs, by its id."""
    return {
        weed.weed: f"{weed.pressure}{f', weight {weed.priority:g}' if weed.priority != 1 else ''}"
        for weed in papers.asked.weeds
    }


def treated(price: VisitPrice) -> Amount:
    """What a visit treats."""
    assert price.treated_1000_ft2 is not None, "asked before"
    return Amount(value=price.treated_1000_ft2 * _SQUARE_FEET, unit="ft2")


def dose_words(value: float, unit: str, system: units.System) -> str:
    """What an active uses of its year, in the system asked for where it is a rate."""
    return units.rate(Amount(value=value, unit=unit), system) if unit in UNITS else f"{value:g} {unit}"


def totals_of(got: Taken, product: ProductInTank) -> list[NamedAmount]:
    """What a product takes, or each of its actives where no product is named."""
    if product.product is not None:
        return [total for total in got.totals if total.name == product.product]
    names = {f"{active.name} ({counted})" for active in product.actives for counted in ("ae", "ai")}
    return [total for total in got.totals if total.name in names]


def adjuvant_of(got: Taken, application: Application) -> list[NamedAmount]:
    """What the adjuvant of a tank takes."""
    told = application.adjuvant
    names = {told.product, told.name} if told is not None else set()
    return [total for total in got.totals if total.name in names]
