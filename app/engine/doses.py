"""Doses: an active in a form at a rate on this turf. The atoms that programs are made of."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Rate
from app.engine.product import LabelRate, Product
from app.engine.understood import Understood, unknown_id
from knowledge.base import KnowledgeBase, applies_to_turf, rate_for, tolerance_for
from knowledge.models import Active, Form, Mixture, TurfRate
from knowledge.quantities import Quantity

Level = Literal["alone", "high", "partner", "mixture", "stated", "product"]

_GALLON_RATES = "volume-rate"
_WEIGHT_RATES = "mass-rate"
# A metric ton of active on a hectare; a rate beyond it is a slip of the pen.
_MOST_GRAMS = 1e6


@dataclass(frozen=True, slots=True)
class ProductUse:
    """A product at a rate [product per area], by which line of its label where it has one."""

    product: Product
    rate: Quantity
    line: LabelRate | None = None


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
    product : ProductUse or None
        The product that delivers it and its rate, where one does.
    form_assumed : bool
        Whether the form was not told and the usual one is taken.
    """

    active: Active
    form: Form
    rate: Quantity
    timing: str | None
    level: Level
    usual: TurfRate | None
    product: ProductUse | None = None
    form_assumed: bool = False

    @property
    def key(self) -> tuple[str, str, float, str]:
        """What makes two doses the same."""
        return (self.active.id, self.form.id, round(self.rate.base, 6), self.timing or "")


@dataclass(frozen=True, slots=True)
class ProductOffer:
    """A product at one rate, and the doses that it delivers."""

    product: Product
    rate: Quantity
    doses: tuple[Dose, ...]


def counted_rate(quantity: Quantity, active: Active, form: Form) -> Quantity | None:
    """A rate of active in the active's own counting, or None where it cannot be told.

    A salt or ester given as active ingredient is turned into acid equivalent by the form's
    factor; an active without salts or esters weighs the same in both. The usual rates of actives
    that are counted as active ingredient and yet sold as salts or esters (quinclorac, bentazon,
    bromoxynil, diquat) mean the acid, phenol or cation (common practice, no source), so that an
    acid equivalent of those is the rate itself.
    """
    wanted = f"lb {active.rate_basis}/acre"
    if quantity.dimension == f"{active.rate_basis}-rate":
        return quantity
    if quantity.dimension not in ("ae-rate", "ai-rate"):
        return None
    per_acre = Quantity(1.0, wanted).base
    if active.rate_basis == "ae":
        factor = form.ae_factor if form.ae_factor is not None else 1.0
        return Quantity(quantity.base * factor / per_acre, wanted)
    if form.kind in ("acid", "as-is") or form.ae_factor is not None:
        return Quantity(quantity.base / per_acre, wanted)
    return None


def delivered(
    product: Product, number: int, rate: Quantity, active: Active, form: Form, path: str = ""
) -> Quantity | None:
    """What a product at a rate brings of one of its actives, in the active's own counting.

    A content by weight is that of the salt or ester and is turned into acid; None where it cannot be told.

    Raises
    ------
    InputError
        When the units of rate, content and density do not fit together.
    """
    amount = active_amount(product, number, rate, path).quantity
    by_weight = product.actives[number].content.unit == "% w/w"
    if by_weight and active.rate_basis == "ai" and form.ae_factor is not None:
        return Quantity(amount.base * form.ae_factor, "g ai/ha").to("lb ai/acre")
    return counted_rate(amount, active, form)


def form_named(active: Active, form: str | None) -> Form | None:
    """The form of that id, the active's first form where none is named, or None."""
    if form is None:
        return active.forms[0]
    return next((item for item in active.forms if item.id == form), None)


def turf_rate(active: Active, understood: Understood, timing: str) -> TurfRate | None:
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
            rate = turf_rate(active, understood, timing)
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
        doses = doses_of_mixture(base, understood, mixture)
        if doses:
            yield mixture.id, doses


