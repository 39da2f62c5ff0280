"""Doses: an active in a form at a rate on this turf. The atoms that programs are made of."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from app.engine.errors import FieldFault, InputError
from app.engine.situation import Product, Rate
from app.engine.understood import Understood, unknown_id
from knowledge.base import KnowledgeBase, applies_to_turf, rate_for, tolerance_for
from knowledge.models import Active, Form, TurfRate
from knowledge.quantities import Quantity

Level = Literal["alone", "high", "partner", "mixture", "stated", "product"]

_GALLON_RATES = "volume-rate"
_WEIGHT_RATES = "mass-rate"


@dataclass(frozen=True, slots=True)
class Dose:
    """One active in one form at one rate.

    Attributes
    ----------
    rate : Quantity
        Rate of the active in the active's own counting (ae or ai).
    timing : str
        The use that the rate is meant for; None where the rate was stated by hand.
    level : str
        Where the rate comes from: the usual or the highest usual rate alone, the rate beside a partner of the
        same mechanism, a standard mixture, a stated program, or a product given inline.
    usual : TurfRate or None
        The turf rates that bound it, None where none are known.
    product : tuple or None
        Name and rate of the product that delivers it, where one does.
    form_assumed : bool
        Whether the form was not told and the usual one is taken.
    """

    active: Active
    form: Form
    rate: Quantity
    timing: str | None
    level: Level
    usual: TurfRate | None
    product: tuple[str, Quantity] | None = None
    form_assumed: bool = False

    @property
    def key(self) -> tuple[str, str, float, str]:
        """What makes two doses the same."""
        return (self.active.id, self.form.id, round(self.rate.base, 6), self.timing or "")


def counted_rate(quantity: Quantity, active: Active, form: Form) -> Quantity | None:
    """A rate of active in the active's own counting, or None where it cannot be told.

    A salt or ester given as active ingredient is turned into acid equivalent by the form's
    factor; an active without salts or esters weighs the same in both.
    """
    wanted = f"lb {active.rate_basis}/acre"
    if quantity.dimension == f"{active.rate_basis}-rate":
        return quantity
    if quantity.dimension not in ("ae-rate", "ai-rate"):
        return None
    factor = form.ae_factor if form.ae_factor is not None else 1.0
    per_acre = Quantity(1.0, wanted).base
    if active.rate_basis == "ae":
        return Quantity(quantity.base * factor / per_acre, wanted)
    if form.kind in ("acid", "as-is"):
        return Quantity(quantity.base / per_acre, wanted)
    return Quantity(quantity.base / factor / per_acre, wanted) if form.ae_factor is not None else None


def form_named(active: Active, form: str | None) -> Form | None:
    """The form of that id, the active's first form where none is named, or None."""
    if form is None:
        return active.forms[0]
    return next((item for item in active.forms if item.id == form), None)


def _turf_rate(active: Active, understood: Understood, timing: str) -> TurfRate | None:
    """The rates that every turf named allows, None where one has none."""
    rates = [rate_for(active, turf, timing) for turf in understood.turf]
    known = [rate for rate in rates if rate is not None]
    if len(known) < len(rates):
        return None
    least = min(known, key=lambda rate: rate.usual.base)
    site = understood.situation.site_use
    records = [tolerance_for(turf, active.id, site) for turf in understood.turf]
    ceilings = [record.max_rate for record in records if record is not None and record.max_rate is not None]
    high = min((*ceilings, *(rate.high for rate in known)), key=lambda quantity: quantity.base)

    def capped(quantity: Quantity) -> Quantity:
        return min((quantity, high), key=lambda item: item.base)

    partner = capped(least.partner) if least.partner is not None else None
    changes = {"low": capped(least.low), "usual": capped(least.usual), "high": high, "partner": partner}
    return least.model_copy(update=changes)


def single_doses(base: KnowledgeBase, understood: Understood) -> Iterator[Dose]:
    """Every active in each form at its usual and highest turf rates alone, and as a partner.

    An active that has no rate on this turf is still yielded, at the lowest rate that it has
    anywhere, so that a rule can turn it down with its reason.
    """
    for active in base.actives.values():
        for timing in active.timing:
            rate = _turf_rate(active, understood, timing)
            for form in active.forms:
                if rate is not None:
                    yield Dose(active, form, rate.usual, timing, "alone", rate)
                    if rate.high.base > rate.usual.base:
                        yield Dose(active, form, rate.high, timing, "high", rate)
                    if rate.partner is not None:
                        yield Dose(active, form, rate.partner, timing, "partner", rate)
                else:
                    elsewhere = [r for r in active.rates if r.timing == timing]
                    if elsewhere:
                        lowest = min(elsewhere, key=lambda r: r.usual.base)
                        yield Dose(active, form, lowest.usual, timing, "alone", None)


