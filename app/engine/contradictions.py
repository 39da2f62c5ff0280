"""Where a label as it was typed contradicts the knowledge base, said in one sentence beside the field.

A slip of the pen is the usual reason; where there is none, the stricter of the two binds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.engine.doses import delivered, form_named
from app.engine.errors import InputError
from app.engine.label_faults import faults_of
from app.engine.product import LabelRate, Product
from app.engine.rules.registry import ROUNDING
from knowledge.base import KnowledgeBase, applies_to_turf, rate_for, tolerance_for
from knowledge.models import SITE_USES, Active, Citation, Form, Limit, Tolerance, Turf
from knowledge.quantities import Quantity

_STRICTER = "the stricter binds"


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A field of a product, and what is recorded against what was typed there.

    Attributes
    ----------
    path : str
        The field, with dots, inside the product.
    text : str
        Both figures in one sentence.
    sources : tuple of Citation
        What the recorded figure rests on.
    """

    path: str
    text: str
    sources: tuple[Citation, ...]


@dataclass(frozen=True, slots=True)
class _Part:
    """One active of the product, with what is known of it and of the turf it may be used on."""

    base: KnowledgeBase
    product: Product
    number: int
    active: Active
    form: Form
    turfs: tuple[Turf, ...]

    @property
    def named(self) -> str:
        """The active, with its form where it has several."""
        return self.active.name if len(self.active.forms) == 1 else f"{self.active.name} as {self.form.name}"

    def tolerances(self, turf: Turf) -> tuple[Tolerance, ...]:
        """What is known of a turf at each site that the label allows."""
        sites = self.product.site_uses or SITE_USES
        found = (tolerance_for(turf, self.active.id, site) for site in sites)
        return tuple({id(item): item for item in found if item is not None}.values())

    def sensitive(self, turf: Turf) -> Tolerance | None:
        """The record by which a turf is sensitive wherever the label allows the product, or None."""
        found = self.tolerances(turf)
        return found[0] if found and all(item.tolerance == "S" for item in found) else None

    def limits(self, turf: Turf) -> tuple[Limit, ...]:
        """Ceilings that hold on a turf at every site that the label allows."""
        sites = set(self.product.site_uses or SITE_USES)
        return tuple(
            limit
            for limit in self.active.limits
            if applies_to_turf(limit.turf, turf) >= 0 and (not limit.site_uses or sites <= set(limit.site_uses))
        )

    def amount(self, rate: Quantity) -> Quantity:
        """What a rate of product brings of the active [in its own counting]."""
        told = delivered(self.product, self.number, rate, self.active, self.form)
        assert told is not None, "faults_of has found that it can be counted"
        return told.to(f"lb {self.active.rate_basis}/acre")


def contradictions(base: KnowledgeBase, product: Product) -> tuple[Contradiction, ...]:
    """Everything typed from a label that the knowledge base contradicts, in the order of the product's actives.

    Parameters
    ----------
    base : KnowledgeBase
        The facts.
    product : Product
        The label as it was typed.

    Returns
    -------
    tuple of Contradiction
        Empty where nothing speaks against it, or nothing is recorded.

    Raises
    ------
    InputError
        For what `faults_of` finds.
    """
    if faults := faults_of(base, product):
        raise InputError(faults)
    found: dict[tuple[str, str], Contradiction] = {}
    for number, told in enumerate(product.actives):
        active = base.actives[told.active]
        form = form_named(active, told.form)
        assert form is not None, "faults_of has found the form"
        part = _Part(base, product, number, active, form, _turfs(base, product))
        for question in (_turf, _sites, _rates, _most_at_once, _in_a_year, _water, _air, _adjuvants, _after):
            for item in question(part):
                found.setdefault((item.path, item.text), item)
    return tuple(found.values())


def _turfs(base: KnowledgeBase, product: Product) -> tuple[Turf, ...]:
    """Turf on which the label allows the product, by its list or else by its lines of rates."""
    scope = product.turf if product.turf is not None else tuple(t for line in product.rates for t in line.turf)
    return tuple(turf for turf in base.turf.values() if applies_to_turf(scope, turf) >= 0)


