"""From a plan to what goes into each tank, and what the load comes to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.engine.citations import cautions_said, cited, source_ids, stops_said
from app.engine.cost import pack_amount, packs_to_buy
from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount, Caution, PackToBuy, Statement
from app.engine.product import Product
from app.mixing.allowance import Part, ceiling_share, loads, parts_of, rate_stops, yearly_stops
from app.mixing.amounts import adjuvant_amount, area_of_spray, hectares, product_amount
from app.mixing.barred import findings_here
from app.mixing.order import filling, jar_test, rinse
from app.mixing.output import (
    ActiveLoad,
    Catch,
    Mix,
    NamedAmount,
    Poured,
    PouredAdjuvant,
    SpreaderOutput,
    TankMix,
    Total,
)
from app.mixing.plan import MixPlan, System
from app.mixing.pouring import measures_for, pour, said
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

_ROUNDING = 1e-9
# Test areas over which a spreader's output is caught.
_CATCH = {"us": (Quantity(100, "ft2"), Quantity(500, "ft2")), "metric": (Quantity(10, "m2"), Quantity(50, "m2"))}


@dataclass(frozen=True)
class Fill:
    """One filling: spray [L] and the area [ha] it covers; either None where it is not told."""

    spray: float | None
    area: float | None
    full: bool


def mix(base: KnowledgeBase, plan: MixPlan) -> Mix:
    """What goes into each tank, in which order, and what the load brings.

    Parameters
    ----------
    plan : MixPlan
        Area, equipment, products with their rates.

    Returns
    -------
    Mix
        Exact amounts, amounts to pour, totals, order of adding, load of each active.

    Raises
    ------
    InputError
        For actives, forms and turf that are not known, units that do not fit together, and more fillings
        than anybody would make.
    """
    parts = parts_of(base, plan)
    fills = _fills(base, plan)
    whole = _whole(plan)
    totals = {product.name: product_amount(product, whole.area, whole.spray) for product in plan.products}
    shares = {product.name: ceiling_share(base, plan, product, parts) for product in plan.products}
    tanks = tuple(_tank(base, plan, number, fill, shares) for number, fill in enumerate(fills, start=1))
    load = loads(base, plan, parts, totals)
    # No plan tells how the turf stands, so that nothing in it settles what a finding leaves open.
    here = [replace(finding, settled_by=None) for finding in findings_here(base, plan, parts)]
    stops = (
        *stops_said(base, here),
        *rate_stops(base, plan, parts),
        *yearly_stops(load),
        *_carrier_stops(base, plan, parts),
    )
    warnings = (*_pour_warnings(base, tanks), *_place_warnings(plan), *cautions_said(base, here))
    steps = filling(base, plan)
    jar = jar_test(base, plan, whole.spray or 0.0, _with_adjuvant(base, plan, totals, whole))
    rinsing = rinse(base, plan, plan.tank.quantity if plan.tank is not None else None)
    told: tuple[Statement | ActiveLoad, ...] = (*stops, *warnings, *steps, *load, *jar, *rinsing)
    return Mix(
        headline=_headline(plan, tanks),
        method=plan.method,
        stops=stops,
        warnings=warnings,
        tanks=tanks,
        totals=tuple(_total(plan, product, totals[product.name]) for product in plan.products)
        + _adjuvant_total(base, plan, whole),
        per_1000_ft2=_per(base, plan, Quantity(1000, "ft2")),
        per_acre=_per(base, plan, Quantity(1, "acre")),
        order=tuple(step.text for step in steps),
        steps=steps,
        active_load=tuple(load),
        spreader=_spreader(plan, totals),
        jar_test=tuple(jar),
        rinse=tuple(rinsing),
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, (source for item in told for source in item.sources)),
        knowledge_version=base.version,
    )


def _whole(plan: MixPlan) -> Fill:
    """The whole load as one filling."""
    told = hectares(plan.area.quantity) if plan.area is not None else None
    if plan.method == "granular":
        return Fill(None, told, True)
    if plan.method == "spot" and plan.spray is not None:
        litres = plan.spray.quantity.base
        return Fill(litres, area_of_spray(plan, litres), True)
    assert told is not None, "checked by the plan"
    assert plan.carrier is not None, "checked by the plan"
    return Fill(told * plan.carrier.quantity.base, told, True)


def _fills(base: KnowledgeBase, plan: MixPlan) -> list[Fill]:
    """Full tanks, then the last part-tank."""
    whole = _whole(plan)
    if whole.spray is None or plan.tank is None:
        return [whole]
    holds = plan.tank.quantity.base
    count = math.floor(whole.spray / holds * (1 + _ROUNDING))
    most = round(base.parameter("tanks-sane"))
    if whole.spray / holds > most:
        what = f"would be filled {whole.spray / holds:,.0f} times; give a larger tank or a smaller area (most {most})"
        raise InputError([FieldFault("tank", what)])
    fills = [Fill(holds, area_of_spray(plan, holds), True)] * count
    rest = whole.spray - count * holds
    if rest > holds * _ROUNDING:
        fills.append(Fill(rest, area_of_spray(plan, rest), False))
    return fills


def _tank(base: KnowledgeBase, plan: MixPlan, number: int, fill: Fill, shares: dict[str, float | None]) -> TankMix:
    products = tuple(_poured(base, plan, product, fill, shares[product.name]) for product in plan.products)
    adjuvant = _poured_adjuvant(base, plan, fill)
    water = None
    if fill.spray is not None:
        liquids = [Quantity(p.pour.value, p.pour.unit) for p in products]
        if adjuvant is not None and adjuvant.pour is not None:
            liquids.append(Quantity(adjuvant.pour.value, adjuvant.pour.unit))
        litres = fill.spray - sum(q.base for q in liquids if q.dimension == "volume")
        water = _volume(max(litres, 0.0), plan.units)
    return TankMix(
        number=number,
        full=fill.full,
        area=_area(fill.area, plan) if fill.area is not None else None,
        spray=_volume(fill.spray, plan.units) if fill.spray is not None else None,
        water=water,
        products=products,
        adjuvant=adjuvant,
    )


def _poured(base: KnowledgeBase, plan: MixPlan, product: Product, fill: Fill, share: float | None) -> Poured:
    exact = product_amount(product, fill.area, fill.spray)
    ceiling = Quantity(exact.base * share, "L" if exact.dimension == "volume" else "g") if share is not None else None
    found = pour(base, exact, ceiling, plan.units)
    return Poured(
        name=product.name,
        id=product.id,
        formulation=product.formulation,
        amount=Amount(value=found.amount.value, unit=found.amount.unit),
        pour=Amount(value=found.pour.value, unit=found.pour.unit),
        error_pct=round(found.error, 2) + 0.0,
        said=said(found.pour),
    )


def _adjuvant_rate(base: KnowledgeBase, plan: MixPlan) -> Quantity | None:
    assert plan.adjuvant is not None
    if plan.adjuvant.rate is not None:
        return plan.adjuvant.rate.quantity
    fact = base.adjuvants[plan.adjuvant.id]
    return fact.rate


def _adjuvant_name(base: KnowledgeBase, plan: MixPlan) -> str:
    assert plan.adjuvant is not None
    product = plan.adjuvant.product
    return product.name if product is not None else base.adjuvants[plan.adjuvant.id].name


def _has_adjuvant(plan: MixPlan) -> bool:
    return plan.adjuvant is not None and plan.adjuvant.id != "none" and plan.method != "granular"


def _poured_adjuvant(base: KnowledgeBase, plan: MixPlan, fill: Fill) -> PouredAdjuvant | None:
    if not _has_adjuvant(plan) or plan.adjuvant is None:
        return None
    rate, name = _adjuvant_rate(base, plan), _adjuvant_name(base, plan)
    exact = adjuvant_amount(rate, fill.area, fill.spray) if rate is not None else None
    if exact is None:
        text = "as its label says"
        return PouredAdjuvant(id=plan.adjuvant.id, name=name, amount=None, pour=None, error_pct=None, said=text)
    found = pour(base, exact, None, plan.units)
    return PouredAdjuvant(
        id=plan.adjuvant.id,
        name=name,
        amount=Amount(value=found.amount.value, unit=found.amount.unit),
        pour=Amount(value=found.pour.value, unit=found.pour.unit),
        error_pct=round(found.error, 2) + 0.0,
        said=said(found.pour),
    )


def _with_adjuvant(base: KnowledgeBase, plan: MixPlan, totals: dict[str, Quantity], whole: Fill) -> dict[str, Quantity]:
    found = dict(totals)
    if _has_adjuvant(plan) and plan.adjuvant is not None and (rate := _adjuvant_rate(base, plan)) is not None:
        exact = adjuvant_amount(rate, whole.area, whole.spray)
        if exact is not None:
            found[_adjuvant_name(base, plan)] = exact
    return found


def _adjuvant_total(base: KnowledgeBase, plan: MixPlan, whole: Fill) -> tuple[Total, ...]:
    product = plan.adjuvant.product if plan.adjuvant is not None else None
    return tuple(
        Total(name=name, amount=_measured(base, exact, plan.units), packs=_packs(product, exact))
        for name, exact in _with_adjuvant(base, plan, {}, whole).items()
    )


def _packs(product: Product | None, exact: Quantity) -> tuple[PackToBuy, ...]:
    if product is None or exact.dimension != ("volume" if product.liquid else "mass"):
        return ()
    return packs_to_buy(product, exact.base)


def _total(plan: MixPlan, product: Product, exact: Quantity) -> Total:
    unit = {"volume": {"us": "fl oz", "metric": "mL"}, "mass": {"us": "oz", "metric": "g"}}[exact.dimension][plan.units]
    return Total(name=product.name, amount=Amount(value=exact.to(unit).value, unit=unit), packs=_packs(product, exact))


def _measured(base: KnowledgeBase, exact: Quantity, system: System) -> Amount:
    unit = measures_for(base, exact, system).unit
    return Amount(value=exact.to(unit).value, unit=unit)


def _per(base: KnowledgeBase, plan: MixPlan, area: Quantity) -> tuple[NamedAmount, ...]:
    """What so much area takes of each product and of the adjuvant; empty where a rate is of the spray alone."""
    on = hectares(area)
    litres = on * plan.carrier.quantity.base if plan.carrier is not None else None
    found = []
    for product in plan.products:
        assert product.rate is not None, "checked by the plan"
        if product.rate.quantity.dimension in ("volume-share", "mass-share") and litres is None:
            return ()
        exact = product_amount(product, on, litres)
        found.append(NamedAmount(name=product.name, amount=_measured(base, exact, plan.units)))
    named = _with_adjuvant(base, plan, {}, Fill(litres, on, True))
    return (*found, *(NamedAmount(name=n, amount=_measured(base, q, plan.units)) for n, q in named.items()))


def _carrier_stops(base: KnowledgeBase, plan: MixPlan, parts: Sequence[Part]) -> list[Statement]:
    """The carrier volume is below what a label or an active asks for."""
    if plan.carrier is None or plan.method != "broadcast":
        return []
    told = plan.carrier.quantity
    found = []
    for product in plan.products:
        floor_told = product.carrier_floor.quantity if product.carrier_floor is not None else None
        if floor_told is not None and told.base * (1 + _ROUNDING) < floor_told.base:
            text = f"The label of {product.name} asks for at least {floor_told} of spray; {told} is told."
            found.append(Statement(code="label-carrier", text=text))
    usual = base.parameters["carrier-floor-usual"]
    for active in {part.active.id: part.active for part in parts}.values():
        floor = active.carrier_floor
        least = floor.value if floor is not None else Quantity(usual.value, usual.unit)
        sources = floor.sources if floor is not None else usual.sources
        if told.base * (1 + _ROUNDING) < least.base:
            text = f"{active.name} wants at least {least} of spray; {told} is told."
            found.append(Statement(code="carrier-volume", text=text, sources=source_ids(sources)))
    return found


def _pour_warnings(base: KnowledgeBase, tanks: Sequence[TankMix]) -> list[Caution]:
    enough, found = base.parameter("pour-error"), dict[str, Caution]()
    for tank in tanks:
        for item in tank.products:
            if abs(item.error_pct) > enough:
                exact = f"{item.amount.value:.3g} {item.amount.unit}"
                text = (
                    f"{item.name}: {exact} cannot be measured closely; {item.said} is {abs(item.error_pct):.0f} % off. "
                    "Use a finer measure, or mix for more area at once."
                )
                found.setdefault(item.name, Caution(code="pour", severity="warning", text=text))
    return list(found.values())


def _place_warnings(plan: MixPlan) -> list[Caution]:
    found = []
    if not plan.turf:
        text = "The turf is not told, so what hurts it, its rates and yearly ceilings are not held against this mix."
        found.append(Caution(code="turf-untold", severity="caution", text=text, settled_by="turf"))
    if plan.site_use is None:
        text = "The use of the turf is not told, so what is kept from some uses is not held against this mix."
        found.append(Caution(code="site-untold", severity="caution", text=text, settled_by="site_use"))
    return found


def _spreader(plan: MixPlan, totals: dict[str, Quantity]) -> tuple[SpreaderOutput, ...]:
    if plan.method != "granular":
        return ()
    found = []
    for product in plan.products:
        catches = tuple(
            Catch(
                area=Amount(value=area.value, unit=area.unit),
                amount=_weight(product_amount(product, hectares(area), None), plan.units),
            )
            for area in _CATCH[plan.units]
        )
        found.append(SpreaderOutput(name=product.name, catches=catches, bags=_bags(product, totals[product.name])))
    return tuple(found)


def _weight(exact: Quantity, system: System) -> Amount:
    unit = "oz" if system == "us" else "g"
    return Amount(value=exact.to(unit).value, unit=unit)


def _bags(product: Product, exact: Quantity) -> str:
    sizes = [(pack.size, amount.base) for pack in product.packs if (amount := pack_amount(product, pack)) is not None]
    if not sizes:
        return "no bag size is told"
    size, grams = max(sizes, key=lambda pair: pair[1])
    count = exact.base / grams
    return f"{count:.2f} bags of {size.value:g} {size.unit}"


def _volume(litres: float, system: System) -> Amount:
    unit = "gal" if system == "us" else "L"
    return Amount(value=Quantity(litres, "L").to(unit).value, unit=unit)


def _area(on: float, plan: MixPlan) -> Amount:
    unit = plan.area.unit if plan.area is not None else "ft2" if plan.units == "us" else "m2"
    return Amount(value=Quantity(on, "ha").to(unit).value, unit=unit)


def _headline(plan: MixPlan, tanks: Sequence[TankMix]) -> str:
    full = [tank for tank in tanks if tank.full]
    rest = [tank for tank in tanks if not tank.full]
    if plan.method == "granular":
        amounts = " and ".join(f"{item.said} of {item.name}" for item in tanks[0].products)
        return f"Spread {amounts}."
    parts = []
    if full:
        count = "One tank" if len(full) == 1 else f"{len(full)} tanks"
        parts.append(f"{count} of {_figure(full[0].spray)}: {_contents(full[0])}{' each' if len(full) > 1 else ''}")
    if rest:
        lead = "then a last one" if full else "One part-tank"
        parts.append(f"{lead} of {_figure(rest[0].spray)}: {_contents(rest[0])}")
    return f"{'; '.join(parts)}."


def _contents(tank: TankMix) -> str:
    named = [f"{item.said} of {item.name}" for item in tank.products]
    if tank.adjuvant is not None:
        named.append(f"{tank.adjuvant.said} of {tank.adjuvant.name}")
    return ", ".join(named)


def _figure(amount: Amount | None) -> str:
    assert amount is not None, "what is sprayed has a volume"
    return f"{amount.value:.3g} {amount.unit}"
