"""A planned round, written by hand: two tanks, six stops in the invented Larkmere County."""

from __future__ import annotations

from datetime import date
from typing import Any

from app.engine.measures import Area
from app.engine.output import (
    ActiveInProduct,
    AdjuvantInTank,
    Amount,
    Caution,
    Control,
    ProductInTank,
    Statement,
    TurfInjury,
)
from app.engine.product import Product
from app.season.round_output import AgedTarget, PlannedStop, PlannedTank, RoundPlan, Tradeoff
from app.store.names import slug_of
from tests.demo_data.demo_shelf import demo_shelf

DAY, AGAIN, SEEDED_UNTIL = date(2027, 6, 22), date(2027, 7, 20), date(2027, 7, 24)
NAMES = {"crabgrass": "smooth crabgrass", "violet": "wild violet", "nutsedge": "yellow nutsedge"}


def shelf() -> tuple[Product, ...]:
    """The demo shelf with the ids that the store gives its products."""
    return tuple(product.model_copy(update={"id": slug_of(product.name, set())}) for product in demo_shelf())


def active(key: str, form: str, rate: float, unit: str, group: str) -> ActiveInProduct:
    """An active of a tank."""
    return ActiveInProduct(
        active=key,
        name=key.replace("-", " "),
        form=form,
        form_name=form.replace("-", " "),
        group=group,
        rate=Amount(value=rate, unit=unit),
    )