def mixture_doses(base: KnowledgeBase, understood: Understood) -> Iterator[tuple[str, tuple[Dose, ...]]]:
    """Each standard mixture that has a composition on every turf named."""
    for mixture in base.mixtures.values():
        if understood.situation.site_use in mixture.sites_barred:
            continue
        chosen = []
        for turf in understood.turf:
            ranked = [(applies_to_turf(rate.turf, turf), rate) for rate in mixture.rates]
            fit = [pair for pair in ranked if pair[0] >= 0]
            if not fit:
                break
            chosen.append(max(fit, key=lambda pair: pair[0])[1])
        else:
            rate = min(chosen, key=lambda r: sum(part.rate.base for part in r.parts))
            doses = []
            for part in rate.parts:
                active = base.actives[part.active]
                form = form_named(active, part.form)
                assert form is not None, "checked when the facts were loaded"
                usual = _turf_rate(active, understood, mixture.timing)
                doses.append(Dose(active, form, part.rate, mixture.timing, "mixture", usual))
            yield mixture.id, tuple(doses)


def stated_dose(
    base: KnowledgeBase, understood: Understood, active: str, form: str | None, rate: Rate, path: str
) -> Dose:
    """A dose stated by hand.

    Raises
    ------
    InputError
        For an unknown active or form, or a rate that is not one of active.
    """
    if active not in base.actives:
        raise InputError([unknown_id(f"{path}.active", "active", active, base.actives)])
    fact = base.actives[active]
    chosen = form_named(fact, form)
    if chosen is None:
        raise InputError([unknown_id(f"{path}.form", f"form of {active}", str(form), [f.id for f in fact.forms])])
    counted = counted_rate(rate.quantity, fact, chosen)
    if counted is None:
        what = f"'{rate.unit}' is not a rate of {active}; use lb {fact.rate_basis}/acre or g {fact.rate_basis}/ha"
        raise InputError([FieldFault(f"{path}.rate.unit", what)])
    known = [r for r in (_turf_rate(fact, understood, t) for t in fact.timing) if r is not None]
    # Which use is meant is not told: the one whose usual rate is nearest.
    usual = min(known, key=lambda r: abs(math.log(counted.base / r.usual.base)), default=None)
    assumed = form is None and len(fact.forms) > 1
    return Dose(fact, chosen, counted, None, "stated", usual, form_assumed=assumed)


def product_doses(base: KnowledgeBase, understood: Understood, products: Sequence[Product]) -> list[tuple[Dose, ...]]:
    """The doses that each inline product delivers at its rate.

    Raises
    ------
    InputError
        Naming the field of the product that cannot be used.
    """
    found = []
    for index, product in enumerate(products):
        doses = []
        for number, part in enumerate(product.actives):
            path = f"catalog.{index}.actives.{number}"
            amount = active_amount(product, number, f"catalog.{index}")
            doses.append(stated_dose(base, understood, part.active, part.form, amount, path))
        named = (product.name, product.rate.quantity)
        found.append(tuple(replace(d, level="product", product=named) for d in doses))
    return found


def active_amount(product: Product, number: int, path: str) -> Rate:
    """Rate of one active that a product delivers at its own rate.

    Raises
    ------
    InputError
        When the units of rate, content and density do not fit together.
    """
    content, rate = product.actives[number].content, product.rate.quantity
    measured = content.quantity
    kind = "ae" if measured.dimension == "ae-content" else "ai"
    if measured.dimension == "weight-fraction":
        grams = _grams_of_product(product, path) * measured.base
        fact_unit = "g ai/ha"
    elif rate.dimension == _GALLON_RATES:
        grams, fact_unit = rate.base * measured.base, f"g {kind}/ha"
    else:
        what = f"'{product.rate.unit}' is a weight but the content is per volume; give the rate by volume"
        raise InputError([FieldFault(f"{path}.rate.unit", what)])
    return Rate(value=grams, unit=fact_unit)


def _grams_of_product(product: Product, path: str) -> float:
    rate = product.rate.quantity
    if rate.dimension == _WEIGHT_RATES:
        return rate.base
    if rate.dimension == _GALLON_RATES and product.density is not None:
        return rate.base * product.density.quantity.base
    what = "is needed to turn a content by weight into a rate by volume" if rate.dimension == _GALLON_RATES else ""
    if what:
        raise InputError([FieldFault(f"{path}.density", what)])
    raise InputError([FieldFault(f"{path}.rate.unit", "must be a rate of product by volume or weight")])
