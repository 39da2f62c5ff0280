"""The load sheet of a round: what goes into each tank, and what each stop gets out of it."""

from __future__ import annotations

from collections.abc import Sequence

from app.engine.citations import cited
from app.engine.output import Amount, Caution, CitedSource, Statement
from app.engine.product import Product
from app.mixing.plan import System
from app.season.customer_words import Applied, customer_words
from app.season.load_fills import Share
from app.season.load_output import (
    AROUND,
    CustomerLine,
    LoadSheet,
    SheetStop,
    SheetTank,
    SheetWaiting,
)
from app.season.round_output import PlannedStop, RoundPlan
from app.services.knowledge_service import knowledge_base
from app.services.load_tank import ON_THE_SPOT, SPRAY_UNIT, Loaded, Sprayer, TankLoad, key_of, listed
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

_FLOWERS = "bloom-in-turf"


def load_sheet(
    plan: RoundPlan, shelf: Sequence[Product], sprayer: Sprayer | None = None, system: System = "us"
) -> LoadSheet:
    """The load sheet of a planned round.

    Parameters
    ----------
    plan : RoundPlan
        The plan; its stops stand in driving order.
    shelf : sequence of Product
        Where the products of its tanks are looked up.
    sprayer : Sprayer, optional
        What one fill holds, and the carrier volume where the plan tells none.
    system : str
        Measures in which it is poured, `us` or `metric`.

    Returns
    -------
    LoadSheet
        Every amount by the mixing of this house; a tank of actives without a product has rates alone.
    """
    base, with_ = knowledge_base(), sprayer or Sprayer()
    held = {product.id: product for product in shelf if product.id is not None}
    loaded = [TankLoad(base, plan, tank, held, with_, system).loaded() for tank in plan.tanks]
    of = {item.tank.label: item for item in loaded}
    sprayed = [stop for stop in plan.stops if stop.status == "spray" and stop.tank in of]
    stops = tuple(
        _stop(base, plan, of[stop.tank], stop, number, system)
        for number, stop in enumerate(sprayed, start=1)
        if stop.tank is not None
    )
    waiting = tuple(_waiting(stop) for stop in plan.stops if stop.status != "spray")
    tanks = tuple(item.sheet for item in loaded)
    return LoadSheet(
        date=plan.date,
        headline=_headline(tanks, stops, waiting),
        sprayer=with_.name,
        tank_holds=Amount(**with_.tank) if with_.tank is not None else None,
        tanks=tanks,
        stops=stops,
        waiting=waiting,
        weather_text=plan.weather_text,
        notices=plan.notices,
        sources=_sources(base, plan, tanks, stops),
        knowledge_version=plan.knowledge_version,
    )


def _stop(
    base: KnowledgeBase, plan: RoundPlan, loaded: Loaded, stop: PlannedStop, number: int, system: System
) -> SheetStop:
    assert stop.treated is not None, "it is sprayed"
    assert stop.tank is not None, "it is sprayed"
    split = loaded.fills.get(key_of(stop), [])
    unit = SPRAY_UNIT[system]
    litres = sum(share.litres for share in split)
    return SheetStop(
        number=number,
        property=stop.property,
        property_name=stop.property_name,
        customer=stop.customer,
        address=stop.address,
        area=stop.area,
        area_name=stop.area_name,
        turf_names=stop.turf_names,
        weeds=tuple(target.name for target in stop.targets),
        tank=stop.tank,
        method=stop.method,
        method_text=stop.method_text,
        treated=stop.treated,
        ground=Amount(value=stop.ground.value, unit=stop.ground.unit) if stop.ground is not None else None,
        spray=Amount(value=Quantity(litres, "L").to(unit).value, unit=unit) if split else None,
        amounts=loaded.taken.get(key_of(stop), ()),
        fills_text=_fills_text(split, loaded.sheet, unit),
        cautions=_cautions(base, stop, loaded.shared),
        customer_lines=_customer(base, plan, loaded, stop),
        again=stop.again,
    )


