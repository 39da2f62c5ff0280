"""A planned year as text for people."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from app.text import WIDTH, band, caution_lines, ending_lines, in_tank, wrapped

if TYPE_CHECKING:
    from app.engine.output import CitedSource
    from app.season.year_output import (
        Allowance,
        FrontierPoint,
        Scenario,
        ScenarioControl,
        YearControl,
        YearPlan,
        YearScenarios,
        YearVisit,
    )

_IN, _MORE = "  ", "    "
# Columns of the table of visits: number, date, window.
_HEAD = f"{'No':>3}  {'Date':<10}  {'Window':<14}  "


def year_text(plan: YearPlan) -> str:
    """A planned year."""
    return _text([*_year(plan), "", *ending_lines(plan.notices, _cited(plan), plan.knowledge_version)])


def scenarios_text(found: YearScenarios) -> str:
    """A planned year, and what its plan does when the year goes otherwise."""
    plan = found.plan
    lines = [*_year(plan), "", "What could go otherwise"]
    for one in found.scenarios:
        lines += ["", *_scenario(one, _names(plan))]
    if not found.scenarios:
        lines.append(f"{_IN}Nothing is planned, so nothing can fall out.")
    return _text([*lines, "", *ending_lines(plan.notices, _cited(plan), plan.knowledge_version)])


def _cited(plan: YearPlan) -> dict[str, CitedSource]:
    """The sources of what is shown; those of the weeds' calendar alone are left to the document."""
    shown = {key for visit in plan.visits for item in (*visit.reasons, *visit.cautions) for key in item.sources}
    shown |= {key for control in plan.control for key in control.sources}
    shown |= {key for used in plan.allowance for key in used.sources}
    shown |= {key for item in plan.rotation for key in item.sources}
    return {key: source for key, source in plan.sources.items() if key in shown}


def _year(plan: YearPlan) -> Iterator[str]:
    yield wrapped(plan.headline)
    if plan.relax:
        yield ""
        yield "What to loosen, the least first"
        for item in plan.relax:
            least = f" (at least {item.least:g})" if item.least is not None else ""
            yield wrapped(f"{item.constraint}{least}: {item.text}", "  - ")
    if plan.visits:
        yield ""
        yield from _table(plan.visits, _names(plan))
        yield from _reasons(plan.visits)
    if plan.control:
        yield ""
        yield "Expected control over the season"
        for shown in plan.control:
            yield from _control(shown)
    yield from _standing(plan)
    if plan.allowance:
        yield ""
        yield "Of the year's allowance"
        for used in plan.allowance:
            yield wrapped(_allowance(used), _IN, _MORE)
    yield from _mechanisms(plan)
    if plan.frontier:
        yield ""
        yield from _frontier(plan.frontier, plan.currency)
    if plan.next_visit:
        yield ""
        yield wrapped(plan.next_visit)


def _names(plan: YearPlan) -> dict[str, str]:
    return {shown.weed: shown.name for shown in plan.control}


def _table(visits: Sequence[YearVisit], names: Mapping[str, str]) -> Iterator[str]:
    """Visits by number: date, window, and what is applied at which rate against what, by which mechanism."""
    areas = len({visit.area for visit in visits})
    yield f"{_HEAD}What, against what"
    for visit in visits:
        first, last = (f"{day:%m-%d}" for day in (visit.window.start, visit.window.end))
        window = f"{first} to {last}" if first != last else first
        lead = f"{visit.number:>3}  {visit.date}  {window:<14}  "
        for part in _held(visit, names, areas > 1):
            yield textwrap.fill(
                part, WIDTH, initial_indent=lead, subsequent_indent=" " * len(_HEAD), break_on_hyphens=False
            )
            lead = " " * len(_HEAD)


def _held(visit: YearVisit, names: Mapping[str, str], of_several: bool) -> Iterator[str]:
    area = [visit.name or visit.area] if of_several else []
    head = ", ".join([*area, *(["held by a lock"] if visit.locked else [])])
    if not visit.applications:
        yield f"{head}: nothing is sprayed" if head else "nothing is sprayed"
        return
    if head:
        yield head
    for application in visit.applications:
        for product in application.products:
            yield in_tank(product)
        if application.adjuvant is not None:
            rate = application.adjuvant.rate
            yield application.adjuvant.name + (f" {rate.value:g} {rate.unit}" if rate is not None else "")
    yield f"against {', '.join(names.get(key, key) for key in visit.against)}"
    yield f"mechanism {', '.join(str(group) for group in visit.groups) or 'not told'}"


