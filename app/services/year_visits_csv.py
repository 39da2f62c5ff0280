"""The visits of a planned year as a file for spreadsheets: one row a visit, money as plain figures."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from decimal import Decimal

from app.engine.output import ProductInTank
from app.season.year_calls import Call
from app.services.csv_text import guarded
from app.services.year_papers import YearPapers
from knowledge.quantities import Quantity

COLUMNS = (
    *("visit", "number_in_plan", "date", "window_from", "window_to", "window_text", "areas", "treated_ft2"),
    *("products", "actives", "against", "groups", "minutes", "cost_products", "cost_labor", "cost_travel"),
    *("cost_overhead", "cost", "price", "margin", "margin_pct", "currency", "unknown"),
)


def visits_csv(found: YearPapers) -> str:
    """The file: UTF-8, RFC 4180; a cell that a spreadsheet would take for a formula stands after an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for call in found.calls:
        row = dict(_cells(found, call))
        writer.writerow([guarded(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _cells(found: YearPapers, call: Call) -> Iterator[tuple[str, str]]:
    window = call.window
    yield "visit", str(call.order)
    yield "number_in_plan", str(call.number)
    yield "date", call.date.isoformat()
    yield "window_from", window.start.isoformat()
    yield "window_to", window.end.isoformat()
    yield "window_text", window.trigger
    yield "areas", "; ".join(found.area_name(part.area) for part in call.parts)
    sizes = [found.area(part.area).area for part in call.parts]
    known = [Quantity(size.value, size.unit).to("ft2").value for size in sizes if size is not None]
    yield "treated_ft2", f"{sum(known):.0f}" if len(known) == len(sizes) else ""
    tanks = [p for part in call.parts for application in part.applications for p in application.products]
    yield "products", "; ".join(dict.fromkeys(_product(item) for item in tanks if item.product is not None))
    yield "actives", "; ".join(dict.fromkeys(active.name for item in tanks for active in item.actives))
    yield "against", "; ".join(found.weed_name(key) for key in call.weeds)
    yield "groups", "; ".join(str(group) for group in sorted({g for part in call.parts for g in part.groups}))
    price = call.price
    if price is None:
        return
    assert found.price is not None, "a visit has a price only where the year has"
    yield "minutes", "" if price.minutes is None else f"{price.minutes:g}"
    for column, money in (
        ("cost_products", price.products),
        ("cost_labor", price.labour),
        ("cost_travel", price.travel),
        ("cost_overhead", price.overhead),
        ("cost", price.cost),
        ("price", price.price),
        ("margin", price.margin),
    ):
        yield column, _money(money)
    yield "margin_pct", "" if price.margin_pct is None else f"{price.margin_pct:g}"
    yield "currency", found.price.currency
    yield "unknown", " ".join(price.unknown)


def _product(item: ProductInTank) -> str:
    return f"{item.product} {item.rate.value:g} {item.rate.unit}" if item.rate is not None else f"{item.product}"


def _money(value: Decimal | None) -> str:
    return "" if value is None else f"{value:.2f}"
