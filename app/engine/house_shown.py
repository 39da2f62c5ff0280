"""Says what the house's trials moved, and what that changed in a ranking."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from app.engine.control import Z90
from app.engine.house import Observed, percent
from app.engine.house_output import Banded, FigureUnused, HouseEvidence, MovedRecord, TrialSaid
from app.engine.house_records import Move, OfTrial, moves_of
from app.engine.output import RankedProgram, Recommendation
from app.engine.wording import capital, listed
from knowledge.base import KnowledgeBase
from knowledge.models import Response, Weed

_SHOWN = 3


def records_shown(
    base: KnowledgeBase, weed: Weed, observed: Sequence[Observed]
) -> tuple[tuple[MovedRecord, ...], tuple[FigureUnused, ...]]:
    """Every record of a weed that the trials move, with prior, trials and posterior; and the figures that move none.

    `base` is the knowledge base without the house's evidence.
    """
    moves, unused = moves_of(base, weed, [item for item in observed if item.weed == weed.id])
    left = [
        FigureUnused(
            trial=item.observed.trial,
            name=item.observed.name,
            weed=weed.id,
            treatment=item.observed.treatment,
            days_after=item.observed.days_after,
            why=item.why,
        )
        for item in unused
    ]
    return tuple(_shown(base, weed, move) for move in moves), tuple(left)


def _shown(base: KnowledgeBase, weed: Weed, move: Move) -> MovedRecord:
    trials = tuple(
        _said(trial, error + move.between, share)
        for trial, error, share in zip(move.trials, move.errors, move.shrunk.weights[1:], strict=True)
    )
    record = move.response
    active = base.actives[record.active].name
    count = f"{len(trials)} trial{'s' if len(trials) > 1 else ''} of the house"
    before = f"{move.prior.band[1]:.0f} %" if move.prior is not None else "nothing recorded"
    weaker = " (lawns rated without a check count for less)" if any(t.kind == "lawns" for t in trials) else ""
    under = f" with {base.adjuvants[record.adjuvant].name}" if record.adjuvant in base.adjuvants else ""
    return MovedRecord(
        weed=weed.id,
        weed_name=weed.name,
        active=record.active,
        active_name=active,
        stage=move.stage,
        adjuvant=record.adjuvant,
        rate=str(record.rate),
        days=record.days,
        prior=_band(move.prior) if move.prior is not None else None,
        prior_weight_pct=100 * move.shrunk.weights[0],
        trials=trials,
        posterior=_band(record),
        sources=tuple(dict.fromkeys(citation.id for citation in record.sources)),
        text=(
            f"{active}{under} on {weed.name} at {move.stage}, {record.rate}, {record.days} days after application: "
            f"{before} in the knowledge base, {record.band[1]:.0f} % with {count}{weaker}."
        ),
    )


def _band(record: Response) -> Banded:
    return Banded(low=record.band[0], likely=record.band[1], high=record.band[2])


def _said(trial: OfTrial, variance: float, share: float) -> TrialSaid:
    first = trial.used[0].observed
    reach = Z90 * math.sqrt(variance)
    plots = sum(item.observed.n for item in trial.used)
    return TrialSaid(
        trial=first.trial,
        name=first.name,
        kind=first.kind,
        place=", ".join(str(part) for part in (first.place, first.year) if part),
        treatments=tuple(item.observed.treatment for item in trial.used),
        days_after=tuple(sorted({item.observed.days_after for item in trial.used})),
        n=plots,
        seen_pct=math.fsum(item.observed.control_pct * item.observed.n for item in trial.used) / plots,
        band=Banded(
            low=percent(trial.log_odds - reach), likely=percent(trial.log_odds), high=percent(trial.log_odds + reach)
        ),
        weight_pct=100 * share,
        source=first.source,
    )


def evidence_of(
    base: KnowledgeBase, observed: Sequence[Observed], answer: Recommendation, without: Recommendation | None
) -> HouseEvidence:
    """What the house's trials say of a question, and what they changed in its answer.

    Parameters
    ----------
    base : KnowledgeBase
        Without the house's evidence.
    answer : Recommendation
        The answer that is given.
    without : Recommendation, optional
        The answer without the house's evidence; None where it was not used.
    """
    stages = {target.weed: target.stages for target in answer.situation.derived.targets}
    records = tuple(
        record
        for key in stages
        for record in records_shown(base, base.weeds[key], observed)[0]
        if record.stage in stages[key]
    )
    if without is None:
        text = f"The house's trials are left out: {_count(observed)} on these weeds would count."
        return HouseEvidence(used=False, text=text, records=records, changed=())
    if not records:
        text = f"{_count(observed)} on these weeds, but none speaks of this stage: the answer rests on the facts alone."
        return HouseEvidence(used=True, text=text, records=(), changed=())
    spoke = {said.trial for record in records for said in record.trials}
    text = f"This answer counts {_count([item for item in observed if item.trial in spoke])} on these weeds."
    return HouseEvidence(used=True, text=text, records=records, changed=tuple(_changes(answer, without)))


def _count(observed: Sequence[Observed]) -> str:
    count = len({item.trial for item in observed})
    return f"{count} trial{'s' if count > 1 else ''} of the house"


def _changes(answer: Recommendation, without: Recommendation) -> Iterator[str]:
    """What differs between two answers, the most important first."""
    before = {program.id: program for program in without.ranked}
    after = {program.id: program for program in answer.ranked}
    if (answer.no_treatment is None) != (without.no_treatment is None):
        yield (
            "Without the house's trials the advice would be not to spray now."
            if answer.no_treatment is None
            else "Without the house's trials the advice would be to spray."
        )
    if answer.ranked and without.ranked:
        first, old = answer.ranked[0], without.ranked[0]
        if first.id != old.id:
            yield f"{capital(_called(first, old))} leads; without the house's trials {_called(old, first)} would."
            yield from _why_not_control(first, old)
        else:
            yield f"{capital(first.name)} leads with and without the house's trials."
            yield from _moved_control(first, old)
    risen = [(before[key].rank, program) for key, program in after.items() if key in before]
    for rank, program in risen:
        if rank != program.rank and program is not answer.ranked[0]:
            yield f"{capital(program.name)}: place {program.rank}, without them {rank}."
    fresh = [program.name for key, program in after.items() if key not in before]
    gone = [program.name for key, program in before.items() if key not in after]
    if fresh:
        yield f"Shown only with them: {_programs(fresh)}."
    if gone:
        yield f"Shown only without them: {_programs(gone)}."


def _why_not_control(first: RankedProgram, old: RankedProgram) -> Iterator[str]:
    """Said where the program that leads now is expected to control less than the one that would."""
    for now, before in zip(first.control, old.control, strict=True):
        if now.likely is not None and before.likely is not None and round(now.likely) < round(before.likely):
            yield (
                f"It leads by the whole score, though it is expected to give {now.likely:.0f} % control of {now.name} "
                f"where the other was expected to give {before.likely:.0f} % without them: "
                "turf safety, resistance, passes and cost count too."
            )


def _programs(names: Sequence[str]) -> str:
    """Names of programs, which hold commas themselves."""
    told = list(dict.fromkeys(names))
    more = [f"{len(told) - _SHOWN} more"] if len(told) > _SHOWN else []
    return "; ".join([*told[:_SHOWN], *more])


def _called(program: RankedProgram, other: RankedProgram) -> str:
    """Its name, with its rates where the other has the same name."""
    if program.name != other.name:
        return program.name
    rates = [
        f"{active.rate.value:.3g} {active.rate.unit}"
        for application in program.applications[:1]
        for product in application.products
        for active in product.actives
    ]
    adjuvant = program.applications[0].adjuvant
    with_what = f", with {adjuvant.name}" if adjuvant is not None else ", without adjuvant"
    return f"{program.name} at {listed(rates)}{with_what}"


def _moved_control(program: RankedProgram, old: RankedProgram) -> Iterator[str]:
    for now, before in zip(program.control, old.control, strict=True):
        if now.likely is None or before.likely is None or round(now.likely) == round(before.likely):
            continue
        yield (
            f"It is expected to give {now.likely:.0f} % control of {now.name} ({now.low:.0f} to {now.high:.0f}), "
            f"without them {before.likely:.0f} % ({before.low:.0f} to {before.high:.0f})."
        )
