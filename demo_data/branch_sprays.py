"""What the demo branch sprayed in spring, as plain data, and the records made of it. All of it is invented.

Products, rates and contents are those of the demo shelf; amounts follow from rate and area, rounded to what is poured
or weighed, and the weather of a record lies within that of its day.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from demo_data.branch_places import ADDRESSES, BRANCH, FINE, KENTUCKY, PLACES, RYEGRASS, TALL, Ground, Place

SEED = 20270410
SQUARE_FEET_PER_ACRE, OUNCES_PER_GALLON = 43_560.0, 128.0


@dataclass(frozen=True)
class Product:
    """A product as the branch uses it.

    Attributes
    ----------
    rate : dict of str to float
        Rate by turf, in `unit`; the least counts where several turfs stand together.
    amount : str
        Unit in which it is poured or weighed.
    actives : tuple of (str, str, float)
        Active, form and content [lb per gal; a share of the weight for a granule].
    sprayed : bool
        Whether it goes out in water.
    targets : tuple of (str, str)
        Weeds that it was meant for, with their stage.
    """

    name: str
    registration: str
    unit: str
    amount: str
    rate: dict[str, float]
    actives: tuple[tuple[str, str, float], ...]
    basis: str
    targets: tuple[tuple[str, str], ...]
    sprayed: bool = True


CRABGRASS = (("smooth-crabgrass", "not-emerged"),)
BROADLEAF = (("dandelion", "flowering"), ("white-clover", "vegetative"), ("broadleaf-plantain", "vegetative"))
CREEPERS = (("ground-ivy", "flowering"), ("wild-violet", "flowering"))
PELLMERE_EARLY = Product(
    "Pellmere Early",
    "LKM-120",
    "fl oz/acre",
    "fl oz",
    {KENTUCKY: 22, RYEGRASS: 22, TALL: 26, FINE: 18},
    (("prodiamine", "prodiamine", 3.6),),
    "ai",
    CRABGRASS,
)
WRENHOLLOW_EARLY = Product(
    "Wrenhollow Early",
    "LKM-121",
    "fl oz/acre",
    "fl oz",
    {KENTUCKY: 28, RYEGRASS: 28, TALL: 30},
    (("dithiopyr", "dithiopyr", 1.8),),
    "ai",
    CRABGRASS,
)
EARLY_FEED = Product(
    "Larkmere Early Feed",
    "LKM-126",
    "lb/1000 ft2",
    "lb",
    {KENTUCKY: 4.5, RYEGRASS: 4.5, TALL: 4.5},
    (("dithiopyr", "dithiopyr", 0.0016),),
    "ai",
    CRABGRASS,
    sprayed=False,
)
GOOSEGRASS_GRANULE = Product(
    "Ouzelby Goosegrass Granule",
    "LKM-127",
    "lb/1000 ft2",
    "lb",
    {KENTUCKY: 2.7, RYEGRASS: 2.7},
    (("oxadiazon", "oxadiazon", 0.021),),
    "ai",
    (("goosegrass", "not-emerged"), *CRABGRASS),
    sprayed=False,
)
THREE = Product(
    "Larkmere Three",
    "LKM-130",
    "pt/acre",
    "fl oz",
    {KENTUCKY: 3.5, RYEGRASS: 3.5, TALL: 3.5, FINE: 3.25},
    (("2-4-d", "2-4-d-dma", 2.2), ("mecoprop-p", "mecoprop-p-dma", 1.0), ("dicamba", "dicamba-dma", 0.4)),
    "ae",
    BROADLEAF,
)
WOODY = Product(
    "Pellmere Woody",
    "LKM-103",
    "fl oz/acre",
    "fl oz",
    {KENTUCKY: 24, RYEGRASS: 28, TALL: 30},
    (("triclopyr", "triclopyr-bee", 3.4),),
    "ae",
    CREEPERS,
)
# Days on which a technician went out with a product, and the places in their order.
Day = tuple[str, Product, tuple[str, ...]]
APRIL: tuple[Day, ...] = (
    (
        "2027-04-14",
        PELLMERE_EARLY,
        ("3 Alder Lane", "5 Alder Lane", "8 Alder Lane", "12 Alder Lane", "15 Alder Lane", "19 Alder Lane"),
    ),
    ("2027-04-15", PELLMERE_EARLY, ("1 Orchard Road", "9 Quarry Road", "3 Quarry Road", "41 Quarry Road")),
    ("2027-04-16", PELLMERE_EARLY, ("4 Creamery Lane", "14 Creamery Lane", "18 Creamery Lane", "31 Creamery Lane")),
    ("2027-04-19", PELLMERE_EARLY, ("5 Ferry Road", "12 Ferry Road", "17 Ferry Road", "33 Ferry Road")),
    ("2027-04-20", PELLMERE_EARLY, ("2 Meadow Court", "10 Meadow Court", "4 Meadow Court", "14 Ridge Street")),
    (
        "2027-04-21",
        EARLY_FEED,
        ("7 Orchard Road", "10 Orchard Road", "13 Orchard Road", "16 Orchard Road", "22 Orchard Road"),
    ),
    ("2027-04-22", EARLY_FEED, ("7 Meadow Court", "8 Meadow Court", "5 Ridge Street", "28 Ridge Street")),
    ("2027-04-23", EARLY_FEED, ("2 Mill Street", "6 Mill Street", "20 Mill Street")),
    ("2027-04-24", EARLY_FEED, ("Tarnbeck School",)),
    ("2027-04-26", GOOSEGRASS_GRANULE, ("Tarnbeck Sports Ground",)),
    ("2027-04-27", WRENHOLLOW_EARLY, ("Quarry Road Offices North", "Quarry Road Offices South")),
    ("2027-04-28", PELLMERE_EARLY, ("Tarnbeck Cemetery",)),
    ("2027-04-29", PELLMERE_EARLY, ("Wrenhollow Green",)),
)
MAY: tuple[Day, ...] = (
    ("2027-05-11", THREE, ("Quarry Road Offices North", "Quarry Road Offices South", "24 Ferry Road")),
    (
        "2027-05-12",
        THREE,
        ("5 Alder Lane", "12 Alder Lane", "15 Alder Lane", "2 Mill Street", "20 Mill Street", "4 Creamery Lane"),
    ),
    ("2027-05-12", THREE, ("Wrenhollow Green",)),
    (
        "2027-05-13",
        THREE,
        ("7 Orchard Road", "10 Orchard Road", "13 Orchard Road", "16 Orchard Road", "1 Orchard Road", "30 Quarry Road"),
    ),
    ("2027-05-13", THREE, ("31 Creamery Lane",)),
    ("2027-05-14", THREE, ("7 Meadow Court", "8 Meadow Court", "10 Meadow Court", "16 Willow Lane", "23 Ridge Street")),
    ("2027-05-20", WOODY, ("9 Ridge Street", "4 Meadow Court", "11 Willow Lane")),
)
# Fields that somebody forgot, by the place and the day.
FORGOTTEN: dict[tuple[str, str], str] = {
    ("2027-04-20", "10 Meadow Court"): "weather.wind_mph",
    ("2027-04-23", "6 Mill Street"): "products.0.amount",
    ("2027-05-13", "16 Orchard Road"): "finished",
    ("2027-05-20", "11 Willow Lane"): "started",
}
# What was seen four weeks later: control [percent] by weed, and what was written.
FollowUp = tuple[str, dict[str, float], float, str]
RATED: dict[tuple[str, str], FollowUp] = {
    ("2027-05-12", "12 Alder Lane"): (
        "2027-06-09",
        {"dandelion": 90, "white-clover": 75, "broadleaf-plantain": 85},
        0,
        "Clover comes back along the walk",
    ),
    ("2027-05-20", "9 Ridge Street"): (
        "2027-06-17",
        {"ground-ivy": 80, "wild-violet": 65},
        2,
        "Violets yellow and curled, some green at the crown",
    ),
}
CARRIER = 44.0
BOOM, SPREADER = "Ride-on sprayer", "Broadcast spreader"
BEGINS, DRIVE, LEAST_MINUTES, MINUTES_PER_1000 = 7 * 60 + 45, 12, 12, 1.1
SKIES, WINDS_FROM = ("clear", "partly cloudy", "cloudy"), ("W", "SW", "NW", "S")
Weather = Sequence[Mapping[str, object]]


def slug(name: str) -> str:
    """The id that is made from a name.

    >>> slug("3 Alder Lane")
    '3-alder-lane'
    """
    return re.sub(r"[^a-z0-9]+", "-", name.casefold())


def rate_on(product: Product, turf: Iterable[str]) -> float:
    """The rate on a stand: the least of its turfs."""
    return min(product.rate[kind] for kind in turf)


def amount_on(product: Product, rate: float, square_feet: float) -> float:
    """How much of the product an area takes, in its unit of pouring, to a tenth."""
    if product.unit == "lb/1000 ft2":
        return round(rate * square_feet / 1000, 1)
    per_acre = rate * 16 if product.unit == "pt/acre" else rate
    return round(per_acre * square_feet / SQUARE_FEET_PER_ACRE, 1)


def actives_of(product: Product, rate: float) -> list[dict[str, object]]:
    """What a rate brings of each active [lb per acre]."""
    if product.unit == "lb/1000 ft2":
        per_acre = rate * SQUARE_FEET_PER_ACRE / 1000
    else:
        per_acre = rate * (16 if product.unit == "pt/acre" else 1) / OUNCES_PER_GALLON
    return [
        {
            "active": active,
            "form": form,
            "rate": {"value": float(f"{per_acre * content:.6g}"), "unit": f"lb {product.basis}/acre"},
        }
        for active, form, content in product.actives
    ]


def sprayed(days: Weather) -> list[dict[str, Any]]:
    """The records of spring, each with its key and what was seen after it.

    Parameters
    ----------
    days : sequence of mapping
        The days of the year as `branch_weather.daily` gives them.
    """
    places = {place.name: place for place in PLACES}
    weather = {str(day["date"]): (int(str(day["min_f"])), int(str(day["max_f"]))) for day in days}
    made = []
    for number, (date, product, names) in enumerate((*APRIL, *MAY)):
        chance = np.random.default_rng([SEED, number])
        sky, calm = SKIES[int(chance.integers(3))], float(chance.uniform(3, 6))
        wind_from, clock = WINDS_FROM[int(chance.integers(4))], BEGINS
        for name in names:
            for area in places[name].areas:
                if any(kind not in product.rate for kind in area.turf) or not area.turf or area.stand != "established":
                    continue
                minutes = LEAST_MINUTES + round(MINUTES_PER_1000 * area.square_feet / 1000)
                then = _weather(weather[date], clock, calm, chance) | {"wind_from": wind_from, "sky": sky}
                record = _record(places[name], area, product, date, (clock, clock + minutes), then)
                clock += minutes + DRIVE
                made.append(_kept(name, record))
    return made


def _kept(name: str, record: dict[str, Any]) -> dict[str, Any]:
    """A record under its key, without what was forgotten, with what was seen after it."""
    at = (str(record["date"]), name)
    if at in FORGOTTEN:
        _forget(record, FORGOTTEN[at])
    key = slug(f"demo {at[0]} {name} {record['area_name']}")
    seen = []
    if at in RATED:
        date, ratings, injury, text = RATED[at]
        by = record["applicator"]
        told = {"date": date, "by": by, "ratings": ratings, "injury_pct": injury, "text": text}
        seen.append({"key": slug(f"demo {date} {name}"), "follow_up": told})
    return {"key": key, "record": record, "follow_ups": seen}


def _record(
    place: Place, area: Ground, product: Product, date: str, clock: tuple[int, int], then: dict[str, object]
) -> dict[str, Any]:
    rate = rate_on(product, area.turf)
    person = next(item for item in BRANCH["technicians"] if item["name"] == place.technician)
    address = f"{place.name}, {place.town}"
    told: dict[str, Any] = {
        "date": date,
        "started": _said(clock[0]),
        "finished": _said(clock[1]),
        "customer": place.billed,
        "customer_address": ADDRESSES.get(place.customer, address),
        "property": slug(place.name),
        "property_name": place.name,
        "place": address,
        "area": slug(area.name),
        "area_name": area.name,
        "site_use": area.use,
        "zone": BRANCH["zone"],
        "turf": list(area.turf),
        "treated": {"value": area.size, "unit": area.unit},
        "products": [
            {
                "name": product.name,
                "registration": product.registration,
                "rate": {"value": rate, "unit": product.unit},
                "amount": {"value": amount_on(product, rate, area.square_feet), "unit": product.amount},
                "actives": actives_of(product, rate),
            }
        ],
        "sprayer": BOOM if product.sprayed else SPREADER,
        "targets": [{"weed": weed, "stage": stage} for weed, stage in product.targets],
        "applicator": person["name"],
        "licence": person["licence"],
        "weather": then,
    }
    if "supervisor" in person:
        told |= {"supervisor": person["supervisor"], "supervisor_licence": person["supervisor_licence"]}
    if product.sprayed:
        gallons = round(CARRIER * area.square_feet / SQUARE_FEET_PER_ACRE, 1)
        told |= {"carrier": {"value": CARRIER, "unit": "gal/acre"}, "spray": {"value": gallons, "unit": "gal"}}
    return told


def _weather(day: tuple[int, int], clock: int, calm: float, chance: np.random.Generator) -> dict[str, object]:
    """Weather at a time of the day [minutes], between the extremes of the day [F]."""
    low, high = day
    part = float(np.clip((clock / 60 - 5) / 10, 0, 1))
    temp = round(low + (high - low) * (1 - np.cos(np.pi * part)) / 2)
    wind = round(calm + 3 * part + float(chance.uniform(-0.5, 0.5)))
    return {"temp_f": temp, "wind_mph": wind, "rh_pct": round(88 - 40 * part + float(chance.uniform(-4, 4)))}


def _said(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _forget(record: dict[str, Any], path: str) -> None:
    *way, last = path.split(".")
    held: Any = record
    for part in way:
        held = held[int(part)] if part.isdecimal() else held[part]
    del held[last]