def _reasons(visits: Sequence[YearVisit]) -> Iterator[str]:
    for visit in visits:
        yield ""
        cost = visit.cost_per_1000_ft2
        paid = f", {cost:.2f} per 1000 ft2" if cost is not None and visit.applications else ""
        gain = f": adds {visit.gain:.1f} points{paid}" if visit.applications else ""
        yield wrapped(f"Visit {visit.number}, {visit.name or visit.area}, {visit.date}{gain}", "", _IN)
        if visit.window.trigger:
            yield wrapped(visit.window.trigger, "     ", "       ")
        for reason in visit.reasons:
            sources = f" [{', '.join(reason.sources)}]" if reason.sources else ""
            yield wrapped(f"{reason.text}{sources}", "     - ", "       ")
        yield from caution_lines(visit.cautions)


def _control(shown: YearControl) -> Iterator[str]:
    where = f", {shown.area}" if shown.area is not None else ""
    yield f"{_IN}{shown.name}{where}"
    yield f"{_MORE}{band(shown.low, shown.likely, shown.high)}"
    yield f"{_MORE}{shown.low:.0f} to {shown.high:.0f}, likely {shown.likely:.0f} % control"
    if shown.text:
        yield wrapped(shown.text, _MORE, _MORE)


def _standing(plan: YearPlan) -> Iterator[str]:
    """Where the plan stands: its points, what is proved of it, and its cost."""
    if not plan.visits:
        return
    yield ""
    if plan.proven:
        proved = "proved the best there is"
    else:
        proved = f"no plan does better than {plan.bound:.1f}, {plan.gap:.1f} above it; whether one reaches that is open"
    yield wrapped(f"The plan stands at {plan.objective:.1f} of 100 points of control by priority: {proved}.")
    if plan.cost is not None:
        yield f"Materials of the year: {plan.cost:.2f} {plan.currency} per 1000 ft2."
    else:
        yield "Materials of the year: not known, since prices are missing."


def _allowance(used: Allowance) -> str:
    before = f", {used.before:g} of it before this plan" if used.before else ""
    of = f" of {used.maximum:g} {used.unit}" if used.maximum is not None else f" {used.unit}, no ceiling recorded"
    most = f" of at most {used.most}" if used.most is not None else ""
    times = "application" if used.count == 1 and used.most is None else "applications"
    return f"{used.name}, {used.area}: {used.used:g}{of}{before}; {used.count}{most} {times}"


def _mechanisms(plan: YearPlan) -> Iterator[str]:
    if not plan.groups_by_visit:
        return
    yield ""
    yield "Mechanisms over the season"
    told = [
        f"visit {number}: {', '.join(str(group) for group in groups) or 'none'}"
        for number, groups in enumerate(plan.groups_by_visit, start=1)
    ]
    yield wrapped("; ".join(told), _IN, _IN)
    for item in plan.rotation:
        sources = f" [{', '.join(item.sources)}]" if item.sources else ""
        yield wrapped(f"{item.text}{sources}", "  - ")


def _frontier(points: Sequence[FrontierPoint], currency: str) -> Iterator[str]:
    priced = any(point.cost is not None for point in points)
    yield "What money and visits buy" if priced else "What visits buy"
    head = f"{f'{currency}/1000 ft2':>14}  " if priced else ""
    yield f"{'visits':>8}  {head}{'points':>7}"
    for point in points:
        cost = f"{f'{point.cost:.2f}' if point.cost is not None else 'not known':>14}  " if priced else ""
        said = "  from here on more buys clearly less" if point.knee else ""
        said += "" if point.proven else "  (not proved)"
        yield f"{point.visits:>8}  {cost}{point.control:>7.1f}{said}"


def _scenario(one: Scenario, names: Mapping[str, str]) -> Iterator[str]:
    yield one.title
    yield wrapped(one.text, _IN, _IN)
    yield from (f"{_IN}{_change(item)}" for item in one.control)
    if one.relax:
        yield from (wrapped(f"{item.constraint}: {item.text}", "  - ") for item in one.relax)
    if one.visits:
        yield f"{_IN}Still to be done, planned anew from {one.replanned_from}:"
        yield from _table(one.visits, names)


def _change(item: ScenarioControl) -> str:
    where = f", {item.area}" if item.area is not None else ""
    return f"{item.name}{where}: {item.before:.0f} % as planned, {item.after:.0f} % then"


def _text(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in lines)
