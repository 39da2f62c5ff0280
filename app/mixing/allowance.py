"""What a load brings of each active, what that leaves of the year, and what stands against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.engine.citations import source_ids
from app.engine.doses import counted_rate, delivered, form_named
from app.engine.errors import FieldFault, InputError
from app.engine.output import Amount, Statement
from app.engine.product import Product
from app.engine.rules.limits import limits_on
from app.engine.understood import unknown_id
from app.mixing.amounts import as_rate, rate_per_area
from app.mixing.output import ActiveLoad
from app.mixing.plan import MixPlan
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.models import Active, Form, Limit, Turf
from knowledge.quantities import Quantity

# Room for the rounding of unit conversions, not for a higher rate.
_ROUNDING = 1 + 1e-9


@dataclass(frozen=True)
class Part:
    """One active of one product of the plan; `path` is that of the product."""

    path: str
    product: Product
    number: int
    active: Active
    form: Form

    @property
    def unit(self) -> str:
        """Its rate per acre in its own counting."""
        return f"lb {self.active.rate_basis}/acre"

    def brought(self, rate: Quantity) -> Quantity:
        """What a rate of the product brings of it per acre."""
        found = delivered(self.product, self.number, rate, self.active, self.form, self.path)
        if found is None:
            what = f"cannot be counted as {self.active.rate_basis} for {self.active.name}; give it as lb ae/gal"
            raise InputError([FieldFault(f"{self.path}.actives.{self.number}.content", what)])
        return found.to(self.unit)


def parts_of(base: KnowledgeBase, plan: MixPlan) -> tuple[Part, ...]:
    """Every active of every product.

    Raises
    ------
    InputError
        For actives, forms and turf that are not known.
    """
    faults, found = [], []
    for index, product in enumerate(plan.products):
        for number, told in enumerate(product.actives):
            path = f"products.{index}.actives.{number}"
            active = base.actives.get(told.active)
            if active is None:
                faults.append(unknown_id(f"{path}.active", "active", told.active, base.actives))
                continue
            form = form_named(active, told.form)
            if form is None:
                forms = [item.id for item in active.forms]
                faults.append(unknown_id(f"{path}.form", f"form of {active.id}", str(told.form), forms))
                continue
            found.append(Part(f"products.{index}", product, number, active, form))
    faults += [
        unknown_id(f"turf.{i}", "turf", key, base.turf) for i, key in enumerate(plan.turf) if key not in base.turf
    ]
    for i, past in enumerate(plan.applied_this_year):
        if past.active not in base.actives:
            faults.append(unknown_id(f"applied_this_year.{i}.active", "active", past.active, base.actives))
    if faults:
        raise InputError(faults)
    return tuple(found)


def _limits(base: KnowledgeBase, plan: MixPlan, active: Active) -> tuple[Limit, ...]:
    return limits_on(active, _turf(base, plan), plan.site_use)


def _turf(base: KnowledgeBase, plan: MixPlan) -> tuple[Turf, ...]:
    return tuple(base.turf[key] for key in plan.turf)


def label_ceilings(base: KnowledgeBase, plan: MixPlan, product: Product) -> list[tuple[Quantity, str]]:
    """Ceilings that the product's own label sets for one application, and in words what they are."""
    found = []
    if product.max_per_application is not None:
        found.append((product.max_per_application.quantity, "its label's most in one application"))
    for turf in _turf(base, plan):
        ranked = [(applies_to_turf(line.turf, turf), line) for line in product.rates if line.purpose != "spot"]
        fit = [pair for pair in ranked if pair[0] >= 0]
        if fit:
            best = max(pair[0] for pair in fit)
            high = max((line.high.quantity for rank, line in fit if rank == best), key=lambda q: q.base)
            found.append((high, f"its label's highest rate on {turf.name}"))
    return found


def ceiling_share(base: KnowledgeBase, plan: MixPlan, product: Product, parts: Sequence[Part]) -> float | None:
    """The most of a product that may be applied, as a share of its stated rate; None where nothing is recorded.

    The least of what its label, and the recorded single maximum of each of its actives, allow. A share
    of the spray over an area that is not told cannot be held against either.
    """
    rate = rate_per_area(plan, product)
    if rate is None:
        return None
    shares = [
        ceiling.base / rate.base
        for ceiling, _ in label_ceilings(base, plan, product)
        if ceiling.dimension == rate.dimension
    ]
    for part in parts:
        if part.product is product:
            brought = part.brought(rate).base
            shares += [
                limit.single_max.base / brought
                for limit in _limits(base, plan, part.active)
                if limit.single_max is not None
            ]
    return min(shares, default=None)


