"""The log of application records: found by day, property, technician and round; as pages and as a file."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

from pydantic import Field, model_validator

from app.engine.measures import Day, FieldError, Input, Measure
from app.engine.product import OneLine
from app.season.record import ApplicationRecord, AppliedProduct, Branch
from app.season.record_rules import asked_mark, gaps, still_to_fill
from app.services import label_text as words
from app.services.csv_text import guarded
from app.services.knowledge_service import knowledge_base
from app.services.records import KeptRecord, branch_in, kept_record
from app.store import records
from app.store.opening import Store
from knowledge.models.common import Slug

PAGE = 50
_MOST_PAGES = 100_000


class LogAsked(Input):
    """Which records of the log are asked for; what is absent leaves them all.

    `technician` is the name of the applicator in whatever case; `unfinished` leaves those that are to be filled.
    """

    first: Day | None = Field(default=None, alias="from")
    last: Day | None = Field(default=None, alias="to")
    property: Slug | None = None
    technician: OneLine = Field(default="", max_length=80)
    round: Slug | None = None
    unfinished: bool = False
    page: int = Field(default=1, ge=1, le=_MOST_PAGES)

    @model_validator(mode="after")
    def _from_is_earlier(self) -> LogAsked:
        if self.first is not None and self.last is not None and self.last < self.first:
            raise FieldError("to", f"{self.last} lies before {self.first}; give the later day here")
        return self

    def wanted(self) -> records.Wanted:
        """The same as the store asks it."""
        return records.Wanted(self.first, self.last, self.property, self.technician, self.round, self.unfinished)


@dataclass(frozen=True)
class Log:
    """A page of the log; `unfinished` counts those to be filled of all that are found."""

    branch: Branch
    records: tuple[KeptRecord, ...]
    total: int
    unfinished: int
    page: int
    pages: int


def log(store: Store, asked: LogAsked, *, unfinished_first: bool = False, whole: bool = False) -> Log:
    """Records, the latest day first.

    Parameters
    ----------
    unfinished_first : bool
        Whether those that are to be filled stand before all others.
    whole : bool
        All of them on one page, the earliest first, as for printing and for a file.
    """
    base = knowledge_base()
    reckoned_anew(store)
    wanted = asked.wanted()
    with store.reading() as session:
        branch = branch_in(session)
        total = records.count(session, wanted)
        pages = 1 if whole else max(-(-total // PAGE), 1)
        page = min(asked.page, pages)
        found = records.found(
            session,
            wanted,
            unfinished_first=unfinished_first,
            limit=None if whole else PAGE,
            offset=0 if whole else (page - 1) * PAGE,
        )
        unfinished = records.count(session, records.Wanted(**{**vars(wanted), "unfinished": True}))
    kept = tuple(kept_record(base, branch, item) for item in found)
    return Log(branch, tuple(reversed(kept)) if whole else kept, total, unfinished, page, pages)


def reckoned_anew(store: Store) -> None:
    """Bring the mark of what is unfinished to what the branch asks now, where it was reckoned otherwise."""
    base = knowledge_base()
    with store.reading() as session:
        asked = asked_mark(base, branch_in(session))
        if not records.any_reckoned_otherwise(session, asked):
            return
    with store.session() as session:
        branch = branch_in(session)
        asked = asked_mark(base, branch)
        told: dict[bool, list[str]] = {True: [], False: []}
        for key, document in records.reckoned_otherwise(session, asked):
            told[bool(gaps(base, branch, ApplicationRecord.model_validate(document)))].append(key)
        records.put_reckoned(session, told, asked)


def names_used(store: Store) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Applicators and rounds that records name, for the choices of the log."""
    with store.reading() as session:
        people, rounds = records.names_used(session)
        known = {" ".join(item.name.casefold().split()): item.name for item in branch_in(session).technicians}
    return tuple(known.get(name, name.title()) for name in people), rounds


_FIELDS = (
    *("date", "started", "finished", "customer", "customer_address", "property", "property_name", "place"),
    *("area", "area_name", "site_use", "zone", "turf", "treated", "method"),
)
_AFTER = (
    *("adjuvant", "adjuvant_product", "adjuvant_registration", "adjuvant_rate", "adjuvant_amount"),
    *("carrier", "spray", "sprayer", "targets", "applicator", "licence", "supervisor", "supervisor_licence"),
    *("temp_f", "wind_mph", "wind_from", "rh_pct", "sky", "weather_basis", "round", "application", "next_due"),
    *("notes", "filled_in", "still_to_fill", "void"),
)
_OF_PRODUCT = ("product", "registration", "rate", "amount", "actives")


def log_csv(store: Store, asked: LogAsked) -> str:
    """The log as a file for spreadsheets: one row a product, every field, the branch's own fields behind them."""
    found = log(store, asked, whole=True)
    extra = tuple(dict.fromkeys([*found.branch.extra, *(name for item in found.records for name in item.record.extra)]))
    written = io.StringIO()
    writer = csv.writer(written)
    columns = ("key", "version", *_FIELDS, "product_number", "products", *_OF_PRODUCT, *_AFTER)
    writer.writerow([*columns, *(guarded(name) for name in extra)])
    for item in found.records:
        own = _of_record(item)
        for number, product in enumerate(item.record.products, start=1):
            row = {**own, **_of_product(product), "product_number": f"{number}"}
            writer.writerow(
                [guarded(row[name]) for name in columns] + [guarded(item.record.extra.get(n, "")) for n in extra]
            )
    return written.getvalue()


def _of_record(item: KeptRecord) -> dict[str, str]:
    record, weather, adjuvant = item.record, item.record.weather, item.record.adjuvant
    plain = {name: _plain(getattr(record, name)) for name in (*_FIELDS, *_AFTER) if hasattr(record, name)}
    return {
        **plain,
        "key": item.key,
        "version": f"{item.version}",
        "products": f"{len(record.products)}",
        "adjuvant": adjuvant.id if adjuvant is not None else "",
        "adjuvant_product": adjuvant.name if adjuvant is not None else "",
        "adjuvant_registration": adjuvant.registration if adjuvant is not None else "",
        "adjuvant_rate": _plain(adjuvant.rate) if adjuvant is not None else "",
        "adjuvant_amount": _plain(adjuvant.amount) if adjuvant is not None else "",
        "targets": "; ".join(f"{t.weed} ({t.stage})" if t.stage else t.weed for t in record.targets),
        "temp_f": _plain(weather.temp_f),
        "wind_mph": _plain(weather.wind_mph),
        "wind_from": weather.wind_from,
        "rh_pct": _plain(weather.rh_pct),
        "sky": weather.sky,
        "weather_basis": weather.basis,
        "still_to_fill": still_to_fill(item.gaps),
    }


def _of_product(product: AppliedProduct) -> dict[str, str]:
    parts = [f"{part.form or part.active} {_plain(part.rate)}" for part in product.actives]
    return {
        "product": product.name,
        "registration": product.registration,
        "rate": _plain(product.rate),
        "amount": _plain(product.amount),
        "actives": "; ".join(parts),
    }


def _plain(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, Measure):
        return words.measure_text(value)
    if isinstance(value, tuple):
        return "; ".join(str(part) for part in value)
    return words.written(value) if isinstance(value, float) else str(value)