def _names(items: Iterable[str]) -> str:
    told = list(dict.fromkeys(items))
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def _turf(part: _Part) -> Iterator[Contradiction]:
    """Turf allowed that the facts call sensitive."""
    barred = [(turf, record) for turf in part.turfs if (record := part.sensitive(turf)) is not None]
    if not barred:
        return
    names = _names(turf.name for turf, _ in barred)
    field = "turf"
    if part.product.turf is None:
        field = next(
            f"rates.{row}.turf"
            for row, line in enumerate(part.product.rates)
            if any(applies_to_turf(line.turf, turf) >= 0 for turf, _ in barred)
        )
    text = f"you typed {names} as turf allowed; recorded as sensitive to {part.active.name}; it stays turned down there"
    yield Contradiction(field, text, _sources(record.sources for _, record in barred))


def _sites(part: _Part) -> Iterator[Contradiction]:
    """Sites allowed that the facts bar."""
    for record in part.active.sites_barred:
        barred = [site for site in part.product.site_uses or () if site in record.site_uses]
        if barred:
            names = _names(part.base.sites[site].name for site in barred)
            why = record.text.rstrip(".")
            text = (
                f"you typed {names} as site allowed; recorded for {part.active.name}: {why}; it stays turned down there"
            )
            yield Contradiction("site_uses", text, record.sources)


@dataclass(frozen=True, slots=True)
class _Ceiling:
    """The lowest ceiling for one application on a turf."""

    most: Quantity
    words: str
    sources: tuple[Citation, ...]


def _ceiling(part: _Part, turf: Turf, timings: Iterable[str]) -> _Ceiling | None:
    found = [
        _Ceiling(limit.single_max, "single maximum", limit.sources)
        for limit in part.limits(turf)
        if limit.single_max is not None
    ]
    usual = [rate for timing in timings if (rate := rate_for(part.active, turf, timing)) is not None]
    if usual:
        most = max(usual, key=lambda rate: rate.high.base)
        found.append(_Ceiling(most.high, "highest usual rate", most.sources))
    for record in part.tolerances(turf)[:1]:
        if record.max_rate is not None:
            found.append(_Ceiling(record.max_rate, "most that this turf takes", record.sources))
    return min(found, key=lambda item: item.most.base, default=None)


def _rates(part: _Part) -> Iterator[Contradiction]:
    """Label rates that bring an active above what is recorded on the turf of their line."""
    inline = LabelRate(low=part.product.rate, high=part.product.rate) if _by_area(part.product) else None
    lines = [(f"rates.{row}.high", line) for row, line in enumerate(part.product.rates) if line.purpose != "spot"]
    for path, line in lines if inline is None else [("rate", inline)]:
        amount = part.amount(line.high.quantity)
        over: dict[tuple[float, str], list[tuple[Turf, _Ceiling]]] = {}
        for turf in part.turfs or tuple(part.base.turf.values()):
            ceiling = _ceiling(part, turf, (line.purpose,)) if _speaks(part.product, line, turf) else None
            if ceiling is not None and part.sensitive(turf) is None and amount.base > ceiling.most.base * ROUNDING:
                over.setdefault((ceiling.most.base, ceiling.words), []).append((turf, ceiling))
        if over:
            told = "; ".join(
                f"not above {pairs[0][1].most} ({words}) on {_names(turf.name for turf, _ in pairs)}"
                for (_, words), pairs in sorted(over.items())
            )
            brings = f"which brings {amount.value:.3g} {amount.unit} of {part.active.name}"
            text = f"you typed {line.high.quantity}, {brings}; recorded: {told}; {_STRICTER}"
            yield Contradiction(path, text, _sources(c.sources for pairs in over.values() for _, c in pairs))


def _by_area(product: Product) -> bool:
    return product.rate is not None and product.rate.quantity.dimension in ("volume-rate", "mass-rate")


def _speaks(product: Product, line: LabelRate, turf: Turf) -> bool:
    """Whether this line, and no more specific one of its purpose, is the line for a turf."""
    rank = applies_to_turf(line.turf, turf)
    others = (applies_to_turf(item.turf, turf) for item in product.rates if item.purpose == line.purpose)
    return rank >= 0 and rank >= max(others, default=rank)


