"""Years as published calendars lay them out: data, put together from the steps of extension calendars.

No calendar gives a whole year with every active and rate. So a year takes several steps of one region, each a `Row`
with its own source and basis; where a row tells a span, a day inside it was chosen, and where it names no active, the
usual one (`named` is false). A rate of None is the usual rate of the knowledge base on that turf; beside another
active of its mechanism, the partner's. Steps that what is recorded bars (limits of a year, uses of a site) are left
out, and `left_out` says which.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date as Date
from typing import Literal

from knowledge.base import KnowledgeBase, rate_for
from knowledge.quantities import Quantity, parse_quantity

THREE_WAY = ("2-4-d", "mecoprop-p", "dicamba")


@dataclass(frozen=True)
class Row:
    """One step of a calendar: its days (MM-DD, both counted), whether it names its actives, and where it stands."""

    start: str
    end: str
    named: bool
    basis: Literal["published", "memory"]
    citation: str


@dataclass(frozen=True)
class Sprayed:
    """One active on one day; `rate` as text with its unit, or None for the usual one."""

    date: Date
    active: str
    row: str
    rate: str | None = None


@dataclass(frozen=True)
class HandbookYear:
    """A year of one property: where, against what, and what is sprayed when."""

    id: str
    zone: str
    turf: str
    site_use: str
    weeds: tuple[str, ...]
    sprayed: tuple[Sprayed, ...]
    left_out: str = ""

    @property
    def dates(self) -> tuple[Date, ...]:
        """The days of its visits, in order."""
        return tuple(sorted({spray.date for spray in self.sprayed}))

    @property
    def rows(self) -> tuple[str, ...]:
        """The steps of calendars that it rests on."""
        return tuple(sorted({spray.row for spray in self.sprayed}))


def rate_of(base: KnowledgeBase, year: HandbookYear, spray: Sprayed) -> Quantity:
    """The rate of a spray: as told, or the usual one on its turf, that of a partner beside its own mechanism."""
    if spray.rate is not None:
        return parse_quantity(spray.rate)
    active, turf = base.actives[spray.active], base.turf[year.turf]
    # What does both is named by the calendars against plants that are up.
    timing = "postemergence" if "postemergence" in active.timing else "preemergence"
    rate = rate_for(active, turf, timing)
    if rate is None:
        raise LookupError(f"{year.id}: no usual rate of {spray.active} on {year.turf}")
    beside = [
        other
        for other in year.sprayed
        if other.date == spray.date
        and other.active != spray.active
        and base.actives[other.active].mechanism.group == active.mechanism.group
    ]
    return rate.partner if beside and rate.partner is not None else rate.usual


def _together(day: Date, actives: tuple[str, ...], row: str) -> tuple[Sprayed, ...]:
    return tuple(Sprayed(day, active, row) for active in actives)


_HANDBOOK = "Patton AJ, Weisenberger DV and coauthors. Turfgrass Weed Control for Professionals; recalled, not opened"
_KANSAS = "Boor A, Domenghini C (Kansas State University) (2024). Cool-season lawn calendar, newspaper column"
_PANHANDLE = "University of Nebraska Panhandle Center. Panhandle Bluegrass Calendar"
_BUFFALOGRASS = "Reicher ZJ and others (2012). Buffalograss Management Calendar, NebGuide G2178, University of Nebraska"
_ST_AUGUSTINE = "McCarty LB, Cisar JL (1995). Yearly Calendar for St. Augustinegrass Care and Culture, UF/IFAS ENH-73"

ROWS: dict[str, Row] = {
    "PL-CAL-002": Row("05-01", "05-10", False, "published", _PANHANDLE),
    "PL-CAL-003": Row("05-01", "05-20", False, "published", _PANHANDLE),
    "PL-CAL-005": Row("09-15", "10-15", False, "published", _PANHANDLE),
    "PL-CAL-008": Row(
        *("09-01", "10-15", False, "published"),
        "South Dakota State University Extension (2019). Treat lawn weeds now, see results in the spring",
    ),
    "PL-CAL-012": Row(
        *("03-15", "04-20", False, "published"),
        "Purdue Turf Tips (2015). How to select a crabgrass preventer from the store",
    ),
    "PL-CAL-017": Row("05-15", "07-15", True, "memory", _HANDBOOK),
    "PL-CAL-018": Row("05-05", "06-15", True, "memory", _HANDBOOK),
    "PL-CAL-024": Row("04-01", "04-20", False, "published", _KANSAS),
    "PL-CAL-025": Row("06-01", "06-15", False, "published", _KANSAS),
    "PL-CAL-026": Row(
        *("10-20", "11-10", True, "published"),
        "Upham W (Kansas State University). Late October and early November lawn weed control",
    ),
    "PL-CAL-033": Row(
        *("10-15", "11-30", True, "published"),
        "Jackson K (University of Kentucky) (2017). Fall Control of Winter Annual Weeds",
    ),
    "PL-CAL-037": Row(
        *("02-01", "05-31", True, "published"),
        "Adkins C (NC Cooperative Extension) (2013). Ask a Master Gardener: tall fescue calendar",
    ),
    "PL-CAL-042": Row("04-15", "05-01", False, "published", _BUFFALOGRASS),
    "PL-CAL-043": Row("06-01", "06-30", True, "published", _BUFFALOGRASS),
    "PL-CAL-045": Row(
        *("10-20", "11-10", True, "published"),
        "Whitely-Noll A (Kansas State University) (2020). This calendar will guide care of buffalograss lawn",
    ),
    "PL-CAL-047": Row(
        *("05-01", "05-31", False, "published"),
        "NC State Extension. Bermudagrass Lawn Maintenance, lawn calendar",
    ),
    "PL-CAL-052": Row("02-15", "03-01", True, "published", _ST_AUGUSTINE),
    "PL-CAL-053": Row("05-01", "05-31", True, "published", _ST_AUGUSTINE),
    "PL-CAL-059": Row(
        *("04-10", "05-10", False, "published"),
        "Mickler K (University of Georgia Extension) (2013). Time to kick weeds",
    ),
    "PL-CAL-061": Row(
        *("02-07", "02-21", False, "published"),
        "Wells W (Mississippi State University) (2013). February: Super Bowl, Valentine Day and weed control month",
    ),
    "PL-CAL-063": Row(
        *("08-25", "09-15", True, "published"),
        "McCullough P (quoting Murphy T), University of Georgia. Preemergence Herbicides for Annual Bluegrass",
    ),
}

YEARS: tuple[HandbookYear, ...] = (
    HandbookYear(
        id="bluegrass-lawn-of-indiana",
        zone="cool-humid",
        turf="kentucky-bluegrass",
        site_use="residential-lawn",
        weeds=("smooth-crabgrass", "dandelion", "white-clover", "ground-ivy", "wild-violet"),
        sprayed=(
            Sprayed(Date(2027, 4, 12), "prodiamine", "PL-CAL-012"),
            *_together(Date(2027, 5, 20), ("2-4-d", "triclopyr", "dicamba"), "PL-CAL-018"),
            Sprayed(Date(2027, 6, 22), "quinclorac", "PL-CAL-017"),
            *_together(Date(2027, 10, 5), THREE_WAY, "PL-CAL-008"),
        ),
    ),
    HandbookYear(
        id="bluegrass-lawn-of-the-nebraska-panhandle",
        zone="cool-arid",
        turf="kentucky-bluegrass",
        site_use="residential-lawn",
        weeds=("smooth-crabgrass", "spotted-spurge", "dandelion", "white-clover"),
        sprayed=(
            Sprayed(Date(2027, 5, 5), "prodiamine", "PL-CAL-002"),
            *_together(Date(2027, 5, 5), THREE_WAY, "PL-CAL-003"),
            *_together(Date(2027, 9, 25), THREE_WAY, "PL-CAL-005"),
        ),
        left_out="PL-CAL-004, a second preemergence after six weeks: the recorded interval of prodiamine is 60 days.",
    ),
    HandbookYear(
        id="tall-fescue-lawn-of-kansas",
        zone="transition",
        turf="tall-fescue",
        site_use="residential-lawn",
        weeds=("smooth-crabgrass", "dandelion", "henbit", "common-chickweed"),
        sprayed=(
            Sprayed(Date(2027, 4, 10), "pendimethalin", "PL-CAL-024"),
            Sprayed(Date(2027, 6, 10), "pendimethalin", "PL-CAL-025"),
            *_together(Date(2027, 11, 1), THREE_WAY, "PL-CAL-026"),
        ),
    ),
    HandbookYear(
        id="tall-fescue-lawn-of-north-carolina",
        zone="transition",
        turf="tall-fescue",
        site_use="residential-lawn",
        weeds=("large-crabgrass", "goosegrass", "henbit", "common-chickweed"),
        sprayed=(
            Sprayed(Date(2027, 2, 20), "pendimethalin", "PL-CAL-037"),
            Sprayed(Date(2027, 5, 20), "pendimethalin", "PL-CAL-037"),
            *_together(Date(2027, 10, 25), THREE_WAY, "PL-CAL-033"),
        ),
        left_out="PL-CAL-036, pendimethalin in September and December too: two a year are recorded as most.",
    ),
    HandbookYear(
        id="bermudagrass-lawn-of-the-deep-south",
        zone="warm-humid",
        turf="common-bermudagrass",
        site_use="residential-lawn",
        weeds=("large-crabgrass", "goosegrass", "annual-bluegrass", "henbit", "white-clover", "spotted-spurge"),
        sprayed=(
            Sprayed(Date(2027, 2, 14), "prodiamine", "PL-CAL-061"),
            *_together(Date(2027, 2, 14), THREE_WAY, "PL-CAL-061"),
            Sprayed(Date(2027, 4, 20), "prodiamine", "PL-CAL-059"),
            *_together(Date(2027, 5, 15), THREE_WAY, "PL-CAL-047"),
            Sprayed(Date(2027, 9, 5), "pendimethalin", "PL-CAL-063"),
        ),
        left_out="PL-CAL-057, an autumn spray of broadleaf weeds: two of 2,4-D a year are recorded as most.",
    ),
    HandbookYear(
        id="st-augustinegrass-lawn-of-north-florida",
        zone="warm-humid",
        turf="st-augustinegrass",
        site_use="residential-lawn",
        weeds=("southern-crabgrass", "goosegrass", "spotted-spurge", "common-lespedeza"),
        sprayed=(
            Sprayed(Date(2027, 2, 25), "pendimethalin", "PL-CAL-052"),
            Sprayed(Date(2027, 5, 3), "atrazine", "PL-CAL-053"),
        ),
        left_out="PL-CAL-054, asulam on emerged grasses: recorded as no choice on a residential lawn.",
    ),
    HandbookYear(
        id="buffalograss-lawn-of-the-plains",
        zone="cool-arid",
        turf="buffalograss",
        site_use="residential-lawn",
        weeds=("smooth-crabgrass", "dandelion", "henbit"),
        sprayed=(
            Sprayed(Date(2027, 4, 20), "prodiamine", "PL-CAL-042"),
            Sprayed(Date(2027, 6, 15), "quinclorac", "PL-CAL-043"),
            *_together(Date(2027, 11, 1), THREE_WAY, "PL-CAL-045"),
        ),
    ),
)
