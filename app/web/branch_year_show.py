"""The order and the load of a planned branch, as their pages show them; nothing is reckoned here."""

from __future__ import annotations

from dataclasses import dataclass

from app.engine.output import Amount, PackToBuy
from app.season.year_load import WeekLoad, YearLoad
from app.services.year_job_sums import YearOrder
from app.web import units
from app.web.round_show import area_words
from app.year_job_text import month_name

_MINUTES = 60
_HUNDRED = 100
# Active by weight: what it is stated as, behind the weight.
_KINDS = {"g ae": " acid equivalent", "g ai": ""}


@dataclass(frozen=True)
class OrderRow:
    """A product in a month: what is needed, what the stock bears, and what is bought, in words."""

    product: str
    id: str | None
    needed: str
    from_stock: str
    buy: str
    price: str


@dataclass(frozen=True)
class OrderMonth:
    """A month of the order."""

    name: str
    rows: tuple[OrderRow, ...]
    price: str


@dataclass(frozen=True)
class LoadRow:
    """The load of a technician in a week, or of all of them, in words, as planned and spread; `busy` is in percent."""

    who: str
    visits: int
    treated: str
    hours: str
    busy: int | None
    spread: str
    spread_busy: int | None


def shown_order(found: YearOrder, system: units.System) -> tuple[OrderMonth, ...]:
    """The order by month."""
    rows: dict[int, list[OrderRow]] = {}
    for item in found.products:
        for month in item.months:
            buy = packs_words(month.buy) or ("nothing" if month.price is not None else "no pack with a price is told")
            price = f"{month.price:,.2f} {item.currency}" if month.price else ""
            stock = units.amount_words(month.from_stock, system) if month.from_stock.value else ""
            row = OrderRow(item.product, item.id, units.amount_words(month.needed, system), stock, buy, price)
            rows.setdefault(month.month, []).append(row)
    for need in found.actives:
        weight = units.amount_words(Amount(value=need.amount.value, unit="g"), system)
        told = f"{weight}{_KINDS.get(need.amount.unit, '')}"
        rows.setdefault(need.month, []).append(OrderRow(need.name, None, told, "", "no product is named", ""))
    return tuple(
        OrderMonth(
            month_name(month),
            tuple(rows[month]),
            f"{found.months[month]:,.2f} {found.currency}" if found.months.get(month) else "",
        )
        for month in sorted(rows)
    )


def packs_words(packs: tuple[PackToBuy, ...]) -> str:
    """Packs in words, as they are sold.

    >>> packs_words((PackToBuy(count=2, size=Amount(value=2.5, unit="gal"), price=290),))
    '2 of 2.5 gal'
    """
    return " and ".join(f"{item.count} of {item.size.value:g} {item.size.unit}" for item in packs)


def shown_load(found: YearLoad, system: units.System) -> tuple[tuple[WeekLoad, LoadRow, tuple[LoadRow, ...]], ...]:
    """The load by week, with that of each technician in it."""
    return tuple(
        (week, _row(week, system), tuple(_row(row, system) for row in found.technicians if row.week == week.week))
        for week in found.weeks
    )


def _row(row: WeekLoad, system: units.System) -> LoadRow:
    return LoadRow(
        who="All" if row.technician is None else row.technician or "Nobody named",
        visits=row.visits,
        treated=area_words(Amount(value=row.treated_ft2, unit="ft2"), system) if row.treated_ft2 else "",
        hours=_hours(row.minutes) if row.visits else "",
        busy=_percent(row.busy),
        spread=", ".join(part for part in (f"{row.spread_visits:,}", _hours(row.spread_minutes)) if part),
        spread_busy=_percent(row.spread_busy),
    )


def _hours(minutes: float | None) -> str:
    return f"{minutes / _MINUTES:.1f} h" if minutes is not None else ""


def _percent(share: float | None) -> int | None:
    return round(_HUNDRED * share) if share is not None else None
