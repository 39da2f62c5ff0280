"""Limits and properties of one side, each the strictest of its parts and with whose it is.

What is not recorded of a part is named as unknown; it never counts as favourable.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from app.engine.citations import source_ids
from app.engine.describe import amount
from app.engine.doses import Dose, ProductUse
from app.engine.offers import spread_dry
from app.engine.output import Amount
from app.engine.rules.turf import seeding_wait, young_stand
from app.engine.sides import (
    AdjuvantRuleSaid,
    Risk,
    SitesBarred,
    Speed,
    StatedBy,
    Strictest,
    TemperatureLimit,
    YoungStand,
)
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase, applies_to_turf, tolerance_for
from knowledge.models import Citation, SeedlingWindow
from knowledge.quantities import Quantity

LEVELS = ("none", "low", "moderate", "high")


@dataclass(frozen=True)
class _Stated:
    """One figure that a part states."""

    size: float
    shown: Amount
    of: str
    by: StatedBy
    text: str = ""
    sources: tuple[Citation, ...] = ()


def properties_of(
    base: KnowledgeBase, understood: Understood, doses: Sequence[Dose], mixture: str | None = None
) -> dict[str, Any]:
    """The limits and properties of a side, by the fields of `ComparedSide`."""
    uses = _uses(doses)
    return {
        "temperature": tuple(sorted(_temperature(understood, doses, uses), key=lambda t: (t.bound, t.degrees_f))),
        "adjuvant_rules": tuple(_adjuvant_rules(base, understood, doses, uses)),
        "carrier_floor": _carrier_floor(base, doses, uses),
        "rainfast": _rainfast(doses, uses),
        "seeding_wait": _seeding_wait(understood, doses, uses),
        "seedlings": tuple(_seedlings(understood, doses)),
        "symptoms": _symptoms(doses),
        "soil_movement": _soil(doses, "mobility"),
        "tree_root_risk": _soil(doses, "tree_root_risk"),
        "vapour": _highest(((d.form.volatility, f"{d.active.name} {d.form.name}", d.form.sources) for d in doses), ()),
        "sites_barred": tuple(_sites_barred(base, doses, uses, mixture)),
    }


def _uses(doses: Sequence[Dose]) -> tuple[ProductUse, ...]:
    return tuple({d.product.product.name: d.product for d in doses if d.product is not None}.values())


def _temperature(
    understood: Understood, doses: Sequence[Dose], uses: Sequence[ProductUse]
) -> Iterator[TemperatureLimit]:
    for dose in doses:
        name = dose.active.name
        if dose.form.max_air_f is not None:
            text = f"vapour of the {dose.form.name}"
            yield _ceiling(dose.form.max_air_f, "stop", name, "form", text, dose.form.sources)
        for turf in understood.turf:
            for item in dose.active.air_temperature:
                if applies_to_turf(item.turf, turf) >= 0:
                    yield from _range(item.min_f, item.max_f, item.outcome, name, "active", item.text, item.sources)
            record = tolerance_for(turf, dose.active.id, understood.situation.site_use)
            if record is not None:
                text = f"{turf.name} takes it only within this"
                yield from _range(record.min_air_f, record.max_air_f, "stop", name, "turf", text, record.sources)
    for use in uses:
        if use.product.max_air_f is not None:
            yield _ceiling(use.product.max_air_f, "stop", use.product.name, "label", "as its label says", ())


def _ceiling(
    degrees: float, outcome: Any, of: str, by: StatedBy, text: str, sources: Iterable[Citation]
) -> TemperatureLimit:
    cites = source_ids(sources)
    return TemperatureLimit(bound="max", degrees_f=degrees, outcome=outcome, of=of, by=by, text=text, sources=cites)


def _range(
    low: float | None,
    high: float | None,
    outcome: Any,
    of: str,
    by: StatedBy,
    text: str,
    sources: Iterable[Citation],
) -> Iterator[TemperatureLimit]:
    if high is not None:
        yield _ceiling(high, outcome, of, by, text, sources)
    if low is not None:
        yield _ceiling(low, outcome, of, by, text, sources).model_copy(update={"bound": "min"})


def _adjuvant_rules(
    base: KnowledgeBase, understood: Understood, doses: Sequence[Dose], uses: Sequence[ProductUse]
) -> Iterator[AdjuvantRuleSaid]:
    def said(adjuvant: str, use: Any, of: str, by: StatedBy, text: str, sources: Iterable[Citation]) -> Any:
        name, cites = base.adjuvants[adjuvant].name, source_ids(sources)
        return AdjuvantRuleSaid(adjuvant=adjuvant, name=name, use=use, of=of, by=by, text=text, sources=cites)

    for dose in doses:
        if spread_dry(dose):
            continue
        for rule in dose.active.adjuvants:
            if rule.use != "allowed":
                yield said(rule.id, rule.use, dose.active.name, "active", rule.text, rule.sources)
        for turf in understood.turf:
            record = tolerance_for(turf, dose.active.id, understood.situation.site_use)
            for key in record.adjuvants_barred if record is not None else ():
                text = f"{turf.name} is injured by it"
                yield said(key, "forbidden", dose.active.name, "turf", text, record.sources if record else ())
    for use in uses:
        for item in use.product.adjuvants:
            if item.use != "allowed":
                yield said(item.id, item.use, use.product.name, "label", "as its label says", ())


def _strictest(found: Sequence[_Stated], unknown: Iterable[str], nothing: str) -> Strictest:
    """The largest of the figures, and whose it is."""
    unknown_of = tuple(dict.fromkeys(unknown))
    if not found:
        return Strictest(amount=None, of=(), by=None, unknown_of=unknown_of, text=nothing, sources=())
    most = max(found, key=lambda item: item.size)
    equal = [item for item in found if item.size == most.size]
    return Strictest(
        amount=most.shown,
        of=tuple(dict.fromkeys(item.of for item in equal)),
        by=most.by,
        unknown_of=unknown_of,
        text=most.text,
        sources=source_ids(c for item in equal for c in item.sources),
    )


def _carrier_floor(base: KnowledgeBase, doses: Sequence[Dose], uses: Sequence[ProductUse]) -> Strictest:
    found: list[_Stated] = []
    wet = [dose for dose in doses if not spread_dry(dose)]
    if not wet:
        return _strictest((), (), "spread dry, without water")
    for dose in wet:
        own, usual = dose.active.carrier_floor, base.parameters["carrier-floor-usual"]
        floor = own.value if own is not None else Quantity(usual.value, usual.unit)
        by: StatedBy = "active" if own is not None else "usual"
        sources = own.sources if own is not None else usual.sources
        found.append(_Stated(floor.base, amount(floor), dose.active.name, by, "", sources))
    for use in uses:
        if use.product.carrier_floor is not None:
            floor = use.product.carrier_floor.quantity
            found.append(_Stated(floor.base, amount(floor), use.product.name, "label"))
    return _strictest(found, (), "")


def _rainfast(doses: Sequence[Dose], uses: Sequence[ProductUse]) -> Strictest:
    leaf = [dose for dose in doses if dose.active.movement != "barrier" and not spread_dry(dose)]
    found = [
        _Stated(
            dose.active.rainfast_hours.value,
            Amount(value=dose.active.rainfast_hours.value, unit="h"),
            dose.active.name,
            "active",
            "",
            dose.active.rainfast_hours.sources,
        )
        for dose in leaf
        if dose.active.rainfast_hours is not None
    ]
    told = [(use, use.product.rainfast_hours) for use in uses if not use.product.granular]
    found += [_Stated(hours, Amount(value=hours, unit="h"), use.product.name, "label") for use, hours in told if hours]
    missing = [dose.active.name for dose in leaf if dose.active.rainfast_hours is None]
    return _strictest(found, missing, "not recorded" if missing else "acts in the soil; rain carries it in")


def _seeding_wait(understood: Understood, doses: Sequence[Dose], uses: Sequence[ProductUse]) -> Strictest:
    found, missing = list[_Stated](), list[str]()
    for dose in doses:
        for turf in understood.turf:
            record = seeding_wait(dose.active, turf)
            if record is None or record.days is None:
                missing.append(dose.active.name)
            else:
                shown = Amount(value=record.days, unit="days")
                found.append(_Stated(record.days, shown, dose.active.name, "active", record.text, record.sources))
    for use in uses:
        days = use.product.seeding_interval_days
        if days is not None:
            found.append(_Stated(days, Amount(value=days, unit="days"), use.product.name, "label"))
    return _strictest(found, missing, "not recorded")


def _seedlings(understood: Understood, doses: Sequence[Dose]) -> Iterator[YoungStand]:
    """For each turf the longest wait from emergence that an active asks of a seedling stand."""
    site = understood.situation.site_use
    for turf in understood.turf:
        rows = []
        for dose in doses:
            record = tolerance_for(turf, dose.active.id, site)
            window, text, sources = young_stand(dose.active, turf, record, "seedling")
            rows.append((_age(window), text, dose.active.name, source_ids(sources)))
        latest = max(row[0] for row in rows)
        decide = [row for row in rows if row[0] == latest]
        yield YoungStand(
            turf=turf.id,
            text=decide[0][1],
            of=tuple(row[2] for row in decide),
            sources=tuple(dict.fromkeys(s for row in decide for s in row[3])),
        )


def _age(window: SeedlingWindow | None) -> tuple[bool, bool, int, int]:
    """Order of waits: unknown, never, then by weeks and mowings."""
    if window is None:
        return (True, True, 0, 0)
    return (False, not window.allowed, window.min_weeks or 0, window.min_mowings or 0)


def _symptoms(doses: Sequence[Dose]) -> Speed:
    known = [(dose.active.name, dose.active.symptoms) for dose in doses if dose.active.symptoms is not None]
    missing = tuple(dose.active.name for dose in doses if dose.active.symptoms is None)
    if not known:
        return Speed(first_days=None, first_of=(), full_days=None, full_of=(), unknown_of=missing, sources=())
    first = min(said.first_days for _, said in known)
    full = max((said.full_days for _, said in known), key=lambda days: (days[1], days[0]))
    return Speed(
        first_days=first,
        first_of=tuple(name for name, said in known if said.first_days == first),
        full_days=full,
        full_of=tuple(name for name, said in known if said.full_days == full),
        unknown_of=missing,
        sources=source_ids(c for _, said in known for c in said.sources),
    )


def _soil(doses: Sequence[Dose], field: str) -> Risk:
    known = (
        (getattr(d.active.soil, field), d.active.name, d.active.soil.sources)
        for d in doses
        if d.active.soil is not None
    )
    return _highest(known, tuple(d.active.name for d in doses if d.active.soil is None))


def _highest(known: Iterable[tuple[Any, str, tuple[Citation, ...]]], missing: tuple[str, ...]) -> Risk:
    rows = list(known)
    if not rows:
        return Risk(level=None, of=(), unknown_of=missing, sources=())
    level = max((row[0] for row in rows), key=LEVELS.index)
    decide = [row for row in rows if row[0] == level]
    sources = source_ids(c for row in decide for c in row[2])
    return Risk(level=level, of=tuple(row[1] for row in decide), unknown_of=missing, sources=sources)


def _sites_barred(
    base: KnowledgeBase, doses: Sequence[Dose], uses: Sequence[ProductUse], mixture: str | None
) -> Iterator[SitesBarred]:
    for dose in doses:
        for rule in dose.active.sites_barred:
            cites = source_ids(rule.sources)
            yield SitesBarred(sites=rule.site_uses, of=dose.active.name, by="active", text=rule.text, sources=cites)
    if mixture is not None and base.mixtures[mixture].sites_barred:
        told = base.mixtures[mixture]
        name = " + ".join(dose.active.name for dose in doses)
        cites = source_ids(c for rate in told.rates for c in rate.sources)
        text = "this mixture is not offered for it"
        yield SitesBarred(sites=told.sites_barred, of=name, by="mixture", text=text, sources=cites)
    for use in uses:
        allowed = use.product.site_uses
        if allowed is not None:
            barred = tuple(site for site in base.sites if site not in allowed)
            if barred:
                text = "its label does not name them"
                yield SitesBarred(sites=barred, of=use.product.name, by="label", text=text, sources=())