CREEPER = ProductInTank(
    product="Wrenhollow Creeper",
    id="wrenhollow-creeper",
    actives=(active("triclopyr", "triclopyr-choline", 0.76, "lb ae/acre", "4"),),
    rate=Amount(value=0.8, unit="fl oz/1000 ft2"),
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
OIL = AdjuvantInTank(
    id="mso", name="methylated seed oil", rate=Amount(value=1, unit="% v/v"), product="Mistlewick Seed Oil"
)
CARRIER = Amount(value=1, unit="gal/1000 ft2")


def feet(value: float) -> Amount:
    """An area [ft2]."""
    return Amount(value=value, unit="ft2")


def tank(label: str, treated: float, stops: int, **told: Any) -> PlannedTank:
    """A tank of the day."""
    plain: dict[str, Any] = {
        "key": f"key-{label.lower()}",
        "name": "triclopyr + quinclorac with methylated seed oil",
        "products": (CREEPER, CRABGRASS),
        "adjuvant": OIL,
        "carrier": CARRIER,
        "max_air_f": 85.0,
        "rainfast_hours": 24.0,
        "open_hours": "open 7 to 11 am",
        "closed": (Statement(code="heat", text="11 am to 6 pm: the air is above 85 F."),),
    }
    return PlannedTank(label=label, treated=feet(treated), stops=stops, **{**plain, **told})


def target(weed: str, name: str, stage: str) -> AgedTarget:
    """A weed as it is expected on the day."""
    return AgedTarget(
        weed=weed,
        name=name,
        seen_stage=stage,
        seen=date(2027, 6, 8),
        stage=stage,
        stages=(stage,),
        cover_pct=15,
        priority=1,
        text=f"{name} was seen at {stage} on 8 June.",
    )


def control(weed: str, name: str, stage: str, low: float, likely: float, high: float) -> Control:
    """What is expected of a weed."""
    return Control(
        weed=weed,
        name=name,
        stage=stage,
        low=low,
        likely=likely,
        high=high,
        days_after=42,
        basis="memory",
        parts=(),
        sources=("wssa-nd",),
        text=f"{name}: {likely:g} %",
    )


def stop(key: str, name: str, address: str, **told: Any) -> PlannedStop:
    """A stop that is sprayed broadcast from tank A."""
    plain: dict[str, Any] = {
        "property": key,
        "property_name": name,
        "customer": f"{name} household",
        "address": address,
        "area": "front",
        "area_name": "front lawn",
        "turf": ("tall-fescue",),
        "turf_names": ("tall fescue",),
        "site_use": "residential-lawn",
        "ground": Area(value=14000, unit="ft2"),
        "treated": feet(14000),
        "method": "broadcast",
        "method_text": "Broadcast: weeds cover 15 % and more.",
        "targets": (target("smooth-crabgrass", "smooth crabgrass", "1-3-tiller"),),
        "status": "spray",
        "tank": "A",
        "wait_until": None,
        "why": (Statement(code="best", text="Tank A does most here."),),
        "control": (control("smooth-crabgrass", "smooth crabgrass", "1-3-tiller", 62, 78, 88),),
        "turf_injury": (
            TurfInjury(
                turf="tall-fescue",
                name="tall fescue",
                tolerance="T",
                likely_pct=2.0,
                text="Tall fescue takes it.",
                sources=(),
            ),
        ),
        "own_best": "triclopyr + quinclorac with methylated seed oil",
        "own_control": (),
        "given_up_pct": 0.0,
        "given_up_text": "Nothing is given up here.",
        "again": None,
        "cautions": (
            Caution(code="wind", severity="caution", text="12 mph: at the edge; coarse droplets, low boom."),
            Caution(
                code="known-resistance", severity="caution", text="Smooth crabgrass resistant to group 1 is known."
            ),
            Caution(code="volatility", severity="info", text="Choline salt gives off little vapour."),
        ),
        "surroundings": (),
    }
    return PlannedStop(**{**plain, **told})


def stops() -> tuple[PlannedStop, ...]:
    """Six stops: two broadcast, one in spots, one of another tank, one that waits, one without turf."""
    return (
        stop("hill-house", "Hill House", "4 Hill Lane", again=AGAIN),
        stop(
            "pond-house",
            "Pond House",
            "19 Mill Road",
            treated=feet(22000),
            ground=Area(value=22000, unit="ft2"),
            surroundings=("tree-roots", "surface-water", "children-or-pets"),
            given_up_pct=4.0,
            given_up_text="Sharing tank A costs 4 points of control here.",
        ),
        stop(
            "rose-cottage",
            "Rose Cottage",
            "2 Church Walk",
            treated=feet(900),
            ground=Area(value=9000, unit="ft2"),
            method="spot",
            method_text="In spots: weeds cover 6 %, mapped as 900 ft2 of 9000 ft2.",
            targets=(target("wild-violet", "wild violet", "vegetative"),),
            control=(control("wild-violet", "wild violet", "vegetative", 45, 64, 79),),
            surroundings=("bloom-in-turf",),
        ),
        stop(
            "mill-works",
            "Mill Works",
            "1 Mill Road",
            tank="B",
            area="yard",
            area_name="front yard",
            site_use="commercial-grounds",
            treated=feet(31000),
            ground=Area(value=31000, unit="ft2"),
            targets=(target("yellow-nutsedge", "yellow nutsedge", "5-8-leaf"),),
            control=(control("yellow-nutsedge", "yellow nutsedge", "5-8-leaf", 58, 75, 87),),
        ),
        stop(
            "quarry-view",
            "Quarry View",
            "33 Quarry Street",
            status="wait",
            tank=None,
            treated=None,
            wait_until=SEEDED_UNTIL,
            why=(Statement(code="seeding-interval", text="Seed is planned on 26 June; every tank needs longer."),),
            control=(),
        ),
        stop(
            "ferry-cottage",
            "Ferry Cottage",
            "8 Ferry Lane",
            status="unknown",
            tank=None,
            treated=None,
            turf=(),
            turf_names=(),
            why=(Statement(code="turf-untold", text="The turf of this area is not told."),),
            control=(),
        ),
    )


def tradeoff(tanks: int, served: int, loss: float, cost: float) -> Tradeoff:
    """What so many tanks come to."""
    return Tradeoff(
        tanks=tanks,
        used=tanks,
        served=served,
        unserved=4 - served,
        loss_pct=loss,
        cost=cost,
        currency="USD",
        proven=True,
        bound=loss,
        gap=0.0,
        text=f"{tanks} tank{'s' if tanks > 1 else ''}: {served} stops served, {loss:g} points given up on the mean.",
    )


def planned(**changes: Any) -> RoundPlan:
    """The plan of the day."""
    sedge = tank(
        "B",
        31000,
        1,
        name="sulfentrazone",
        products=(SEDGE,),
        adjuvant=None,
        rainfast_hours=6.0,
        open_hours="open 7 am to noon",
    )
    plain: dict[str, Any] = {
        "date": DAY,
        "headline": "4 stops: tank A serves 3, tank B 1; 1 waits until 24 July; 1 is not planned.",
        "tanks": (tank("A", 36900, 3), sedge),
        "stops": stops(),
        "at_most": 2,
        "tradeoffs": (tradeoff(1, 3, 6.5, 91.0), tradeoff(2, 4, 1.0, 118.0)),
        "proven": True,
        "weather_text": "Larkmere, forecast of 21 June: 61 to 88 F, wind 4 to 9 mph, dry until Thursday.",
        "notices": ("The product label is the law.",),
        "sources": {},
        "knowledge_version": "0123456789ab",
    }
    return RoundPlan(**{**plain, **changes})


def generic() -> RoundPlan:
    """The same day with actives alone: no product is named."""
    bare = ProductInTank(product=None, actives=(*CREEPER.actives, *CRABGRASS.actives), rate=None)
    oil = OIL.model_copy(update={"product": None})
    alone = tank("A", 36900, 3, products=(bare,), adjuvant=oil)
    return planned(tanks=(alone,), stops=tuple(s for s in stops() if s.tank != "B"))
