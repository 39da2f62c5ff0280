"""A planned year, written by hand: two areas, up to eight visits, twelve weeds in the invented Larkmere County."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from app.engine.measures import Area
from app.engine.output import AdjuvantInTank, Amount, Application, Caution, ProductInTank, Statement
from app.season.year import YearArea
from app.season.year_output import (
    Allowance,
    FrontierPoint,
    VisitWindow,
    WeedWindow,
    WeedYear,
    YearControl,
    YearPlan,
    YearVisit,
)
from tests.season.planned import CARRIER, OIL, active

FRONT = YearArea(id="front", name="Front lawn", turf=("kentucky-bluegrass",), area=Area(value=6000, unit="ft2"))
BACK = YearArea(id="back", name="Back lawn", turf=("tall-fescue",), area=Area(value=4500, unit="ft2"))
AREAS = (FRONT, BACK)
# Weed, name, and the band expected over the season [percent], widest names first.
WEEDS = (
    ("smooth-crabgrass", "smooth crabgrass", 88, 95, 98),
    ("prostrate-knotweed", "prostrate knotweed", 55, 71, 84),
    ("broadleaf-plantain", "broadleaf plantain", 76, 88, 95),
    ("purple-deadnettle", "purple deadnettle", 60, 78, 90),
    ("yellow-woodsorrel", "yellow woodsorrel", 52, 70, 84),
    ("common-chickweed", "common chickweed", 70, 86, 94),
    ("yellow-nutsedge", "yellow nutsedge", 50, 72, 87),
    ("spotted-spurge", "spotted spurge", 56, 74, 87),
    ("white-clover", "white clover", 78, 90, 96),
    ("ground-ivy", "ground ivy", 41, 62, 79),
    ("wild-violet", "wild violet", 28, 48, 69),
    ("dandelion", "dandelion", 82, 93, 98),
)
EARLY = ProductInTank(
    product="Pellmere Early",
    id="pellmere-early",
    actives=(active("prodiamine", "prodiamine", 0.5, "lb ai/acre", "3"),),
    rate=Amount(value=0.41, unit="fl oz/1000 ft2"),
)
CREEPER = ProductInTank(
    product="Wrenhollow Creeper",
    id="wrenhollow-creeper",
    actives=(active("triclopyr", "triclopyr-choline", 0.76, "lb ae/acre", "4"),),
    rate=Amount(value=0.8, unit="fl oz/1000 ft2"),
)
AMINE = ProductInTank(
    product="Larkmere Amine",
    id="larkmere-amine",
    actives=(active("2-4-d", "2-4-d-dma", 1.0, "lb ae/acre", "4"),),
    rate=Amount(value=36, unit="fl oz/acre"),
)
CRABGRASS = ProductInTank(
    product="Mistlewick Crabgrass",
    id="mistlewick-crabgrass",
    actives=(active("quinclorac", "quinclorac-acid", 0.61, "lb ai/acre", "4"),),
    rate=Amount(value=14, unit="oz/acre"),
)
SEDGE = ProductInTank(
    product="Siskinford Sedge",
    id="siskinford-sedge",
    actives=(active("sulfentrazone", "sulfentrazone", 0.17, "lb ai/acre", "14"),),
    rate=Amount(value=6, unit="fl oz/acre"),
)
Tank = tuple[tuple[ProductInTank, ...], AdjuvantInTank | None]
# Date, tank, what it is for, mechanisms and cost per 1000 ft2, visit by visit.
VISITS: tuple[tuple[date, Tank, tuple[str, ...], tuple[int, ...], float], ...] = (
    (date(2027, 4, 8), ((EARLY,), None), ("smooth-crabgrass", "prostrate-knotweed", "spotted-spurge"), (3,), 0.62),
    (date(2027, 5, 6), ((AMINE, CREEPER), None), ("dandelion", "white-clover", "ground-ivy"), (4,), 1.18),
    (date(2027, 5, 28), ((EARLY,), None), ("smooth-crabgrass", "spotted-spurge"), (3,), 0.62),
    (date(2027, 6, 17), ((SEDGE,), None), ("yellow-nutsedge", "prostrate-knotweed"), (14,), 0.55),
    (date(2027, 7, 12), ((CRABGRASS,), OIL), ("smooth-crabgrass", "white-clover"), (4,), 1.42),
    (date(2027, 9, 9), ((AMINE, CREEPER), None), ("wild-violet", "ground-ivy", "broadleaf-plantain"), (4,), 1.18),
    (date(2027, 10, 7), ((AMINE, CREEPER), None), ("wild-violet", "dandelion", "yellow-woodsorrel"), (4,), 1.18),
    (date(2027, 10, 30), ((AMINE,), None), ("common-chickweed", "purple-deadnettle"), (4,), 0.34),
)
HEAT = Caution(
    code="temperature",
    text="Do not spray when the air is above 85 F.",
    severity="caution",
    settled_by="forecast.max_temp_f",
)
SEEDED = Caution(
    code="seeding-interval",
    text="No seed before 24 July 2027.",
    severity="warning",
    settled_by=None,
    sources=("wssa-nd",),
)


def visit(number: int, area: str = "front", **told: Any) -> YearVisit:
    """A visit of the year to one area, by its number from one."""
    day, (products, adjuvant), weeds, groups, cost = VISITS[number - 1]
    application = Application(day=0, date=day, products=products, adjuvant=adjuvant, carrier=CARRIER)
    plain: dict[str, Any] = {
        "number": number,
        "date": day,
        "window": VisitWindow(
            start=day - timedelta(days=6),
            end=day + timedelta(days=8),
            trigger="before the first crabgrass comes up, and no longer than the soil stays cool",
        ),
        "area": area,
        "name": " + ".join(part.actives[0].name for part in products),
        "applications": (application,),
        "against": weeds,
        "groups": groups,
        "gain": 6.5,
        "cost_per_1000_ft2": cost,
        "locked": False,
        "reasons": (
            Statement(code="year-cohort", text="Takes the first flush before it comes up.", sources=("wssa-nd",)),
        ),
        "cautions": (HEAT, SEEDED),
    }
    return YearVisit(**{**plain, **told})


def resting(number: int, area: str = "front") -> YearVisit:
    """A visit on which nothing is applied, and why."""
    why = Statement(code="year-rest", text="Nothing that may be sprayed then adds anything.")
    rest = {"applications": (), "against": (), "groups": (), "gain": 0.0, "cost_per_1000_ft2": 0.0, "cautions": ()}
    return visit(number, area, **rest, name="", reasons=(why,))


def controls(count: int = len(WEEDS)) -> tuple[YearControl, ...]:
    """What is expected of so many weeds over the season."""
    return tuple(
        YearControl(
            weed=weed,
            name=name,
            area=None,
            low=low,
            likely=likely,
            high=high,
            visits=tuple(number for number, row in enumerate(VISITS, 1) if weed in row[2]),
            text=f"{name}: {likely} %.",
            sources=("wssa-nd",),
        )
        for weed, name, low, likely, high in WEEDS[:count]
    )


def planned_year(visits: Sequence[YearVisit] | int = 6, **told: Any) -> YearPlan:
    """The plan of the year, of so many visits to both areas or of those given."""
    if isinstance(visits, int):
        visits = [visit(number, area.id) for number in range(1, visits + 1) for area in AREAS]
    plain: dict[str, Any] = {
        "year": 2027,
        "headline": "Six visits, expected control 82 of 100.",
        "visits": tuple(visits),
        "control": controls(),
        "allowance": (
            Allowance(
                area="front",
                active="prodiamine",
                name="prodiamine",
                used=1.0,
                before=0.0,
                maximum=1.5,
                unit="lb ai/acre",
                count=2,
                most=None,
                sources=("wssa-nd",),
            ),
        ),
        "groups_by_visit": tuple(dict.fromkeys(one.groups for one in visits)),
        "rotation": (Statement(code="year-rotation", text="Three mechanisms take turns."),),
        "weeds": (
            WeedYear(
                weed="smooth-crabgrass",
                name="smooth crabgrass",
                pressure="high",
                windows=(
                    WeedWindow(
                        start=date(2027, 4, 10),
                        end=date(2027, 7, 1),
                        kind="emerging",
                        purpose="",
                        text="Comes up.",
                        told_by="calendar",
                        sources=("wssa-nd",),
                    ),
                ),
            ),
        ),
        "objective": 81.6,
        "bound": 81.64,
        "gap": 0.0005,
        "proven": True,
        "cost": 5.57,
        "currency": "USD",
        "frontier": (
            FrontierPoint(cost=0.0, control=20.0, visits=0, knee=False, proven=True),
            FrontierPoint(cost=1.8, control=61.0, visits=2, knee=True, proven=True),
            FrontierPoint(cost=5.57, control=81.6, visits=6, knee=False, proven=True),
        ),
        "next_visit": "One more visit would add 1.2 points.",
        "relax": None,
        "considered": 480,
        "notices": ("The product label is the law.",),
        "sources": {
            "wssa-nd": {"citation": "Composite list of weeds", "kind": "web", "basis": "memory"},
        },
        "knowledge_version": "0123456789ab",
    }
    return YearPlan(**{**plain, **told})
