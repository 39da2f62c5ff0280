"""What was applied to an area before: this year, as the rules of the year count it, and last of all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.engine.situation import PastApplication
from app.season.applied import brought
from app.season.record import ApplicationRecord
from app.store import products, records
from app.store.names import name_key
from app.store.opening import Store
from knowledge.base import KnowledgeBase

# A situation takes no more.
_MOST = 200


@dataclass(frozen=True)
class YearSoFar:
    """What was applied to an area this year, and in sentences what of it cannot be counted."""

    applications: tuple[PastApplication, ...]
    untold: tuple[str, ...]


@dataclass(frozen=True)
class LastApplication:
    """The last application to an area that counts."""

    key: str
    record: ApplicationRecord


def applied_this_year(
    store: Store, property: str, area: str, on: date, base: KnowledgeBase
) -> tuple[PastApplication, ...]:
    """Every active applied to an area from the first of January up to a day, that day included.

    Records of the whole property count for each of its areas; void ones count for none. See `year_so_far` for
    what was applied and cannot be counted.
    """
    return year_so_far(store, property, area, on, base).applications


def applied_last_year(
    store: Store, property: str, area: str, year: int, base: KnowledgeBase
) -> tuple[PastApplication, ...]:
    """Every active applied to an area in the year before one, counted as in `applied_this_year`."""
    return year_so_far(store, property, area, date(year - 1, 12, 31), base).applications


def year_so_far(store: Store, property: str, area: str, on: date, base: KnowledgeBase) -> YearSoFar:
    """What was applied to an area this year, and what of it cannot be counted.

    Rates come from the actives of a record, else from the rate or the amount of its product and the content on
    the shelf. What can be told by neither is unknown, not nothing, and is said.
    """
    with store.reading() as session:
        found = [
            record
            for item in reversed(records.of_properties(session, [property], date(on.year, 1, 1)))
            if (record := ApplicationRecord.model_validate(item.document)).date <= on and record.area in (None, area)
        ]
        names = {name_key(product.name) for record in found for product in record.products}
        shelf = {key: item.product for key, item in products.named(session, names).items()}
    applications: list[PastApplication] = []
    untold: list[str] = []
    for record in found:
        for item in brought(base, record, shelf):
            untold += [f"{record.date}, {item.untold}"] if item.untold else []
            applications += [
                PastApplication(date=record.date, active=part.active, rate=part.rate, product=item.product)
                for part in item.actives
            ]
    if len(applications) > _MOST:
        untold.append(f"{len(applications) - _MOST} earlier applications are more than a question takes")
    return YearSoFar(tuple(applications[-_MOST:]), tuple(untold))


def last_applications(store: Store, properties: Sequence[str]) -> dict[tuple[str, str | None], LastApplication]:
    """The last application that counts, by property and area; under None that to a whole property."""
    with store.reading() as session:
        found = records.of_properties(session, properties)
    last: dict[tuple[str, str | None], LastApplication] = {}
    for item in found:
        record = ApplicationRecord.model_validate(item.document)
        if record.property is not None:
            last.setdefault((record.property, record.area), LastApplication(item.key, record))
    return last
