"""What the papers of a planned year rest on: whose it is, what was asked and planned, the branch, and the price."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as Date

from app.engine.errors import UnknownId
from app.engine.output import Amount
from app.engine.product import Product
from app.season.proposal import Proposal, proposal
from app.season.record import Branch
from app.season.year import YearArea, YearAsked
from app.season.year_calls import Call, calls_of
from app.season.year_output import YearPlan
from app.season.year_price import YearPrice, year_price
from app.services import properties, years
from app.services.branch import branch
from app.services.customers import customer
from app.services.knowledge_service import knowledge_base
from app.services.shelf import shelf_products
from app.services.sprayers import list_sprayers
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
    sprayer : (str, Amount) or None
        A kept sprayer with its carrier, by which spray is reckoned where the plan tells none.
    """

    place: Place
    number: int
    asked: YearAsked
    plan: YearPlan
    branch: Branch
    catalog: tuple[Product, ...]
    price: YearPrice | None
    sprayer: tuple[str, Amount] | None = None

    @property
    def season(self) -> int:
        """The year that is planned."""
        return self.plan.year

    @property
    def calls(self) -> tuple[Call, ...]:
        """The visits on which something is applied, in order."""
        return calls_of(self.plan, self.price)

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


@dataclass(frozen=True)
class ChosenPlan:
    """The plan that is chosen for a property's year, with what was asked and its version."""

    asked: YearAsked
    plan: YearPlan
    number: int


def papers_of(place: Place, told: Branch, chosen: ChosenPlan, shelf: Sequence[Product] = ()) -> YearPapers:
    """The papers of a plan, priced where the branch says how."""
    held = _catalog(chosen.asked, shelf)
    price = year_price(chosen.plan, chosen.asked.areas, told.pricing, held) if told.pricing is not None else None
    return YearPapers(place, chosen.number, chosen.asked, chosen.plan, told, held, price)


def price_of(store: Store, asked: YearAsked, plan: YearPlan) -> YearPrice | None:
    """The price of a plan by what the branch and the shelf tell now; None where the branch sets no prices."""
    pricing = branch(store)[0].pricing
    if pricing is None:
        return None
    return year_price(plan, asked.areas, pricing, _catalog(asked, shelf_products(store)))


def _catalog(asked: YearAsked, shelf: Sequence[Product]) -> tuple[Product, ...]:
    """The products that a plan could take."""
    if asked.catalog == "shelf":
        return tuple(shelf)
    return () if isinstance(asked.catalog, str) else asked.catalog


def proposal_of(found: YearPapers, today: Date, *, brief: bool = False) -> Proposal:
    """The proposal for the customer, written on a day; `brief` where its visits are to take less room.

    Raises
    ------
    UnknownId
        Where nothing is applied in that year: there is nothing to propose.
    """
    if not found.calls:
        raise UnknownId("visit to propose in the year of", found.place.slug, (), "since nothing is applied")
    return proposal(knowledge_base(), found.asked, found.plan, found.price, found.branch.pricing, today, brief=brief)


def papers(store: Store, property: str, season: int) -> YearPapers:
    """The papers of the plan that is chosen for a property's year.

    Raises
    ------
    UnknownId
        Where there is no such property, or its year has no plan.
    """
    reading = properties.one(store, property)
    kept = years.chosen(store, property, season)
    if kept is None:
        raise UnknownId("planned year", f"{property}, {season}", (), "yet: plan it first")
    told, _ = branch(store)
    billed = customer(store, reading.customer[0]).customer if reading.customer is not None else None
    place = Place(
        slug=reading.slug,
        name=reading.property.name,
        address=reading.property.address,
        customer=billed.name if billed is not None else "",
        customer_address=billed.address if billed is not None else "",
    )
    found = papers_of(place, told, ChosenPlan(kept.asked, kept.plan, kept.number), shelf_products(store))
    return replace(found, sprayer=_sprayer(store))


def _sprayer(store: Store) -> tuple[str, Amount] | None:
    """The first kept sprayer that has a carrier, by name."""
    told = ((item.name, item.document.get("carrier")) for item in list_sprayers(store))
    return next(((name, Amount.model_validate(carrier)) for name, carrier in told if carrier), None)
