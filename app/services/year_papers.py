"""What the papers of a planned year rest on: whose it is, what was asked and planned, the branch, and the price."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date
from itertools import groupby

from sqlalchemy import select

from app.engine.errors import UnknownId
from app.engine.product import Product
from app.season.record import Branch
from app.season.year import YearArea, YearAsked
from app.season.year_output import VisitWindow, YearPlan, YearVisit
from app.season.year_price import VisitPrice, YearPrice, year_price
from app.services import properties
from app.services.branch import branch
from app.services.customers import customer
from app.services.shelf import shelf_products
from app.store.models import YearRow
from app.store.opening import Store


@dataclass(frozen=True)
class Place:
    """Whose year it is; `customer` is empty where none is told."""

    slug: str
    name: str
    address: str
    customer: str = ""
    customer_address: str = ""


@dataclass(frozen=True)
class Call:
    """One visit as the customer counts it: days without an application are left out.

    Attributes
    ----------
    order : int
        Its place among the visits that are made, from one.
    parts : tuple of YearVisit
        What is applied to each area.
    price : VisitPrice or None
        None where the branch sets no prices.
    """

    order: int
    parts: tuple[YearVisit, ...]
    price: VisitPrice | None

    @property
    def number(self) -> int:
        """Its number in the plan."""
        return self.parts[0].number

    @property
    def date(self) -> Date:
        return self.parts[0].date

    @property
    def window(self) -> VisitWindow:
        """The days on which all of its parts do about as much; the window of the first where none are shared."""
        first = self.parts[0].window
        start, end = max(part.window.start for part in self.parts), min(part.window.end for part in self.parts)
        return first.model_copy(update={"start": start, "end": end}) if start <= self.date <= end else first

    @property
    def weeds(self) -> tuple[str, ...]:
        """Ids of what it is for, each once."""
        return tuple(dict.fromkeys(weed for part in self.parts for weed in part.against))


@dataclass(frozen=True)
class YearPapers:
    """What every paper of a planned year shows.

    Attributes
    ----------
    number : int
        Which version of the plan it is; 0 where it is not kept.
    catalog : tuple of Product
        The products that the plan could take.
    price : YearPrice or None
        None where the branch sets no prices.
    """

    place: Place
    number: int
    asked: YearAsked
    plan: YearPlan
    branch: Branch
    catalog: tuple[Product, ...]
    price: YearPrice | None

    @property
    def season(self) -> int:
        """The year that is planned."""
        return self.plan.year

    @property
    def calls(self) -> tuple[Call, ...]:
        """The visits on which something is applied, in order."""
        prices = {one.number: one for one in self.price.visits} if self.price is not None else {}
        days = groupby(sorted(self.plan.visits, key=_number), key=_number)
        sprayed = [tuple(part for part in group if part.applications) for _, group in days]
        made = [parts for parts in sprayed if parts]
        return tuple(Call(order, parts, prices.get(parts[0].number)) for order, parts in enumerate(made, start=1))

    def area(self, key: str) -> YearArea:
        """An area of the year."""
        return next(area for area in self.asked.areas if area.id == key)

    def area_name(self, key: str) -> str:
        """What an area is called."""
        return self.area(key).name or key.replace("-", " ")

    def where(self, call: Call) -> str:
        """The areas of a visit in words; empty where it is all of them."""
        treated = [part.area for part in call.parts]
        return "" if len(treated) == len(self.asked.areas) else ", ".join(self.area_name(key) for key in treated)

    def weed_name(self, key: str) -> str:
        """What a weed is called."""
        return next((one.name for one in self.plan.control if one.weed == key), key.replace("-", " "))


def _number(visit: YearVisit) -> int:
    return visit.number


@dataclass(frozen=True)
class ChosenPlan:
    """The plan that is chosen for a property's year, with what was asked and its version."""

    asked: YearAsked
    plan: YearPlan
    number: int


def papers_of(place: Place, told: Branch, chosen: ChosenPlan, shelf: Sequence[Product] = ()) -> YearPapers:
    """The papers of a plan, priced where the branch says how."""
    catalog = chosen.asked.catalog
    held = tuple(shelf) if catalog == "shelf" else () if isinstance(catalog, str) else catalog
    price = year_price(chosen.plan, chosen.asked.areas, told.pricing, held) if told.pricing is not None else None
    return YearPapers(place, chosen.number, chosen.asked, chosen.plan, told, held, price)


def papers(store: Store, property: str, season: int) -> YearPapers:
    """The papers of the plan that is chosen for a property's year.

    Raises
    ------
    UnknownId
        Where there is no such property, or its year has no plan.
    """
    reading = properties.one(store, property)
    chosen = _chosen(store, property, season)
    told, _ = branch(store)
    billed = customer(store, reading.customer[0]).customer if reading.customer is not None else None
    place = Place(
        slug=reading.slug,
        name=reading.property.name,
        address=reading.property.address,
        customer=billed.name if billed is not None else "",
        customer_address=billed.address if billed is not None else "",
    )
    return papers_of(place, told, chosen, shelf_products(store))


def _chosen(store: Store, property: str, season: int) -> ChosenPlan:
    told = (YearRow.property == property, YearRow.season == season, YearRow.chosen.is_(True))
    with store.reading() as session:
        row = session.scalar(select(YearRow).where(*told))
        if row is None:
            raise UnknownId("planned year", f"{property}, {season}", (), "yet: plan it first")
        asked, plan = YearAsked.model_validate(row.document["asked"]), YearPlan.model_validate(row.document["plan"])
        return ChosenPlan(asked, plan, row.number)