def doses_of_mixture(base: KnowledgeBase, understood: Understood, mixture: Mixture) -> tuple[Dose, ...]:
    """The doses of a standard mixture, empty where it has no composition on one of the turfs named.

    Of several turfs the one with the lowest rates decides.
    """
    chosen = []
    for turf in understood.turf:
        ranked = [(applies_to_turf(rate.turf, turf), rate) for rate in mixture.rates]
        fit = [pair for pair in ranked if pair[0] >= 0]
        if not fit:
            return ()
        chosen.append(max(fit, key=lambda pair: pair[0])[1])
    rate = min(chosen, key=lambda r: sum(part.rate.base for part in r.parts))
    doses = []
    for part in rate.parts:
        active = base.actives[part.active]
        form = form_named(active, part.form)
        assert form is not None, "checked when the facts were loaded"
        usual = turf_rate(active, understood, mixture.timing)
        doses.append(Dose(active, form, part.rate, mixture.timing, "mixture", usual))
    return tuple(doses)


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
    known = [r for r in (turf_rate(fact, understood, t) for t in fact.timing) if r is not None]
    # Which use is meant is not told: the one whose usual rate is nearest.
    usual = min(known, key=lambda r: abs(math.log(counted.base / r.usual.base)), default=None)
    assumed = form is None and len(fact.forms) > 1
    return Dose(fact, chosen, counted, None, "stated", usual, form_assumed=assumed)


def product_doses(base: KnowledgeBase, understood: Understood, products: Sequence[Product]) -> list[ProductOffer]:
    """Each product at each rate to consider, with the doses that it delivers there.

    A product given inline is considered at its own rate. A product with a table of rates is considered
    at the low, the middle and the high end of the line that speaks of every turf named, for each
    purpose but spot treatment; where no line does, at the lowest rate it has anywhere, so that a rule
    can turn it down with its reason.

    Raises
    ------
    InputError
        Naming the field of the product that cannot be used.
    """
    return [
        ProductOffer(product, rate, doses_delivered(base, understood, product, rate, f"catalog.{index}", line))
        for index, product in enumerate(products)
        if product.kind == "herbicide"
        for line, rate in _rates_considered(product, understood)
    ]


def _rates_considered(product: Product, understood: Understood) -> Iterator[tuple[LabelRate | None, Quantity]]:
    if product.rate is not None:
        yield None, product.rate.quantity
        return
    broadcast = [line for line in product.rates if line.purpose != "spot"]
    told = False
    for purpose in dict.fromkeys(line.purpose for line in broadcast):
        chosen = label_line(product, understood, purpose)
        if chosen is not None:
            told = True
            for rate in _steps(chosen):
                yield chosen, rate
    if not told and broadcast:
        least = min(broadcast, key=lambda line: line.low.quantity.base)
        yield None, least.low.quantity


def _steps(line: LabelRate) -> tuple[Quantity, ...]:
    """Low, middle and high end of a line of rates; one where they are equal."""
    low, high = line.low.quantity, line.high.quantity.to(line.low.unit)
    if low.base == high.base:
        return (low,)
    return (low, Quantity((low.value + high.value) / 2, low.unit), high)