def _cautions(base: KnowledgeBase, stop: PlannedStop, shared: frozenset[str]) -> tuple[Caution, ...]:
    """What matters here alone: of what lies around first, then of what was planned."""
    around = [
        Caution(
            code=f"{AROUND}{key}",
            severity="caution",
            text=f"{fact.name[0].upper()}{fact.name[1:]}: {fact.text}",
            sources=tuple(citation.id for citation in fact.sources),
        )
        for key in stop.surroundings
        if (fact := base.surroundings.get(key)) is not None
    ]
    said = {*shared, *(caution.text for caution in around)}
    own = (c for c in stop.cautions if c.code in ON_THE_SPOT and c.text not in said)
    return (*around, *own)


def _customer(base: KnowledgeBase, plan: RoundPlan, loaded: Loaded, stop: PlannedStop) -> tuple[CustomerLine, ...]:
    flowering = any("flowering" in (target.stage, *target.stages) for target in stop.targets)
    applied = Applied(
        date=plan.date,
        actives=tuple(part.active for product in loaded.tank.products for part in product.actives),
        turf=stop.turf,
        labels=loaded.labels,
        spot=stop.method == "spot",
        rainfast_hours=loaded.tank.rainfast_hours,
        flowers=_FLOWERS in stop.surroundings or flowering,
        children_or_pets="children-or-pets" in stop.surroundings,
        again=stop.again,
    )
    return customer_words(base, applied)


def _waiting(stop: PlannedStop) -> SheetWaiting:
    assert stop.status != "spray", "it is sprayed"
    return SheetWaiting(
        property=stop.property,
        property_name=stop.property_name,
        address=stop.address,
        area_name=stop.area_name,
        status=stop.status,
        until=stop.wait_until,
        why=stop.why,
    )


def _fills_text(split: Sequence[Share], tank: SheetTank, unit: str) -> str:
    if sum(fill.count for fill in tank.fills) < 2 or not split:
        return ""
    if len(split) == 1:
        return f"Fill {split[0].fill}"
    told = [f"{Quantity(part.litres, 'L').to(unit).value:.3g} {unit} from fill {part.fill}" for part in split]
    return f"Over {len(split)} fills: {listed(told, ', then ')}"


def _headline(tanks: Sequence[SheetTank], stops: Sequence[SheetStop], waiting: Sequence[SheetWaiting]) -> str:
    parts = []
    for tank in tanks:
        said = "rates only" if tank.unpoured else "spread dry"
        if tank.spray is not None:
            count = sum(fill.count for fill in tank.fills)
            fills = "1 fill" if count == 1 else f"{count} fills"
            said = f"{tank.spray.value:.3g} {tank.spray.unit} in {fills}"
        parts.append(f"tank {tank.label} {said} for {_counted(len(tank.serves))}")
    left = {status: sum(item.status == status for item in waiting) for status in ("wait", "unknown", "nothing")}
    words = {"wait": "waiting", "unknown": "not planned", "nothing": "with nothing to spray"}
    rest = [f"{number} {words[status]}" for status, number in left.items() if number]
    return "; ".join((f"{_counted(len(stops))}", *parts, *rest)) + "."


def _counted(number: int) -> str:
    return f"{number} stop{'' if number == 1 else 's'}"


def _sources(
    base: KnowledgeBase, plan: RoundPlan, tanks: Sequence[SheetTank], stops: Sequence[SheetStop]
) -> dict[str, CitedSource]:
    told: list[Statement] = [s for tank in tanks for s in (*tank.stops, *tank.warnings, *tank.order, *tank.rinse)]
    told += [s for stop in stops for s in (*stop.cautions, *stop.customer_lines)]
    ids = {key for item in told for key in item.sources}
    here = cited(base, (key for key in ids if key in base.sources))
    return {**{key: source for key, source in plan.sources.items() if key in ids}, **here}