def _most_at_once(part: _Part) -> Iterator[Contradiction]:
    """A maximum for one application above the highest that is recorded on any turf allowed."""
    told = part.product.max_per_application
    ceilings = [_ceiling(part, turf, part.active.timing) for turf in part.turfs if part.sensitive(turf) is None]
    if told is None or not ceilings or None in ceilings:
        return
    most = max((item for item in ceilings if item is not None), key=lambda item: item.most.base)
    amount = part.amount(told.quantity)
    if amount.base > most.most.base * ROUNDING:
        brings = f"which brings {amount.value:.3g} {amount.unit} of {part.active.name}"
        text = f"you typed {told.quantity}, {brings}; recorded: {most.words} {most.most}; {_STRICTER}"
        yield Contradiction("max_per_application", text, most.sources)


def _in_a_year(part: _Part) -> Iterator[Contradiction]:
    """Yearly maximum, number and interval looser than the loosest that is recorded on any turf allowed."""
    product = part.product
    turfs = [turf for turf in part.turfs if part.sensitive(turf) is None]
    totals = [_tightest(part, turf, "annual_max") for turf in turfs]
    if product.max_per_year is not None and totals and None not in totals:
        most, sources = max((item for item in totals if item is not None), key=lambda item: item[0])
        amount, unit = part.amount(product.max_per_year.quantity), f"lb {part.active.rate_basis}/acre"
        if amount.base > most * ROUNDING:
            brings = f"which brings {amount.value:.3g} {amount.unit} of {part.active.name}"
            recorded = f"{most / Quantity(1.0, unit).base:.3g} {unit}"
            text = f"you typed {product.max_per_year.quantity} a year, {brings}; recorded: not above {recorded} a year"
            yield Contradiction("max_per_year", f"{text}; {_STRICTER}", sources)
    counts = [_tightest(part, turf, "max_applications") for turf in turfs]
    told = product.max_applications_per_year
    if told is not None and counts and None not in counts:
        most, sources = max((item for item in counts if item is not None), key=lambda item: item[0])
        if told > most:
            text = f"you typed {told} applications a year; recorded for {part.active.name}: {most:g}; {_STRICTER}"
            yield Contradiction("max_applications_per_year", text, sources)
    waits = [_tightest(part, turf, "min_interval_days") for turf in turfs]
    if product.min_interval_days is not None and waits and None not in waits:
        least, sources = min((item for item in waits if item is not None), key=lambda item: item[0])
        if product.min_interval_days < least:
            typed = f"you typed {product.min_interval_days} days between applications"
            text = f"{typed}; recorded for {part.active.name}: {least:g} days; {_STRICTER}"
            yield Contradiction("min_interval_days", text, sources)


def _tightest(part: _Part, turf: Turf, field: str) -> tuple[float, tuple[Citation, ...]] | None:
    """The tightest record of a yearly limit on a turf: total [g/ha], number, or days; None where none is known."""
    found: list[tuple[float, tuple[Citation, ...]]] = []
    records: tuple[Limit | Tolerance, ...] = (*part.limits(turf), *part.tolerances(turf)[:1])
    for record in records:
        value = getattr(record, field, None)
        if value is not None:
            found.append((value.base if isinstance(value, Quantity) else float(value), record.sources))
    pick = max if field == "min_interval_days" else min
    return pick(found, key=lambda item: item[0]) if found else None


def _water(part: _Part) -> Iterator[Contradiction]:
    """A carrier floor below the recorded one."""
    told, recorded = part.product.carrier_floor, part.active.carrier_floor
    if told is None or recorded is None or told.quantity.base * ROUNDING >= recorded.value.base:
        return
    least = f"{recorded.value.to(told.unit).value:.3g} {told.unit}"
    text = f"you typed {told.quantity}; recorded for {part.active.name}: not below {least}; {_STRICTER}"
    yield Contradiction("carrier_floor", text, recorded.sources)