def rate_on_label(product: Product, understood: Understood, at: str) -> Quantity | None:
    """The low, middle or high end of what the label gives for broadcast sprays on this turf.

    Where no line speaks of this turf it is the lowest rate that the label has anywhere, so that a rule can
    turn it down with its reason; None where the label gives rates for spot treatment alone.
    """
    lines = _lines_here(product, understood)
    if not lines:
        broadcast = [line.low.quantity for line in product.rates if line.purpose != "spot"]
        return min(broadcast, key=lambda quantity: quantity.base, default=None)
    steps = _steps(lines[0])
    return {"low": steps[0], "high": steps[-1]}.get(at, steps[len(steps) // 2])


def line_holding(product: Product, understood: Understood, rate: Quantity) -> LabelRate | None:
    """The line of the label's rates for this turf that a rate lies in, None where there is none."""
    lines = _lines_here(product, understood)
    alike = [line for line in lines if line.low.quantity.dimension == rate.dimension]
    return next((n for n in alike if n.low.quantity.base <= rate.base <= n.high.quantity.base), None)


def _lines_here(product: Product, understood: Understood) -> list[LabelRate]:
    purposes = dict.fromkeys(line.purpose for line in product.rates if line.purpose != "spot")
    found = (label_line(product, understood, purpose) for purpose in purposes)
    return [line for line in found if line is not None]


def label_line(product: Product, understood: Understood, purpose: str) -> LabelRate | None:
    """The line of the label's rates that holds on every turf named, None where one of them has none.

    Of several turfs the one with the lowest high end decides.
    """
    chosen = []
    for turf in understood.turf:
        ranked = [(applies_to_turf(line.turf, turf), line) for line in product.rates if line.purpose == purpose]
        fit = [pair for pair in ranked if pair[0] >= 0]
        if not fit:
            return None
        chosen.append(max(fit, key=lambda pair: pair[0])[1])
    return min(chosen, key=lambda line: line.high.quantity.base)


def doses_delivered(
    base: KnowledgeBase,
    understood: Understood,
    product: Product,
    rate: Quantity,
    path: str,
    line: LabelRate | None = None,
) -> tuple[Dose, ...]:
    """The doses that a product delivers at a rate [product per area].

    Raises
    ------
    InputError
        For unknown actives or forms, or units that do not fit together; fields are named below `path`.
    """
    use = ProductUse(product, rate, line)
    doses = []
    for number, part in enumerate(product.actives):
        fact = base.actives.get(part.active)
        form = form_named(fact, part.form) if fact is not None else None
        brought = delivered(product, number, rate, fact, form, path) if fact is not None and form is not None else None
        # What cannot be counted, or names what is not known, is refused in the words of a stated dose.
        amount = active_amount(product, number, rate, path)
        if brought is not None:
            amount = Rate(value=brought.value, unit=brought.unit)
        dose = stated_dose(base, understood, part.active, part.form, amount, f"{path}.actives.{number}")
        # Told in the unit of the ceilings that it is held against.
        counted = dose.rate.to(f"lb {dose.active.rate_basis}/acre")
        dose = replace(dose, rate=counted, level="product", product=use)
        doses.append(_for_purpose(understood, dose))
    return tuple(doses)


def _for_purpose(understood: Understood, dose: Dose) -> Dose:
    """The dose held against the usual rates of the use that its label's line is for, where there are some."""
    purpose = dose.product.line.purpose if dose.product is not None and dose.product.line is not None else None
    if purpose not in dose.active.timing:
        return dose
    usual = turf_rate(dose.active, understood, purpose)
    return replace(dose, timing=purpose, usual=usual) if usual is not None else dose


def active_amount(product: Product, number: int, rate: Quantity, path: str) -> Rate:
    """Rate of one active that a product delivers at a rate of product.

    Raises
    ------
    InputError
        When the units of rate, content and density do not fit together.
    """
    measured = product.actives[number].content.quantity
    kind = "ae" if measured.dimension == "ae-content" else "ai"
    if measured.dimension == "weight-fraction":
        return _active_rate(_grams_of_product(product, rate, path) * measured.base, "g ai/ha", path)
    if rate.dimension == _GALLON_RATES:
        return _active_rate(rate.base * measured.base, f"g {kind}/ha", path)
    if rate.dimension == _WEIGHT_RATES and product.density is not None:
        litres = rate.base / product.density.quantity.base
        return _active_rate(litres * measured.base, f"g {kind}/ha", path)
    what = f"'{rate.unit}' is a weight but the content is per volume; give the rate by volume"
    raise InputError([FieldFault(f"{path}.rate.unit", what)])


def _active_rate(value: float, unit: str, path: str) -> Rate:
    if not 0 < value <= _MOST_GRAMS:
        what = f"brings {value:.3g} {unit} of the active, which nobody sprays; correct the rate, content or density"
        raise InputError([FieldFault(f"{path}.rate", what)])
    return Rate(value=value, unit=unit)


def _grams_of_product(product: Product, rate: Quantity, path: str) -> float:
    if rate.dimension == _WEIGHT_RATES:
        return rate.base
    if rate.dimension == _GALLON_RATES and product.density is not None:
        return rate.base * product.density.quantity.base
    what = "is needed to turn a content by weight into a rate by volume" if rate.dimension == _GALLON_RATES else ""
    if what:
        raise InputError([FieldFault(f"{path}.density", what)])
    raise InputError([FieldFault(f"{path}.rate.unit", "must be a rate of product by volume or weight")])
