"""What the papers of a round rest on: its load sheet, the branch, and who sprays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as Date

from app.engine.errors import UnknownId
from app.engine.output import Amount
from app.mixing.plan import System
from app.season.customer_words import date_words
from app.season.load_output import CustomerLine, LoadSheet, SheetStop, SheetTank, SheetTotal
from app.season.record import ApplicationRecord, Branch, Technician
from app.season.round_output import RoundPlan
from app.services.branch import branch
from app.services.knowledge_service import knowledge_base
from app.services.load_sheet import load_sheet
from app.services.load_tank import Sprayer
from app.services.shelf import shelf_products
from app.services.sprayers import sprayer_named
from app.store.opening import Store


@dataclass(frozen=True)
class Head:
    """What a round is called on its papers; `sprayer` is the id of a kept one, or empty."""

    slug: str
    name: str
    version: int
    technician: str
    sprayer: str


@dataclass(frozen=True)
class Papers:
    """What every paper of a round shows.

    Attributes
    ----------
    told_to_all : dict of tuple of CustomerLine
        By tank, what all its customers are told; the sheet says it once.
    """

    head: Head
    sheet: LoadSheet
    branch: Branch
    technician: Technician | None
    told_to_all: dict[str, tuple[CustomerLine, ...]]

    def told_here(self, stop: SheetStop) -> tuple[CustomerLine, ...]:
        """What the customer of one stop is told beside that."""
        common = {line.text for line in self.told_to_all[stop.tank]}
        return tuple(line for line in stop.customer_lines if line.text not in common)

    def tank(self, label: str) -> SheetTank:
        """The tank of a label."""
        return next(tank for tank in self.sheet.tanks if tank.label == label)


@dataclass(frozen=True)
class SlipRow:
    """What was applied from one tank: on which areas, against what, and how much in all."""

    tank: SheetTank
    areas: tuple[SheetStop, ...]
    weeds: tuple[str, ...]
    amounts: tuple[SheetTotal, ...]
    spray: Amount | None


@dataclass(frozen=True)
class Slip:
    """The slip of one property: its stops of the day, and what its customer is told, each sentence once.

    Attributes
    ----------
    rows : tuple of SlipRow
        One for each tank.
    day, started, finished : str
        As the records of its stops tell them; empty where they are written by hand.
    lines : tuple of (CustomerLine, str)
        With the area that a sentence holds for, where it does not hold for all of them.
    """

    date: Date
    property_name: str
    customer: str
    address: str
    rows: tuple[SlipRow, ...]
    lines: tuple[tuple[CustomerLine, str], ...]
    day: str = ""
    started: str = ""
    finished: str = ""

    def of(self, part: str) -> tuple[tuple[CustomerLine, str], ...]:
        """The lines of one part of the slip."""
        return tuple((line, area) for line, area in self.lines if line.part == part)


def papers(store: Store, head: Head, plan: RoundPlan, system: System) -> Papers:
    """What the papers of a planned round show, in the measures asked for."""
    sheet = load_sheet(plan, shelf_products(store), _sprayer(store, head.sprayer), system)
    told, _ = branch(store)
    return Papers(head, sheet, told, _technician(told, head.technician), _common(sheet))


def slip(found: Papers, property: str, records: Sequence[ApplicationRecord] = ()) -> Slip:
    """The slip of a property; day and hours are filled in where its stops have their records.

    Raises
    ------
    UnknownId
        Where the round does not spray it.
    """
    stops = tuple(stop for stop in found.sheet.stops if stop.property == property)
    if not stops:
        near = tuple(dict.fromkeys(stop.property for stop in found.sheet.stops))
        raise UnknownId("property that this round sprays", property, near, "")
    first = stops[0]
    rows, lines = _rows(found, stops), _of_areas(stops)
    plain = Slip(found.sheet.date, first.property_name, first.customer, first.address, rows, lines)
    # Where one of its areas has no record yet, nobody knows when the visit ends.
    if len(records) < len(stops) or len({record.date for record in records}) != 1:
        return plain
    started = [record.started for record in records]
    finished = [record.finished for record in records]
    return replace(
        plain,
        day=date_words(records[0].date),
        started=min(started) if all(started) else "",
        finished=max(finished) if all(finished) else "",
    )


def _rows(found: Papers, stops: Sequence[SheetStop]) -> tuple[SlipRow, ...]:
    rows = []
    for label in dict.fromkeys(stop.tank for stop in stops):
        mine = tuple(stop for stop in stops if stop.tank == label)
        weeds = tuple(dict.fromkeys(name for stop in mine for name in stop.weeds))
        sprays = [stop.spray for stop in mine if stop.spray is not None]
        # Every stop of a tank has the same things, in the same order and measures.
        amounts = tuple(
            SheetTotal(name=same[0].name, amount=_sum([item.amount for item in same]))
            for same in zip(*(stop.amounts for stop in mine), strict=True)
        )
        rows.append(SlipRow(found.tank(label), mine, weeds, amounts, _sum(sprays) if sprays else None))
    return tuple(rows)


def _sum(amounts: Sequence[Amount]) -> Amount:
    return Amount(value=sum(amount.value for amount in amounts), unit=amounts[0].unit)


def _of_areas(stops: Sequence[SheetStop]) -> tuple[tuple[CustomerLine, str], ...]:
    where: dict[str, list[str]] = {}
    lines: dict[str, CustomerLine] = {}
    for stop in stops:
        for line in stop.customer_lines:
            lines.setdefault(line.text, line)
            where.setdefault(line.text, []).append(stop.area_name)
    facts = list(knowledge_base().customer)
    # In the order of the facts, so that what two areas are told of one thing stands together.
    found = sorted(lines.values(), key=lambda line: facts.index(line.code))
    return tuple((line, "" if len(where[line.text]) == len(stops) else ", ".join(where[line.text])) for line in found)


def _common(sheet: LoadSheet) -> dict[str, tuple[CustomerLine, ...]]:
    found = {}
    for tank in sheet.tanks:
        stops = [stop for stop in sheet.stops if stop.tank == tank.label]
        said = set.intersection(*({line.text for line in s.customer_lines} for s in stops)) if len(stops) > 1 else set()
        found[tank.label] = tuple(line for line in stops[0].customer_lines if line.text in said) if said else ()
    return found


def _sprayer(store: Store, slug: str) -> Sprayer:
    """The kept sprayer; none where it is gone, since the papers can be read without it."""
    if not slug:
        return Sprayer()
    try:
        kept = sprayer_named(store, slug)
    except UnknownId:
        return Sprayer()
    return Sprayer(kept.name, kept.document.get("carrier"), kept.document.get("tank"))


def _technician(told: Branch, name: str) -> Technician | None:
    found = next((item for item in told.technicians if item.name.casefold() == name.casefold()), None)
    return found or (Technician(name=name) if name else None)