def rate_stops(base: KnowledgeBase, plan: MixPlan, parts: Sequence[Part]) -> list[Statement]:
    """What stands against the rates: the label's ceilings and the recorded single maxima."""
    found = []
    for product in plan.products:
        rate = rate_per_area(plan, product)
        if rate is None or product.rate is None:
            continue
        for ceiling, what in label_ceilings(base, plan, product):
            if ceiling.dimension == rate.dimension and rate.base > ceiling.base * _ROUNDING:
                told = f"{product.name} at {product.rate.quantity}"
                text = f"{told} is more than {what}, {ceiling}; what is poured is cut to it."
                found.append(Statement(code="label-rate", text=text))
    for part in parts:
        rate = rate_per_area(plan, part.product)
        if rate is None:
            continue
        brought = part.brought(rate)
        for limit in _limits(base, plan, part.active):
            if limit.single_max is not None and brought.base > limit.single_max.base * _ROUNDING:
                text = (
                    f"{brought.value:.3g} {brought.unit} of {part.active.name} is more than {limit.single_max}, "
                    "the most recorded for one application here; what is poured is cut to it."
                )
                found.append(Statement(code="single-rate", text=text, sources=source_ids(limit.sources)))
    return found


def loads(base: KnowledgeBase, plan: MixPlan, parts: Sequence[Part], totals: dict[str, Quantity]) -> list[ActiveLoad]:
    """Each active of the load, those of several products together."""
    together: dict[str, list[Part]] = {}
    for part in parts:
        together.setdefault(part.active.id, []).append(part)
    return [_load(base, plan, same, totals) for same in together.values()]


def _load(base: KnowledgeBase, plan: MixPlan, same: Sequence[Part], totals: dict[str, Quantity]) -> ActiveLoad:
    active, unit = same[0].active, same[0].unit
    rates = [rate_per_area(plan, part.product) for part in same]
    rate = sum(part.brought(r).value for part, r in zip(same, rates, strict=True) if r is not None)
    known = all(r is not None for r in rates)
    # Grams in the load: as if all of it went on one hectare.
    grams = sum(part.brought(as_rate(totals[part.product.name])).base for part in same)
    used, uncounted = _used(plan, active)
    maximum, sources = _yearly(base, plan, same)
    remaining = None
    if maximum is not None and known and not uncounted:
        remaining = Amount(value=max(maximum.to(unit).value - used - rate, 0.0), unit=unit)
    return ActiveLoad(
        active=active.id,
        name=active.name,
        form=same[0].form.id,
        form_name=same[0].form.name,
        group=active.mechanism.group,
        rate=Amount(value=rate, unit=unit) if known else None,
        amount=Amount(value=Quantity(grams, "g").to("lb").value, unit="lb"),
        used=Amount(value=used, unit=unit) if not uncounted else None,
        maximum=Amount(value=maximum.to(unit).value, unit=unit) if maximum is not None else None,
        remaining=remaining,
        text=_allowance_words(plan, active, rate if known else None, used, maximum, unit),
        sources=sources,
    )


def _used(plan: MixPlan, active: Active) -> tuple[float, bool]:
    """What was applied this year [lb/acre], and whether some of it could not be counted."""
    year = plan.date.year if plan.date is not None else None
    whole, uncounted = 0.0, False
    for past in plan.applied_this_year:
        if past.active != active.id or (year is not None and past.date.year != year):
            continue
        counted = counted_rate(past.rate.quantity, active, active.forms[0])
        uncounted |= counted is None
        whole += counted.to(f"lb {active.rate_basis}/acre").value if counted is not None else 0.0
    return whole, uncounted


def _yearly(base: KnowledgeBase, plan: MixPlan, same: Sequence[Part]) -> tuple[Quantity | None, tuple[str, ...]]:
    """The least yearly ceiling of an active: recorded for this turf and site, or of a label; with its sources."""
    known = [
        (limit.annual_max, source_ids(limit.sources))
        for limit in _limits(base, plan, same[0].active)
        if limit.annual_max is not None
    ]
    for part in same:
        if part.product.max_per_year is not None:
            known.append((part.brought(part.product.max_per_year.quantity), ()))
    return min(known, key=lambda pair: pair[0].base, default=(None, ()))


def _allowance_words(
    plan: MixPlan, active: Active, rate: float | None, used: float, maximum: Quantity | None, unit: str
) -> str:
    if maximum is None and not plan.turf:
        return f"What may still be applied of {active.name} this year is unknown: tell the turf."
    if maximum is None:
        return f"No yearly ceiling of {active.name} is recorded here; the label tells it."
    if rate is None:
        return f"How much of {active.name} falls on the turf is unknown: tell the area and the carrier volume."
    year = maximum.to(unit).value
    left = year - used - rate
    before = f"with {used:.3g} {unit} applied before" if plan.applied_this_year else "if none was applied before"
    if left < -1e-9 * year:
        return f"Over the year's {year:.3g} {unit} by {-left:.3g} {unit}, {before}."
    return f"{max(left, 0.0):.3g} {unit} of {year:.3g} {unit} a year remain after this, {before}."


def yearly_stops(loads_: Sequence[ActiveLoad]) -> list[Statement]:
    """Actives of which the year's ceiling would be passed."""
    found = []
    for load in loads_:
        if load.rate is None or load.maximum is None or load.used is None:
            continue
        if load.used.value + load.rate.value > load.maximum.value * _ROUNDING:
            found.append(Statement(code="annual-rate", text=f"{load.name}: {load.text}", sources=load.sources))
    return found
