"""A program in words and figures: built only for what is shown."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from app.engine.catalog import NO_DOSE, mechanism_number
from app.engine.citations import source_ids
from app.engine.control import expit
from app.engine.cost import adjuvant_products
from app.engine.doses import Dose
from app.engine.offers import product_names, spread_dry
from app.engine.output import (
    ActiveInProduct,
    AdjuvantInTank,
    Amount,
    Application,
    Control,
    ControlPart,
    Derived,
    ProductInTank,
    SituationUnderstood,
    TargetUnderstood,
    TurfInjury,
)
from app.engine.record_shifts import Moment
from app.engine.responses import Cell
from app.engine.screening import Screened
from app.engine.tables import moments
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget
from knowledge.base import KnowledgeBase, tolerance_for
from knowledge.quantities import Quantity

_BASES = ("published", "house", "memory", "common-practice")
_CLASS_WORDS = {
    "T": "tolerant",
    "I": "takes it only under its condition",
    "S": "sensitive",
    "unknown": "nothing recorded",
}


@dataclass(frozen=True)
class Spray:
    """One application as the engine sees it: its day, doses and adjuvant."""

    day: int
    doses: tuple[Dose, ...]
    adjuvant: str


def amount(quantity: Quantity, unit: str | None = None) -> Amount:
    """A quantity as it is shown, at four significant digits."""
    shown = quantity.to(unit) if unit is not None else quantity
    return Amount(value=float(f"{shown.value:.4g}"), unit=shown.unit)


def amount_within(quantity: Quantity, unit: str) -> Amount:
    """A rate as it is shown, at four significant digits and never above itself: it may be held against a ceiling."""
    value = quantity.to(unit).value
    shown = float(f"{value:.4g}")
    if shown > value * (1 + 1e-9):
        step = 10.0 ** (math.floor(math.log10(value)) - 3)
        shown = float(f"{shown - step:.4g}")
    return Amount(value=shown, unit=unit)


def sprays_of(screened: Screened, place: int) -> tuple[Spray, ...]:
    """The applications of the program at a place of a screened situation."""
    programs, doses = screened.programs, screened.catalog.doses
    first = tuple(doses[d] for d in programs.first[place] if d != NO_DOSE)
    names = screened.tables.adjuvants
    sprays = [Spray(0, first, names[programs.first_adjuvant[place]])]
    second = tuple(doses[d] for d in programs.second[place] if d != NO_DOSE)
    if second:
        sprays.append(Spray(screened.interval_of(place), second, names[programs.second_adjuvant[place]]))
    return tuple(sprays)


def program_id(sprays: Sequence[Spray]) -> str:
    """Stable hash of what a program is made of."""
    made = [[s.day, s.adjuvant, sorted(map(_made_of, s.doses)), *product_names(s.doses)] for s in sprays]
    return hashlib.sha256(json.dumps(made).encode()).hexdigest()[:12]


def _made_of(dose: Dose) -> list[str | float]:
    return [dose.active.id, dose.form.id, round(dose.rate.base, 4)]


def program_name(sprays: Sequence[Spray], base: KnowledgeBase) -> str:
    """A program in a few words, for example ``triclopyr + 2,4-D, twice, 28 days apart``."""
    tanks = [_tank_name(spray, base) for spray in sprays]
    if len(sprays) == 1:
        return tanks[0]
    gap = sprays[1].day - sprays[0].day
    if tanks[0] == tanks[1]:
        return f"{tanks[0]}, twice, {gap} days apart"
    return f"{tanks[0]}, then {tanks[1]} {gap} days later"


def _tank_name(spray: Spray, base: KnowledgeBase) -> str:
    names = " + ".join(product_names(spray.doses) or (dose.active.name for dose in spray.doses))
    return f"{names} with {base.adjuvants[spray.adjuvant].name}" if spray.adjuvant != "none" else names


def applications_of(sprays: Sequence[Spray], understood: Understood, base: KnowledgeBase) -> tuple[Application, ...]:
    """The applications as they are shown, with dates."""
    carrier = understood.situation.carrier
    shown = []
    for spray in sprays:
        adjuvant = None
        if spray.adjuvant != "none":
            fact = base.adjuvants[spray.adjuvant]
            held = next(iter(adjuvant_products(understood, spray.adjuvant)), None)
            told = held.adjuvant_rate.quantity if held is not None and held.adjuvant_rate is not None else fact.rate
            rate = amount(told) if told is not None else None
            product = held.name if held is not None else None
            adjuvant = AdjuvantInTank(id=fact.id, name=fact.name, rate=rate, product=product)
        dry = all(spread_dry(dose) for dose in spray.doses)
        application = Application(
            day=spray.day,
            date=understood.situation.date + timedelta(days=spray.day),
            products=_in_tank(spray.doses),
            adjuvant=adjuvant,
            carrier=Amount(value=carrier.value, unit=carrier.unit) if carrier is not None and not dry else None,
        )
        shown.append(application)
    return tuple(shown)


def _in_tank(doses: Sequence[Dose]) -> tuple[ProductInTank, ...]:
    """The products of a tank; a generic active stands by itself."""
    shown: dict[str, ProductInTank] = {}
    for dose in doses:
        active = ActiveInProduct(
            active=dose.active.id,
            name=dose.active.name,
            form=dose.form.id,
            form_name=dose.form.name,
            group=dose.active.mechanism.group,
            rate=amount_within(dose.rate, f"lb {dose.active.rate_basis}/acre"),
        )
        use = dose.product
        name, rate = (use.product.name, use.rate) if use is not None else (None, None)
        key = use.product.id if use is not None else None
        before = shown[name].actives if name is not None and name in shown else ()
        shown_rate = amount(rate) if rate is not None else None
        item = ProductInTank(product=name, id=key, actives=(*before, active), rate=shown_rate)
        shown[name if name is not None else dose.active.id] = item
    return tuple(shown.values())


def groups_of(sprays: Sequence[Spray]) -> tuple[int, ...]:
    """Mechanism groups of a program, rising."""
    return tuple(sorted({int(dose.active.mechanism.group) for spray in sprays for dose in spray.doses}))


def distinct_mechanisms(sprays: Sequence[Spray]) -> int:
    """How many mechanisms a program brings."""
    return len({mechanism_number(dose) for spray in sprays for dose in spray.doses})


def single_cell(screened: Screened, dose: Dose, target: UnderstoodTarget, stage: str, adjuvant: str) -> Cell:
    """What a dose does by itself at the usual time of judging."""
    column = next(c for c in screened.tables.columns if c.target.index == target.index and c.stage == stage)
    asked = moments(column, screened.understood, screened.base, screened.timing)
    cell = screened.facts.cell(dose, target, asked["single"], adjuvant)
    if cell.response is None and "escape" in asked:
        return screened.facts.cell(dose, target, asked["escape"], adjuvant)
    return cell


def control_of(screened: Screened, place: int, sprays: Sequence[Spray]) -> tuple[Control, ...]:
    """Expected control of each target by the program at a place."""
    shown = []
    for t, target in enumerate(screened.understood.targets):
        stage = screened.tables.columns[int(screened.columns[place, t])].stage
        figures = tuple(float(getattr(screened.band, name)[place, t]) for name in ("low", "likely", "high"))
        cells = _cells(screened, sprays, target, stage)
        shown.append(control_shown(target, stage, figures, round(screened.timing.days_for(stage)), cells))
    return tuple(shown)


def _cells(
    screened: Screened, sprays: Sequence[Spray], target: UnderstoodTarget, stage: str
) -> list[tuple[Dose, Cell]]:
    found: dict[str, tuple[Dose, Cell]] = {}
    for spray in sprays:
        for dose in spray.doses:
            if dose.active.id not in found:
                found[dose.active.id] = (dose, single_cell(screened, dose, target, stage, spray.adjuvant))
    return list(found.values())


def control_shown(
    target: UnderstoodTarget,
    stage: str,
    figures: tuple[float, ...] | None,
    days: int,
    cells: Sequence[tuple[Dose, Cell]],
) -> Control:
    """The control of one weed as it is shown; no figures where nothing is known of any active."""
    known = [(dose, cell) for dose, cell in cells if cell.response is not None]
    parts = tuple(_part(dose, cell, target, stage) for dose, cell in cells)
    if figures is None or not known:
        missing = ", ".join(dose.active.name for dose, _ in cells)
        resisted = any(cell.resisted for _, cell in cells)
        why = "this population is told to resist it" if resisted else f"no figure is recorded at {words(stage)}"
        return Control(
            weed=target.weed.id,
            name=target.weed.name,
            stage=stage,
            low=None,
            likely=None,
            high=None,
            days_after=days,
            basis=None,
            parts=parts,
            sources=(),
            text=f"Nothing can be said of {missing} on {target.weed.name}: {why}.",
        )
    low, likely, high = (round(value, 1) for value in figures)
    bases = {cell.response.basis for _, cell in known if cell.response is not None}
    # The lead speaks for the whole: the basis is that of the strongest part.
    lead = max(known, key=lambda pair: pair[1].mean)[1].response
    assert lead is not None
    basis = lead.basis if lead.basis in bases else next(b for b in _BASES if b in bases)
    return Control(
        weed=target.weed.id,
        name=target.weed.name,
        stage=stage,
        low=low,
        likely=likely,
        high=high,
        days_after=days,
        basis=basis,
        parts=parts,
        sources=source_ids(c for _, cell in known for c in cell.sources),
        text=f"{target.weed.name} at {words(stage)}: {low:.0f} to {high:.0f} % control, likely {likely:.0f} %, "
        f"{days} days after the last application.",
    )


def _part(dose: Dose, cell: Cell, target: UnderstoodTarget, stage: str) -> ControlPart:
    likely = round(100 * float(expit(cell.mean)), 1) if cell.response is not None else None
    if cell.resisted:
        likely, text = 0.0, f"{dose.active.name} counts for nothing: this population is told to resist it"
    elif likely is None:
        text = f"no figure is recorded for {dose.active.name} on {target.weed.name} at {words(stage)}"
    else:
        shifts = "; ".join(f"{shift.text} {shift.size:+.2f}" for shift in cell.shifts)
        text = f"{dose.active.name} alone, one application: {likely:.0f} %" + (
            f" (log-odds: {shifts})" if shifts else ""
        )
    return ControlPart(
        active=dose.active.id,
        name=dose.active.name,
        likely=likely,
        basis=cell.response.basis if cell.response is not None else None,
        sources=source_ids(cell.sources),
        text=text,
    )


def words(stage: str) -> str:
    """A stage as people say it."""
    said = {
        "not-emerged": "not yet emerged",
        "1-3-leaf": "1 to 3 leaves",
        "4-5-leaf": "4 to 5 leaves",
        "1-3-tiller": "1 to 3 tillers",
        "multi-tiller": "4 or more tillers",
        "2-4-leaf": "2 to 4 leaves",
        "5-8-leaf": "5 to 8 leaves",
        "seed-set": "seed set",
        "overwintering": "its overwintering stage",
    }
    return said.get(stage, stage)


def injury_of(understood: Understood, sprays: Sequence[Spray], likely: Sequence[float]) -> tuple[TurfInjury, ...]:
    """Expected injury of each turf; the class is that of the least tolerated active."""
    shown = []
    rank = "TI"
    for turf, percent in zip(understood.turf, likely, strict=True):
        records = {
            dose.active.id: (dose, tolerance_for(turf, dose.active.id, understood.situation.site_use))
            for spray in sprays
            for dose in spray.doses
        }
        classes = {key: (record.tolerance if record is not None else "unknown") for key, (_, record) in records.items()}
        worst = max(classes, key=lambda key: (classes[key] == "S", classes[key] == "unknown", rank.find(classes[key])))
        dose, record = records[worst]
        condition = f" ({record.condition})" if record is not None and record.condition else ""
        unknown = classes[worst] == "unknown"
        text = f"{turf.name}: {_CLASS_WORDS[classes[worst]]} of {dose.active.name}{condition}"
        if classes[worst] in ("T", "I"):
            text = f"{turf.name}: {_CLASS_WORDS[classes[worst]]}, {dose.active.name} deciding{condition}"
        shown.append(
            TurfInjury(
                turf=turf.id,
                name=turf.name,
                tolerance=classes[worst],
                likely_pct=None if unknown else round(percent, 1),
                text=f"{text}.",
                sources=source_ids(c for _, r in records.values() if r is not None for c in r.sources),
            )
        )
    return tuple(shown)


def situation_shown(understood: Understood) -> SituationUnderstood:
    """The situation with what was derived from it."""
    targets = tuple(
        TargetUnderstood(weed=t.weed.id, name=t.weed.name, stage=t.stage, stages=t.stages, stage_assumed=t.assumed)
        for t in understood.targets
    )
    derived = Derived(
        season=understood.season,
        targets=targets,
        green_up={turf.id: state for turf, state in zip(understood.turf, understood.green_up, strict=True)},
        unknowns=understood.unknowns,
    )
    fields = {name: getattr(understood.situation, name) for name in type(understood.situation).model_fields}
    return SituationUnderstood(**fields, derived=derived)


def judged_at(understood: Understood, stage: str, days: float) -> Moment:
    """The first application, judged so many days after it."""
    return Moment(stage, understood.season, days)


__all__ = [
    "NOT_EMERGED",
    "Spray",
    "applications_of",
    "control_of",
    "control_shown",
    "distinct_mechanisms",
    "groups_of",
    "injury_of",
    "judged_at",
    "program_id",
    "program_name",
    "situation_shown",
    "sprays_of",
    "words",
]
