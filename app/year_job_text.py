"""Planning a branch in one go as text for people."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from app.text import wrapped

if TYPE_CHECKING:
    from app.engine.output import PackToBuy
    from app.season.year_load import WeekLoad, YearLoad
    from app.services.year_job_answers import BranchYearListing, BranchYearRemoved, BranchYearTold, PlansUsed
    from app.services.year_job_sums import YearOrder, YearSummary

_IN, _MORE = "  ", "    "
MONTHS = tuple(calendar.month_name)[1:]


def month_name(month: int) -> str:
    """A month by its number.

    >>> month_name(4)
    'April'
    """
    return MONTHS[month - 1]


def listing_text(found: BranchYearListing) -> str:
    """Every job in a line or two."""
    if not (found.jobs or found.damaged):
        return "No branch was planned yet; begin with `swardwright branch-year plan --season YEAR --visits N`.\n"
    lines = []
    for job in found.jobs:
        lines.append(f"{job.id}  season {job.season}, begun {job.started_at:%Y-%m-%d %H:%M} UTC")
        lines.append(wrapped(job.text, _IN, _IN))
    return _text([*lines, *found.damaged])


def job_text(found: BranchYearTold) -> str:
    """How far a job is."""
    return _text(_job(found))


def _job(found: BranchYearTold) -> Iterator[str]:
    asked = found.asked
    whose = [f"of {asked.technician}"] if asked.technician else []
    whose += [f"found by '{asked.search}'"] if asked.search else []
    yield f"Season {found.season} ({found.id}), properties {' and '.join(whose) or 'of the whole branch'}"
    yield wrapped(found.text, "", "")
    yield f"{found.properties} properties looked at, {found.plannable} of them can be planned."
    if found.situations:
        yield f"{found.situations} situations: {found.planned} planned, {found.failed} failed, {found.waiting} waiting."
    yield f"Worked on for {found.worked_s:.0f} s."
    if found.can_go_on:
        yield f"Go on: swardwright branch-year resume {found.id}"


def summary_text(found: YearSummary) -> str:
    """What a job adds up to."""
    return _text(_summary(found))


def _summary(found: YearSummary) -> Iterator[str]:
    yield f"{found.planned} properties are planned, {found.unplanned} are not."
    for reason, count in found.reasons.items():
        yield wrapped(f"{count} x {reason}", _IN, _MORE)
    if found.objective is not None:
        yield f"Expected control on the mean: {found.objective:g} points of 100."
        worst = f", at worst {found.worst_gap:.2g} points below what may be possible" if found.worst_gap else ""
        yield f"{found.proven} of {found.folds} plans are proven to be the best{worst}."
    for weed in found.weeds:
        band = f"{weed.low:.0f} to {weed.high:.0f}, likely {weed.likely:.0f}"
        yield f"{_IN}{weed.name}: {band} % on {weed.properties} properties, the least likely {weed.worst:.0f}"


def order_text(found: YearOrder) -> str:
    """The season's order."""
    return _text(_order(found))


def _order(found: YearOrder) -> Iterator[str]:
    for item in found.products:
        price = f", {item.price:.2f} {item.currency}" if item.price is not None else ""
        yield f"{item.product}: {_amount(item.needed.value, item.needed.unit)} in all{price}"
        for month in item.months:
            needed = _amount(month.needed.value, month.needed.unit)
            bought = packs_said(month.buy) or ("nothing to buy" if month.price is not None else "not put into packs")
            yield f"{_IN}{month_name(month.month)}: {needed}, {bought}"
        yield from (wrapped(text, _IN, _MORE) for text in item.warnings)
    for need in found.actives:
        yield f"{need.name}, {month_name(need.month)}: {_amount(need.amount.value, need.amount.unit)}"
    if found.months:
        told = [f"{month_name(month)} {price:.2f}" for month, price in found.months.items()]
        yield wrapped(f"To pay: {', '.join(told)} {found.currency}", "", _IN)
    yield from (wrapped(note, "", "") for note in found.notes)
    if not (found.products or found.actives):
        yield "Nothing is to be ordered: no property has a plan with an application yet."


def packs_said(packs: Iterable[PackToBuy]) -> str:
    """Packs in words; empty where there are none."""
    return " and ".join(f"{item.count} of {item.size.value:g} {item.size.unit}" for item in packs)


def load_text(found: YearLoad) -> str:
    """The load by week and technician."""
    lines = []
    for week in found.weeks:
        lines.append(f"Week of {week.week}: {_load(week)}")
        own = [row for row in found.technicians if row.week == week.week]
        lines += [f"{_IN}{row.technician or 'nobody named'}: {_load(row)}" for row in own]
    return _text([*(lines or ["No visit is planned yet."]), *(wrapped(note, "", "") for note in found.notes)])


def _load(row: WeekLoad) -> str:
    told = [f"{row.visits} visits", f"{row.treated_ft2:,.0f} ft2"]
    if row.minutes is not None:
        told.append(f"{row.minutes / 60:.1f} h")
    if row.busy is not None:
        told.append(f"{100 * row.busy:.0f} % of the hours of work")
    told.append(f"spread {row.spread_visits} visits")
    if row.spread_busy is not None:
        told.append(f"{100 * row.spread_busy:.0f} %")
    return ", ".join(told)


def used_text(found: PlansUsed) -> str:
    """What was taken over."""
    lines = [f"{len(found.used)} properties hold their plan in their year now."]
    lines += [wrapped(f"{key}: {why}", _IN, _MORE) for key, why in found.left.items()]
    return _text(lines)


def removed_text(found: BranchYearRemoved) -> str:
    """What was removed."""
    return f"{found.removed} was removed; plans in the years of properties stay.\n"


def _amount(value: float, unit: str) -> str:
    return f"{value:,.3g} {unit}" if value < 1000 else f"{value:,.0f} {unit}"


def _text(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in lines)
