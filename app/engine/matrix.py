"""Every weed against every active on one turf in one season: what works, what does not, what is not allowed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date as Date
from typing import Literal

from app.engine.considered import stops_in
from app.engine.control import Z90, expit
from app.engine.doses import Dose, single_doses
from app.engine.measures import Day, Input
from app.engine.output import Output, Statement
from app.engine.record_shifts import Moment
from app.engine.responses import Cell, ControlFacts
from app.engine.rules import Finding, Question, ask
from app.engine.situation import Situation
from app.engine.tables import usual_timing
from app.engine.understood import NOT_EMERGED, Understood, UnderstoodTarget, understand
from knowledge.base import KnowledgeBase, tolerance_for
from knowledge.models import Active, Weed
from knowledge.models.common import Basis, SiteUse, Slug, Zone

_PERCENT = 100
Purpose = Literal["as-it-stands", "before-emergence"]


class MatrixQuestion(Input):
    """Which turf, when and where; and whether weeds are met as they stand then, or before they emerge."""

    date: Day
    zone: Zone
    site_use: SiteUse
    turf: Slug
    purpose: Purpose = "as-it-stands"


class MatrixCell(Output):
    """Control of one weed by one active alone, once [percent], at its usual rate; None where nothing is recorded."""

    active: str
    low: float
    likely: float
    high: float
    basis: Basis


class MatrixRow(Output):
    """One weed at the stage it is judged in, the hardest that is plausible then."""

    weed: str
    name: str
    life_form: str
    life_cycle: str
    stages: tuple[str, ...]
    cells: tuple[MatrixCell, ...]


class MatrixColumn(Output):
    """One active on this turf: allowed, or what stands against it, and under what condition."""

    active: str
    name: str
    group: str
    timing: tuple[str, ...]
    allowed: bool
    stops: tuple[Statement, ...]
    condition: str | None


class Matrix(Output):
    """The whole table; a weed and active without a cell have no record."""

    turf: str
    zone: str
    site_use: str
    date: Date
    season: str
    purpose: Purpose
    columns: tuple[MatrixColumn, ...]
    rows: tuple[MatrixRow, ...]
    left_out: tuple[str, ...]
    knowledge_version: str


@dataclass(frozen=True)
class _Use:
    """An active with the doses and adjuvants by which it is judged here."""

    active: Active
    pairs: tuple[tuple[Dose, str], ...]
    stops: tuple[Finding, ...]


def matrix(base: KnowledgeBase, question: MatrixQuestion) -> Matrix:
    """Judge every weed and active of the knowledge base on one turf.

    The figures are those of the ranking: one application of the active by itself at its usual
    rate with the adjuvant that helps it, at the hardest stage plausible on the day. An active that
    a stop removes keeps its figures, so that a reader sees what is lost, but is not allowed.

    Raises
    ------
    InputError
        For a turf that is not known.
    """
    weeds = [weed for weed in base.weeds.values() if question.turf not in weed.same_species_turf]
    any_place = _understood(base, question, weeds[0])
    alone = [dose for dose in single_doses(base, any_place) if dose.level == "alone"]
    uses = [
        _use_of(base, any_place, active, [dose for dose in alone if dose.active.id == active.id])
        for active in base.actives.values()
    ]
    rows = tuple(_row(base, question, weed, uses) for weed in sorted(weeds, key=_order))
    return Matrix(
        turf=question.turf,
        zone=question.zone,
        site_use=question.site_use,
        date=question.date,
        season=any_place.season,
        purpose=question.purpose,
        columns=tuple(_column(base, any_place, use) for use in sorted(uses, key=_by_mechanism)),
        rows=rows,
        left_out=tuple(weed.id for weed in base.weeds.values() if question.turf in weed.same_species_turf),
        knowledge_version=base.version,
    )


def _order(weed: Weed) -> tuple[str, str]:
    return ({"grass": "0", "sedge": "1", "lily": "2", "broadleaf": "3"}.get(weed.life_form, "4"), weed.name.lower())


def _by_mechanism(use: _Use) -> tuple[int, str]:
    return (int(use.active.mechanism.group), use.active.name.lower())


def _understood(base: KnowledgeBase, question: MatrixQuestion, weed: Weed) -> Understood:
    before = question.purpose == "before-emergence" and NOT_EMERGED in weed.treatable_stages
    target = {"weed": weed.id, "stage": NOT_EMERGED if before else None}
    told = question.model_dump(include={"date", "zone", "site_use"})
    situation = {**told, "turf": [question.turf], "turf_condition": {"stand": "established"}, "targets": [target]}
    return understand(Situation.model_validate(situation), base)


def _use_of(base: KnowledgeBase, understood: Understood, active: Active, doses: Sequence[Dose]) -> _Use:
    asked = [Question(base, understood, dose) for dose in doses]
    found = [stops_in((*ask(q, "dose"), *ask(q, "repeat"))) for q in asked]
    allowed = [dose for dose, stops in zip(doses, found, strict=True) if not stops]
    judged = allowed or doses
    pairs = tuple((dose, adjuvant) for dose in judged for adjuvant in _adjuvants(base, understood, dose))
    if allowed and not pairs:
        barred = stops_in(ask(Question(base, understood, allowed[0]), "adjuvant"))
        return _Use(active, tuple((dose, "none") for dose in allowed), barred)
    return _Use(active, pairs, () if allowed else min(found, key=len, default=()))


def _adjuvants(base: KnowledgeBase, understood: Understood, dose: Dose) -> Iterator[str]:
    helpful = [rule.id for rule in dose.active.adjuvants if rule.use in ("required", "recommended")]
    for adjuvant in dict.fromkeys(("none", *helpful)):
        if not stops_in(ask(Question(base, understood, dose, adjuvant), "adjuvant")):
            yield adjuvant


def _column(base: KnowledgeBase, understood: Understood, use: _Use) -> MatrixColumn:
    here = tolerance_for(understood.turf[0], use.active.id, understood.situation.site_use)
    stops = tuple(
        Statement(code=stop.code, text=stop.sentence(base), sources=tuple(c.id for c in stop.sources))
        for stop in use.stops
    )
    return MatrixColumn(
        active=use.active.id,
        name=use.active.name,
        group=use.active.mechanism.group,
        timing=use.active.timing,
        allowed=bool(use.pairs) and not use.stops,
        stops=stops,
        condition=here.condition if here is not None else None,
    )


def _row(base: KnowledgeBase, question: MatrixQuestion, weed: Weed, uses: Sequence[_Use]) -> MatrixRow:
    understood = _understood(base, question, weed)
    facts, target = ControlFacts(base, understood), understood.targets[0]
    timing = usual_timing(base)
    cells = []
    for use in uses:
        found = [_best_at(facts, understood, target, use, stage, timing.days_for(stage)) for stage in target.stages]
        told = [cell for cell in found if cell is not None]
        # A stage without a record counts as no activity, so a figure needs one at every plausible stage.
        if told and len(told) == len(found):
            cells.append(_shown(use.active.id, min(told, key=lambda cell: cell.mean)))
    return MatrixRow(
        weed=weed.id,
        name=weed.name,
        life_form=weed.life_form,
        life_cycle=weed.life_cycle,
        stages=target.stages,
        cells=tuple(cells),
    )


def _best_at(
    facts: ControlFacts, understood: Understood, target: UnderstoodTarget, use: _Use, stage: str, days: float
) -> Cell | None:
    """The best that the active's doses and adjuvants do at one stage."""
    moment = Moment(stage, understood.season, days)
    cells = [facts.cell(dose, target, moment, adjuvant) for dose, adjuvant in use.pairs]
    return max((cell for cell in cells if cell.response is not None), key=lambda cell: cell.mean, default=None)


def _shown(active: str, cell: Cell) -> MatrixCell:
    assert cell.response is not None, "only recorded cells are shown"
    low, likely, high = (float(_PERCENT * expit(cell.mean + step * Z90 * cell.sd)) for step in (-1, 0, 1))
    return MatrixCell(active=active, low=low, likely=likely, high=high, basis=cell.response.basis)
