"""The demo branch and what it serves, as plain data. Everything here is invented: nobody lives or works there.

Places are those of Larkmere County, streets are plain words, and surnames were made up for nobody. The coordinates
lie in open country.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

KENTUCKY, RYEGRASS, TALL, FINE = "kentucky-bluegrass", "perennial-ryegrass", "tall-fescue", "fine-fescue"
JO, SAM, LEE = "Jo Sallowby", "Sam Fernhythe", "Lee Mossgarth"
BRANCH: dict[str, Any] = {
    "name": "Tarnbeck branch",
    "address": "1 Depot Road, Tarnbeck, Larkmere County",
    "phone": "555-0142",
    "licence": "LKM-B-0027",
    "zone": "cool-humid",
    "timezone": "America/New_York",
    "latitude": 42.75,
    "longitude": -77.65,
    "work_from": "07:00",
    "work_to": "18:00",
    "technicians": [
        {"name": JO, "licence": "LKM-T-1042"},
        {"name": SAM, "licence": "LKM-T-1187"},
        {"name": LEE, "licence": "LKM-T-2215", "supervisor": JO, "supervisor_licence": "LKM-T-1042"},
    ],
    "required": ["finished", "weather.temp_f", "weather.wind_mph"],
    "pricing": {
        "currency": "USD",
        "labour_per_hour": 42.0,
        "minutes_per_visit": 12.0,
        "minutes_per_1000_ft2": 1.2,
        "travel_minutes": 11.0,
        "overhead_pct": 35.0,
        "margin_pct": 28.0,
        "least_per_visit": 55.0,
        "round_to": 1.0,
        "stand_in_per_1000_ft2": 1.1,
        "valid_days": 30,
        "payment": "Each visit is billed on the day it is done and is due within 30 days.",
    },
}
# Who serves a town, and how far it lies from the branch [degrees of latitude and longitude].
TOWNS = {
    "Tarnbeck": (JO, 0.0, 0.0),
    "Cobmarsh": (SAM, -0.04, 0.06),
    "Pellmere": (SAM, -0.06, 0.02),
    "Linnetby": (LEE, 0.05, -0.05),
    "Wrenhollow": (LEE, 0.07, 0.01),
}
SCHOOLS, PARKS, OFFICES = "Larkmere County Schools", "Tarnbeck Parks Office", "Quarry Road Offices"
RENTALS, CHURCH, TOWN = "Orchard Road Rentals", "Linnetby Church", "Wrenhollow Town Hall"
# Customers who are not billed where they are served.
ADDRESSES = {
    SCHOOLS: "4 Market Square, Tarnbeck",
    PARKS: "6 Market Square, Tarnbeck",
    OFFICES: "50 Quarry Road, Pellmere",
    RENTALS: "2 Depot Road, Tarnbeck",
    CHURCH: "1 Church Walk, Linnetby",
    TOWN: "1 Green Street, Wrenhollow",
    "Ousterby household": "2 Meadow Court, Linnetby",
}


@dataclass(frozen=True)
class Ground:
    """A part of a property that is treated alike.

    Attributes
    ----------
    size : float
        Treated area [ft2, or acres below 20].
    kind : str
        What lies there, which tells the weeds that are found: `sun`, `shade`, `worn` or `wet`.
    near : str
        What stands nearby, by ids parted by `; `.
    """

    size: float
    turf: tuple[str, ...]
    name: str = "Lawn"
    kind: str = "sun"
    near: str = ""
    slope: str = ""
    use: str = "residential-lawn"
    stand: str = "established"
    emerged: str = ""
    stress: str = ""
    notes: str = ""

    @property
    def unit(self) -> str:
        """Unit of the size."""
        return "ft2" if self.size >= 20 else "acre"

    @property
    def square_feet(self) -> float:
        """The size in square feet."""
        return self.size if self.unit == "ft2" else self.size * 43_560


@dataclass(frozen=True)
class Place:
    """A property: its town, its areas, who is billed where that is not its owner, and what is planned."""

    name: str
    town: str
    areas: tuple[Ground, ...]
    customer: str = ""
    plans: str = ""
    notes: str = ""

    @property
    def billed(self) -> str:
        """Who is billed."""
        return self.customer or f"Owner of {self.name}"

    @property
    def technician(self) -> str:
        """Who serves it."""
        return TOWNS[self.town][0]


def lawn(town: str, name: str, size: float, turf: tuple[str, ...], customer: str = "", **more: Any) -> Place:
    """A home with one lawn."""
    kept = {key: more.pop(key) for key in ("plans",) if key in more}
    return Place(name, town, (Ground(size, turf, **more),), customer, **kept)


def two(town: str, name: str, front: Ground, back: Ground, customer: str = "", plans: str = "") -> Place:
    """A home with a front and a back."""
    return Place(name, town, (front, back), customer, plans)


def front(size: float, turf: tuple[str, ...], **more: Any) -> Ground:
    """The lawn before a house."""
    return Ground(size, turf, "Front", **more)


def back(size: float, turf: tuple[str, ...], **more: Any) -> Ground:
    """The lawn behind a house."""
    return Ground(size, turf, "Back", **more)


K, KR, KF = (KENTUCKY,), (KENTUCKY, RYEGRASS), (KENTUCKY, FINE)
R, T, F = (RYEGRASS,), (TALL,), (FINE,)
TREES, GARDEN, WATER, CHILDREN = "tree-roots", "vegetable-garden", "surface-water", "children-or-pets"
SCHOOL, SPORTS, GROUNDS, CEMETERY = "school-grounds", "sports-turf", "commercial-grounds", "cemetery-park"
PLACES = (
    lawn("Tarnbeck", "3 Alder Lane", 6200, KF, kind="shade", near=TREES),
    lawn("Tarnbeck", "5 Alder Lane", 7400, K, "Tolbeck household"),
    two(
        "Tarnbeck",
        "8 Alder Lane",
        front(4100, K),
        back(6800, T, kind="shade", near=f"{TREES}; {CHILDREN}", stress="shade"),
        "Hazelcote household",
    ),
    lawn("Tarnbeck", "12 Alder Lane", 8900, KR, near=GARDEN),
    lawn("Tarnbeck", "15 Alder Lane", 5600, K, near=CHILDREN),
    lawn("Tarnbeck", "19 Alder Lane", 9800, T, slope="gentle"),
    lawn("Tarnbeck", "2 Mill Street", 3900, KR, "Marlhythe household"),
    lawn("Tarnbeck", "6 Mill Street", 7100, K, kind="wet", near=WATER, slope="gentle"),
    two(
        "Tarnbeck",
        "11 Mill Street",
        front(3600, KR),
        back(5200, KR, stress="traffic", notes="Thin after last summer"),
        plans='seeding 2027-09-07 on Back "overseeded after the summer"',
    ),
    lawn("Tarnbeck", "20 Mill Street", 10400, K, near="sensitive-ornamentals"),
    lawn("Tarnbeck", "27 Mill Street", 6600, F, kind="shade", near=TREES),
    lawn("Tarnbeck", "4 Creamery Lane", 8300, K, "Brackmoor household"),
    two(
        "Tarnbeck",
        "9 Creamery Lane",
        front(4700, K),
        back(5900, KR, stand="seedling", emerged="2027-05-24", notes="Sown on 12 May after a new drain"),
        "Thornhythe household",
    ),
    lawn("Tarnbeck", "14 Creamery Lane", 7700, T, kind="shade", near=TREES),
    lawn("Tarnbeck", "18 Creamery Lane", 12100, KR, near="children-or-pets; vegetable-garden"),
    lawn("Tarnbeck", "22 Creamery Lane", 6900, K, kind="shade", near=TREES),
    lawn("Tarnbeck", "31 Creamery Lane", 9300, K),
    Place(
        "Tarnbeck School",
        "Tarnbeck",
        (
            Ground(1.6, KR, "Lawns", use=SCHOOL, near=CHILDREN),
            Ground(0.9, KR, "Play field", "worn", use=SCHOOL, near=CHILDREN, stress="traffic"),
        ),
        SCHOOLS,
        notes="Spray outside school hours",
    ),
    Place(
        "Tarnbeck Sports Ground",
        "Tarnbeck",
        (
            Ground(1.8, KR, "Main pitch", "worn", use=SPORTS, stress="traffic"),
            Ground(1.1, R, "Practice pitch", "worn", use=SPORTS, stress="traffic"),
        ),
        PARKS,
        plans='aeration 2027-08-24; event 2027-07-17 on Main pitch "match at noon"',
    ),
    Place(
        "Tarnbeck Cemetery",
        "Tarnbeck",
        (
            Ground(1.6, KF, "Old part", "shade", use=CEMETERY, near=TREES),
            Ground(0.9, K, "New part", use=CEMETERY),
        ),
        PARKS,
    ),
    lawn("Cobmarsh", "1 Orchard Road", 8600, T),
    lawn("Cobmarsh", "7 Orchard Road", 5400, KR, RENTALS),
    lawn("Cobmarsh", "10 Orchard Road", 5100, K, RENTALS),
    lawn("Cobmarsh", "13 Orchard Road", 5800, KR, RENTALS, near=CHILDREN),
    lawn("Cobmarsh", "16 Orchard Road", 4900, K, RENTALS),
    lawn("Cobmarsh", "22 Orchard Road", 6300, T, RENTALS, kind="wet", near=WATER),
    lawn("Pellmere", "3 Quarry Road", 11200, K, "Rookstead household", slope="steep", near="slope"),
    lawn("Pellmere", "9 Quarry Road", 7900, T),
    two(
        "Pellmere",
        "21 Quarry Road",
        front(5300, K),
        back(8800, K, kind="wet", near="well-head"),
        "Quernley household",
    ),
    lawn("Pellmere", "30 Quarry Road", 14800, K, near=GARDEN),
    lawn("Pellmere", "35 Quarry Road", 9100, KR),
    lawn("Pellmere", "41 Quarry Road", 6700, F, kind="shade", near=TREES),
    Place(
        "Quarry Road Offices North",
        "Pellmere",
        (Ground(0.8, K, "Lawns", use=GROUNDS, near="sensitive-ornamentals"),),
        OFFICES,
    ),
    Place("Quarry Road Offices South", "Pellmere", (Ground(0.6, K, "Lawns", use=GROUNDS),), OFFICES),
    Place(
        "Cobmarsh School Field",
        "Cobmarsh",
        (Ground(1.4, KR, "Field", "worn", use=SCHOOL, near=CHILDREN, stress="traffic"),),
        SCHOOLS,
    ),
    lawn("Cobmarsh", "5 Ferry Road", 7200, T, kind="wet", near=WATER),
    lawn("Cobmarsh", "12 Ferry Road", 6100, K),
    two("Cobmarsh", "17 Ferry Road", front(3300, KR), back(7600, T, near=GARDEN), "Fenwythe household"),
    lawn("Cobmarsh", "24 Ferry Road", 8000, K, slope="gentle"),
    lawn("Cobmarsh", "33 Ferry Road", 9900, T, kind="shade", near=TREES),
    lawn("Linnetby", "1 Meadow Court", 7000, K, kind="shade", near=TREES),
    lawn("Linnetby", "2 Meadow Court", 6500, KF, "Ousterby household"),
    lawn("Linnetby", "4 Meadow Court", 7300, T, kind="shade", near=TREES),
    lawn("Linnetby", "7 Meadow Court", 8200, K, near=CHILDREN),
    lawn("Linnetby", "8 Meadow Court", 15600, K, plans='event 2027-07-17 "garden party"'),
    lawn("Linnetby", "10 Meadow Court", 6800, T),
    lawn("Wrenhollow", "5 Ridge Street", 5700, K, "Ousterby household", slope="gentle"),
    lawn("Wrenhollow", "9 Ridge Street", 9000, T, kind="shade", near=TREES),
    two("Wrenhollow", "14 Ridge Street", front(4400, K), back(6000, KF, kind="shade", near=TREES)),
    lawn("Wrenhollow", "23 Ridge Street", 7800, T, plans='seeding 2027-09-14 "overseeded"'),
    lawn("Wrenhollow", "28 Ridge Street", 10900, K, near="neighbour-susceptible-crop"),
    lawn("Linnetby", "3 Willow Lane", 6400, K, kind="shade", near=f"{TREES}; {WATER}"),
    lawn("Linnetby", "6 Willow Lane", 5900, T),
    lawn("Linnetby", "11 Willow Lane", 8500, KR, kind="shade", near=TREES),
    lawn("Linnetby", "16 Willow Lane", 7600, K),
    lawn("Linnetby", "25 Willow Lane", 12800, T, near=GARDEN),
    lawn("Linnetby", "30 Willow Lane", 4800, KF, kind="shade", near=TREES),
    two("Linnetby", "34 Willow Lane", front(4300, K), back(5500, (), notes="Look which grass it is")),
    Place(
        "Linnetby Church Ground",
        "Linnetby",
        (Ground(0.5, T, "Ground", "shade", use=GROUNDS, near=TREES),),
        CHURCH,
    ),
    Place("Wrenhollow Green", "Wrenhollow", (Ground(0.7, KR, "Green", use=GROUNDS, near=CHILDREN),), TOWN),
)
# Mown at [in], by the first turf, and lower where it is played on.
MOWN = {KENTUCKY: 3.0, RYEGRASS: 3.0, TALL: 3.5, FINE: 3.5}
MOWN_FOR_SPORT = 2.0
# Lawns that are watered by a system; all others not at all, or as their owners like.
WATERED = ("20 Mill Street", "30 Quarry Road", "8 Meadow Court", "Tarnbeck Sports Ground", "12 Alder Lane")
