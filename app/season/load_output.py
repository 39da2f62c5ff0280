"""What a load sheet holds: what goes into each fill of each tank, and what each stop gets out of it."""

from __future__ import annotations

from datetime import date as Date
from typing import Literal

from app.engine.output import Amount, Caution, CitedSource, Output, Statement
from app.season.record import Method

# How the codes of cautions begin that speak of what lies around a stop.
AROUND = "surroundings-"


class SheetPour(Output):
    """One thing in one fill: `said` is what a person measures, `amount` the exact one (None where unknown)."""

    name: str
    formulation: str
    said: str
    amount: Amount | None
    off_pct: float


class SheetFill(Output):
    """Fills that are alike, or a load of granules.

    Attributes
    ----------
    count : int
        How many of them.
    spray, water : Amount or None
        The mark to fill to, and what of it is water; None where it is spread dry.
    covers : Amount
        The area that one of them covers.
    pours : tuple of SheetPour
        In the order of adding, the adjuvant last.
    """

    title: str
    count: int
    full: bool
    spray: Amount | None
    water: Amount | None
    covers: Amount
    pours: tuple[SheetPour, ...]


class SheetRate(Output):
    """What is used per area of one thing: all that can be said where no product is named."""

    name: str
    rate: Amount | None


class SheetTotal(Output):
    """What is used of one thing in all."""

    name: str
    amount: Amount


class SheetContent(Output):
    """One thing that a tank is made of, as its label names it; `product` is empty for an active without one."""

    product: str
    registration: str
    actives: tuple[str, ...]


class SheetTank(Output):
    """One tank of the day.

    Attributes
    ----------
    contents : tuple of SheetContent
        What it is made of, without the adjuvant.
    unpoured : str
        Why nothing of it can be poured; empty where it can.
    stops : tuple of Statement
        What stands against the mix; it heads the tank.
    needed, spray, left_over : Amount or None
        Spray that the stops take, that is mixed, and what of it is over.
    fills_text : str
        Why the fills are made equal rather than full; empty where they are not.
    left_text : str
        What to do with what is over; empty where nothing is.
    totals : tuple of SheetTotal
        Product for all fills.
    order, rinse : tuple of Statement
        Steps of filling, and of rinsing before the next tank.
    spreader : tuple of str
        How to set the spreader, and the bags; empty for a spray.
    heat_text : str
        When it gets too warm for it; empty where nothing says so.
    """

    label: str
    name: str
    open_hours: str
    closed: tuple[Statement, ...]
    treated: Amount
    carrier: Amount | None
    contents: tuple[SheetContent, ...]
    rates: tuple[SheetRate, ...]
    unpoured: str
    stops: tuple[Statement, ...]
    warnings: tuple[Caution, ...]
    fills: tuple[SheetFill, ...]
    fills_text: str
    needed: Amount | None
    spray: Amount | None
    left_over: Amount | None
    left_text: str
    totals: tuple[SheetTotal, ...]
    order: tuple[Statement, ...]
    rinse: tuple[Statement, ...]
    spreader: tuple[str, ...]
    max_air_f: float | None
    heat_text: str
    rainfast_hours: float | None
    serves: tuple[str, ...]


class CustomerLine(Statement):
    """A sentence for the customer; `part` is where it stands on the slip."""

    part: Literal["now", "look", "next", "law"]


class SheetStop(Output):
    """One stop in driving order.

    Attributes
    ----------
    number : int
        Its place in the day.
    spray : Amount or None
        What it takes of the tank.
    amounts : tuple of SheetTotal
        What of each product it takes; empty where nothing can be poured.
    fills_text : str
        Which fill it is sprayed from, where that is not plain; a stop over two fills says so.
    """

    number: int
    property: str
    property_name: str
    customer: str
    address: str
    area: str
    area_name: str
    turf_names: tuple[str, ...]
    weeds: tuple[str, ...]
    tank: str
    method: Method
    method_text: str
    treated: Amount
    ground: Amount | None
    spray: Amount | None
    amounts: tuple[SheetTotal, ...]
    fills_text: str
    cautions: tuple[Caution, ...]
    customer_lines: tuple[CustomerLine, ...]
    again: Date | None


class SheetWaiting(Output):
    """A stop that is not sprayed that day, and why."""

    property: str
    property_name: str
    address: str
    area_name: str
    status: Literal["wait", "nothing", "unknown"]
    until: Date | None
    why: tuple[Statement, ...]


class LoadSheet(Output):
    """The load sheet of a round."""

    date: Date
    headline: str
    sprayer: str
    tank_holds: Amount | None
    tanks: tuple[SheetTank, ...]
    stops: tuple[SheetStop, ...]
    waiting: tuple[SheetWaiting, ...]
    weather_text: str
    notices: tuple[str, ...]
    sources: dict[str, CitedSource]
    knowledge_version: str
