"""Two to four programs in one situation: their figures, their limits, and what sets them apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from app.engine.catalog import MAX_PARTS
from app.engine.citations import cautions_said, cited, stops_said
from app.engine.cost import cost_of
from app.engine.describe import Spray, amount, applications_of, groups_of, program_name, situation_shown
from app.engine.differences import differences_of, verdict_of
from app.engine.doses import Dose, doses_delivered, doses_of_mixture, line_holding, rate_on_label, stated_dose
from app.engine.errors import FieldFault, InputError
from app.engine.expect import findings_of, judged, timing_of
from app.engine.offers import product_names, spread_dry
from app.engine.other_weeds import control_elsewhere
from app.engine.product import Product
from app.engine.recommend import tanks_of
from app.engine.rules import Finding, Question
from app.engine.rules.limits import least_interval
from app.engine.side_properties import properties_of
from app.engine.sides import (
    ActiveCompared,
    ComparedSide,
    Overlap,
    ProductCompared,
    SideAsked,
    SideBySide,
    SideBySideRequest,
    SideProduct,
)
from app.engine.situation import Situation
from app.engine.standing import band_of, standing_of
from app.engine.understood import Understood, understand, unknown_id
from app.engine.weighed import Weighed
from app.engine.wording import listed
from knowledge.base import KnowledgeBase
from knowledge.quantities import Quantity

# A name longer than this is replaced by a letter in the sentences.
_LONGEST_LABEL = 34
_LETTERS = "ABCD"


@dataclass(frozen=True)
class _Tank:
    """What one side puts on the turf, and findings that belong to its mixture as a whole."""

    sprays: tuple[Spray, ...]
    found: tuple[Finding, ...] = ()


def side_by_side(base: KnowledgeBase, request: SideBySideRequest, adjuvants_held: Sequence[Product] = ()) -> SideBySide:
    """Figures of every side, how their bands lie, and the differences that matter.

    Parameters
    ----------
    adjuvants_held : sequence of Product
        Adjuvants on the shelf, for their prices.

    Raises
    ------
    InputError
        For unknown ids, rates that are none, products on no shelf, and a broken situation.
    """
    understood = replace(understand(_generic(request), base), products=tuple(adjuvants_held) or None)
    tanks = [_tank(base, understood, side, f"sides.{n}") for n, side in enumerate(request.sides)]
    sides = _labelled([_figures(base, understood, request, n, tank) for n, tank in enumerate(tanks)])
    overlaps = tuple(
        overlap_of(first, second, t) for t in range(len(understood.targets)) for first, second in combinations(sides, 2)
    )
    programs = [(tank.sprays, timing_of(base, tank.sprays, request.days_after)) for tank in tanks]
    weighed = Weighed(base, understood, sides, overlaps, control_elsewhere(base, understood, programs))
    differences = differences_of(weighed)
    return SideBySide(
        situation=situation_shown(understood),
        verdict=verdict_of(weighed, differences),
        sides=sides,
        overlaps=overlaps,
        differences=differences,
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, (*_used(sides), *(s for d in differences for s in d.sources))),
        knowledge_version=base.version,
    )


def _generic(request: SideBySideRequest) -> Situation:
    """The situation; which products are compared is told by the sides, never by its catalog."""
    return request.situation.model_copy(update={"catalog": "actives"})


def _tank(base: KnowledgeBase, understood: Understood, side: SideAsked, path: str) -> _Tank:
    found: tuple[Finding, ...] = ()
    if side.mixture is not None:
        doses, found = _mixture(base, understood, side.mixture, path)
    elif side.products:
        doses = _of_products(base, understood, side.products, f"{path}.products")
    else:
        doses = tuple(
            stated_dose(base, understood, part.active, part.form, part.rate, f"{path}.actives.{n}")
            for n, part in enumerate(side.actives)
        )
    adjuvant = side.adjuvant.id if side.adjuvant is not None else "none"
    if adjuvant != "none" and any(spread_dry(dose) for dose in doses):
        raise InputError([FieldFault(f"{path}.adjuvant", "a granule is spread dry; it takes no adjuvant")])
    sprays = [Spray(0, doses, adjuvant)]
    if side.applications > 1:
        sprays.append(Spray(side.interval_days or _usual_interval(base, understood, doses), doses, adjuvant))
    return _Tank(tuple(sprays), found)


def _usual_interval(base: KnowledgeBase, understood: Understood, doses: Sequence[Dose]) -> int:
    """Days between two applications where they are not told: the usual ones, or the longest of the least intervals."""
    least = (least_interval(Question(base, understood, dose))[0] for dose in doses)
    return max((round(base.parameter("second-interval")), *least))


def _mixture(
    base: KnowledgeBase, understood: Understood, key: str, path: str
) -> tuple[tuple[Dose, ...], tuple[Finding, ...]]:
    if key not in base.mixtures:
        raise InputError([unknown_id(f"{path}.mixture", "mixture", key, base.mixtures)])
    mixture = base.mixtures[key]
    doses = doses_of_mixture(base, understood, mixture)
    names = " and ".join(turf.name for turf in understood.turf)
    if not doses:
        what = f"no composition of this mixture is recorded for {names}; give its actives with their rates"
        raise InputError([FieldFault(f"{path}.mixture", what)])
    here = understood.situation.site_use
    if here not in mixture.sites_barred:
        return doses, ()
    name = " + ".join(dose.active.name for dose in doses)
    values = {"active": name, "site": base.sites[here].name, "why": "this mixture is not offered for it"}
    sources = tuple(c for rate in mixture.rates for c in rate.sources)
    return doses, (Finding("site-use", "stop", values, sources),)


def _of_products(
    base: KnowledgeBase, understood: Understood, told: Sequence[SideProduct], path: str
) -> tuple[Dose, ...]:
    doses: list[Dose] = []
    for n, item in enumerate(told):
        here = f"{path}.{n}"
        if item.product is None:
            what = f"no shelf is at hand here to look up '{item.id}'; give the product itself"
            raise InputError([FieldFault(f"{here}.id", what)])
        rate = _rate(item, item.product, understood, here)
        line = line_holding(item.product, understood, rate)
        doses += doses_delivered(base, understood, item.product, rate, f"{here}.product", line)
    names = [dose.active.id for dose in doses]
    twice = next((dose.active.name for dose in doses if names.count(dose.active.id) > 1), None)
    if twice is not None:
        what = f"two products of this side hold {twice}; compare products that share no active"
        raise InputError([FieldFault(path, what)])
    if len(doses) > MAX_PARTS:
        what = f"hold {len(doses)} actives together; a tank of at most {MAX_PARTS} can be compared"
        raise InputError([FieldFault(path, what)])
    if len(told) > 1 and any(spread_dry(dose) for dose in doses):
        raise InputError([FieldFault(path, "a granule goes into no tank; compare it by itself")])
    return tuple(doses)


def _rate(item: SideProduct, product: Product, understood: Understood, path: str) -> Quantity:
    if item.rate is not None:
        return item.rate.quantity
    if item.at is None:
        assert product.rate is not None, "checked when the side was read"
        return product.rate.quantity
    rate = rate_on_label(product, understood, item.at)
    if rate is None:
        what = "the label gives rates for spot treatment alone; give a rate per area"
        raise InputError([FieldFault(f"{path}.at", what)])
    return rate


def _figures(
    base: KnowledgeBase, understood: Understood, request: SideBySideRequest, number: int, tank: _Tank
) -> ComparedSide:
    sprays = tank.sprays
    control, injury = judged(base, understood, sprays, timing_of(base, sprays, request.days_after))
    findings = (*findings_of(base, understood, sprays, injury), *tank.found)
    asked = request.sides[number]
    first = applications_of(sprays, understood, base)[0]
    adjuvant = first.adjuvant
    if adjuvant is not None and asked.adjuvant is not None and asked.adjuvant.rate is not None:
        adjuvant = adjuvant.model_copy(update={"rate": amount(asked.adjuvant.rate.quantity)})
    doses = sprays[0].doses
    return ComparedSide(
        number=number + 1,
        name=asked.name or program_name(sprays, base),
        label=asked.name or " + ".join(product_names(doses)),
        composition=_composition(sprays[0].doses),
        adjuvant=adjuvant,
        passes=len(sprays),
        interval_days=sprays[1].day if len(sprays) > 1 else None,
        actives=tuple(dose.active.id for dose in doses),
        groups=groups_of(sprays),
        control=control,
        turf_injury=injury,
        stops=stops_said(base, findings),
        cautions=cautions_said(base, findings),
        cost=cost_of(base, understood, tanks_of(understood, sprays)),
        **properties_of(base, understood, doses, request.sides[number].mixture),
    )


def _composition(doses: Sequence[Dose]) -> tuple[ProductCompared, ...]:
    """The products of a side with their actives; generic actives stand together without one."""
    groups: dict[str | None, list[Dose]] = {}
    for dose in doses:
        groups.setdefault(dose.product.product.name if dose.product is not None else None, []).append(dose)
    shown = []
    for name, part in groups.items():
        use = part[0].product
        product = ProductCompared(
            product=name,
            id=use.product.id if use is not None else None,
            formulation=use.product.formulation if use is not None else None,
            rate=amount(use.rate) if use is not None else None,
            actives=tuple(_active(dose) for dose in part),
        )
        shown.append(product)
    return tuple(shown)


def _active(dose: Dose) -> ActiveCompared:
    content = None
    if dose.product is not None:
        part = next(p for p in dose.product.product.actives if p.active == dose.active.id)
        content = amount(part.content.quantity)
    return ActiveCompared(
        active=dose.active.id,
        name=dose.active.name,
        form=dose.form.id,
        form_name=dose.form.name,
        group=dose.active.mechanism.group,
        rate=amount(dose.rate, f"lb {dose.active.rate_basis}/acre"),
        content=content,
        mechanism=dose.active.mechanism.name,
        family=dose.active.mechanism.family,
        movement=dose.active.movement,
    )


def _labelled(sides: Sequence[ComparedSide]) -> tuple[ComparedSide, ...]:
    """Each side with what the sentences call it: its name where all have short ones that differ, else a letter."""
    labels = [side.label for side in sides]
    if all(labels) and len(set(labels)) == len(labels) and max(map(len, labels)) <= _LONGEST_LABEL:
        return tuple(sides)
    return tuple(s.model_copy(update={"label": letter}) for s, letter in zip(sides, _LETTERS, strict=False))


def overlap_of(first: ComparedSide, second: ComparedSide, target: int) -> Overlap:
    """How the 80 % bands of two sides lie on one weed."""
    one, other = first.control[target], second.control[target]
    mine, theirs, standing = band_of(one), band_of(other), standing_of(one, other)
    overlap, difference = None, None
    if mine is not None and theirs is not None:
        overlap = mine[0] <= theirs[2] and theirs[0] <= mine[2]
        difference = round(mine[1] - theirs[1], 1)
    more, less = (first, second) if (difference or 0) > 0 else (second, first)
    stopped = listed(side.label for side in (first, second) if side.stops)
    missing = listed(side.label for side, band in ((first, mine), (second, theirs)) if band is None)
    said = {
        "apart": f"{more.label} lies clearly above {less.label}; the bands do not overlap",
        "likely": f"{more.label} likely lies above {less.label}, though the bands overlap",
        "equal": "no clear difference; bands overlap, treat as equal",
        "unknown": f"no figure for {missing}, so they cannot be compared",
    }
    text = f"{stopped} may not be used here" if stopped else said[standing]
    return Overlap(
        weed=one.weed,
        first=first.number,
        second=second.number,
        overlap=overlap,
        difference=difference,
        standing=standing,
        text=f"{first.label} and {second.label}: {text}.",
    )


def _used(sides: Iterable[ComparedSide]) -> Iterator[str]:
    """Every source that the sides cite."""
    for side in sides:
        for group in (side.control, side.turf_injury, side.stops, side.cautions, side.temperature):
            yield from (source for item in group for source in item.sources)
        for rules in (side.adjuvant_rules, side.seedlings, side.sites_barred):
            yield from (source for item in rules for source in item.sources)
        for limit in (side.carrier_floor, side.rainfast, side.seeding_wait):
            yield from limit.sources
        for risk in (side.soil_movement, side.tree_root_risk, side.vapour):
            yield from risk.sources
        yield from side.symptoms.sources
        yield from (source for shown in side.control for part in shown.parts for source in part.sources)


__all__ = ["overlap_of", "side_by_side"]
