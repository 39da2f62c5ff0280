"""The season's order and the load by week as files for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from app.season.year_load import YearLoad
from app.services.csv_text import guarded
from app.services.year_job_sums import YearOrder

_ORDER = (
    "month",
    "product",
    "needed",
    "unit",
    "from stock",
    "short",
    "packs",
    "pack size",
    "price",
    "currency",
    "notes",
)
_LOAD = (
    *("week of", "technician", "visits", "treated (ft2)", "unmeasured visits", "minutes", "hours of work", "busy (%)"),
    *("visits spread", "minutes spread", "busy spread (%)"),
)


def order_csv(found: YearOrder) -> str:
    """A row for each size of pack of each product and month; a month with nothing to buy has a row without a pack."""
    rows: list[Sequence[Any]] = []
    for item in found.products:
        for number, month in enumerate(item.months):
            # What holds for the product stands once, in its first row.
            notes = " ".join(item.warnings) if number == 0 else ""
            used = (month.needed.value, month.needed.unit, month.from_stock.value, month.short.value)
            told = (month.month, item.product, *used)
            for place, pack in enumerate(month.buy):
                amounts = told if place == 0 else (month.month, item.product, "", "", "", "")
                size = f"{pack.size.value:g} {pack.size.unit}"
                rows.append((*amounts, pack.count, size, pack.price, item.currency, notes if place == 0 else ""))
            if not month.buy:
                price = "" if month.price is None else month.price
                rows.append((*told, 0, "", price, item.currency, notes))
    for need in found.actives:
        used_of = (need.month, need.name, need.amount.value, need.amount.unit)
        rows.append((*used_of, "", "", "", "", "", "", "no product is named"))
    rows.sort(key=lambda row: (row[0], row[1]))
    return _written(_ORDER, rows)


def load_csv(found: YearLoad) -> str:
    """A row for each week and technician, and one of all of them."""
    rows = [*found.weeks, *found.technicians]
    rows.sort(key=lambda row: (row.week, row.technician is not None, row.technician or ""))
    return _written(
        _LOAD,
        (
            (
                row.week.isoformat(),
                "all" if row.technician is None else row.technician or "nobody named",
                row.visits,
                row.treated_ft2,
                row.unmeasured,
                row.minutes,
                row.hours_of_work,
                _percent(row.busy),
                row.spread_visits,
                row.spread_minutes,
                _percent(row.spread_busy),
            )
            for row in rows
        ),
    )


def _written(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    told = io.StringIO(newline="")
    writer = csv.writer(told, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return told.getvalue()


def _percent(share: float | None) -> float | None:
    return round(100 * share, 1) if share is not None else None


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else guarded(str(value))