def _air(part: _Part) -> Iterator[Contradiction]:
    """A temperature ceiling above that of the form or of a turf allowed."""
    told = part.product.max_air_f
    if told is None:
        return
    if part.form.max_air_f is not None and told > part.form.max_air_f:
        recorded = f"recorded for the {part.form.name} of {part.active.name}: not above {part.form.max_air_f:g} F"
        yield Contradiction("max_air_f", f"you typed {told:g} F; {recorded}; {_STRICTER}", part.form.sources)
        return
    over: dict[float, list[tuple[str, tuple[Citation, ...]]]] = {}
    for turf in part.turfs:
        rules = [r for r in part.active.air_temperature if r.outcome == "stop" and applies_to_turf(r.turf, turf) >= 0]
        known = [(r.max_f, r.sources) for r in rules if r.max_f is not None]
        known += [(r.max_air_f, r.sources) for r in part.tolerances(turf)[:1] if r.max_air_f is not None]
        if known and part.sensitive(turf) is None:
            most, sources = min(known, key=lambda item: item[0])
            if told > most:
                over.setdefault(most, []).append((turf.name, sources))
    if over:
        words = "; ".join(
            f"not above {most:g} F on {_names(name for name, _ in items)}" for most, items in sorted(over.items())
        )
        text = f"you typed {told:g} F; recorded for {part.active.name}: {words}; {_STRICTER}"
        yield Contradiction("max_air_f", text, _sources(s for items in over.values() for _, s in items))


def _adjuvants(part: _Part) -> Iterator[Contradiction]:
    """An adjuvant allowed or required that the facts forbid, or forbidden that they require."""
    rules = {record.id: record for record in part.active.adjuvants}
    for row, told in enumerate(part.product.adjuvants):
        path, name = f"adjuvants.{row}", part.base.adjuvants[told.id].name
        rule = rules.get(told.id)
        if told.use == "forbidden":
            if rule is not None and rule.use == "required":
                text = (
                    f"you typed {name} as forbidden; recorded: {part.active.name} needs it; both bind, so none is left"
                )
                yield Contradiction(path, text, rule.sources)
            continue
        if rule is not None and rule.use == "forbidden":
            text = f"you typed {name} as {told.use}; recorded for {part.active.name}: forbidden; {_STRICTER}"
            yield Contradiction(path, text, rule.sources)
            continue
        hurt = [(t, r) for t in part.turfs for r in part.tolerances(t)[:1] if told.id in r.adjuvants_barred]
        if hurt:
            where = _names(turf.name for turf, _ in hurt)
            text = f"you typed {name} as {told.use}; recorded: with {part.active.name} it injures {where}; {_STRICTER}"
            yield Contradiction(path, text, _sources(record.sources for _, record in hurt))


def _after(part: _Part) -> Iterator[Contradiction]:
    """Hours until rain and days until seeding shorter than recorded."""
    product, fact = part.product, part.active.rainfast_hours
    leaf = not product.granular and any(line.purpose != "preemergence" for line in product.rates)
    if leaf and product.rainfast_hours is not None and fact is not None and product.rainfast_hours < fact.value:
        typed, recorded = f"{product.rainfast_hours:g} hours until rain", f"{fact.value:g} hours"
        text = f"you typed {typed}; recorded for {part.active.name}: {recorded}; {_STRICTER}"
        yield Contradiction("rainfast_hours", text, fact.sources)
    told = product.seeding_interval_days
    if told is None:
        return
    over: dict[int, list[tuple[str, tuple[Citation, ...]]]] = {}
    for turf in part.turfs:
        fit = [(applies_to_turf(r.turf, turf), r) for r in part.active.seeding_interval]
        known = [pair for pair in fit if pair[0] >= 0]
        record = max(known, key=lambda pair: pair[0])[1] if known else None
        if record is not None and record.days is not None and told < record.days:
            over.setdefault(record.days, []).append((turf.name, record.sources))
    if over:
        words = "; ".join(
            f"{days} days for {_names(name for name, _ in items)}" for days, items in sorted(over.items())
        )
        text = f"you typed {told} days until seeding; recorded for {part.active.name}: {words}; {_STRICTER}"
        yield Contradiction("seeding_interval_days", text, _sources(s for items in over.values() for _, s in items))


def _sources(groups: Iterable[tuple[Citation, ...]]) -> tuple[Citation, ...]:
    return tuple(dict.fromkeys(citation for group in groups for citation in group))
