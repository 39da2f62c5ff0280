"""Why not this active here? Answered from the same objects as the ranking."""

from __future__ import annotations

from collections.abc import Sequence

from app.engine.citations import cautions_said, cited, stops_said
from app.engine.considered import stops_in
from app.engine.describe import program_name, situation_shown, sprays_of, words
from app.engine.errors import FieldFault, InputError
from app.engine.output import Caution, RankedProgram, WhyNot
from app.engine.product import Product
from app.engine.reasons import behind
from app.engine.recommend import active_stops, describe_program
from app.engine.rules import Finding, Question, ask
from app.engine.screening import Screened, screen
from app.engine.shortlist import shortlist
from app.engine.situation import WhyNotRequest
from app.engine.understood import understand, unknown_id
from knowledge.base import KnowledgeBase

_LIST_LENGTH = 200


def why_not(base: KnowledgeBase, request: WhyNotRequest, shelf: Sequence[Product] | None = None) -> WhyNot:
    """What stands against exactly these actives here, or where they rank and why lower.

    Raises
    ------
    InputError
        For an active that is not known or named twice, and for a broken situation.
    """
    _check(base, request)
    understood = understand(request.situation, base, shelf)
    asked = frozenset(request.actives)
    alone = screen(base, understood, only=asked)
    inactive = _inactive(alone, asked)
    if len(alone.programs) == 0 or inactive:
        stops = (*inactive, *_standing(alone, sorted(asked)))
        return _answer(base, alone, request, stops, None, None, ())
    full = screen(base, understood)
    place = int(alone.order[0])
    rank, sentences = _standing_in_list(full, alone, place)
    best = describe_program(alone, place, rank)
    return _answer(base, alone, request, (), best, rank, sentences)


def _check(base: KnowledgeBase, request: WhyNotRequest) -> None:
    faults = []
    for index, key in enumerate(request.actives):
        if key not in base.actives:
            faults.append(unknown_id(f"actives.{index}", "active", key, base.actives))
        elif key in request.actives[:index]:
            faults.append(FieldFault(f"actives.{index}", f"'{key}' is named twice; name each active once"))
    if faults:
        raise InputError(faults)


def _inactive(alone: Screened, asked: frozenset[str]) -> tuple[Finding, ...]:
    """The stop against actives that control none of the targets, each by itself."""
    catalog, base = alone.catalog, alone.base
    floor = base.parameter("activity-floor")
    best = {
        key: max(
            (float(a) for a, d in zip(catalog.activity, catalog.doses, strict=True) if d.active.id == key), default=0.0
        )
        for key in asked
    }
    if any(control >= floor for control in best.values()):
        return ()
    found = []
    for key in sorted(asked):
        what = "; ".join(_what_is_known(alone, key))
        found.append(Finding("no-activity", "stop", {"active": base.actives[key].name, "why": what}))
    return tuple(found)


def _what_is_known(alone: Screened, active: str) -> list[str]:
    said = []
    for target in alone.understood.targets:
        stage = words(target.stage)
        told = [r for r in target.weed.responses if r.active == active]
        fit = [r for r in told if target.stage in r.stages or not r.stages]
        if active in target.resistant_to or alone.base.actives[active].mechanism.group in target.resistant_to:
            said.append(f"this {target.weed.name} is told to resist it")
        elif fit:
            said.append(f"about {fit[0].band[1]:.0f} % of {target.weed.name} at {stage}")
        else:
            said.append(f"no control of {target.weed.name} at {stage} is recorded")
    return said


def _standing(alone: Screened, asked: Sequence[str]) -> tuple[Finding, ...]:
    """Every hard stop against the actives and against putting them into one tank."""
    catalog, found = alone.catalog, list[Finding]()
    for key in asked:
        places = [i for i, dose in enumerate(catalog.doses) if dose.active.id == key]
        if places:
            found += active_stops(alone, places)
        else:
            values = {"active": alone.base.actives[key].name, "turf": _turf(alone)}
            found.append(Finding("no-turf-rate", "stop", values))
    for index, first in enumerate(asked):
        for second in asked[:index]:
            a = next((d for d in catalog.doses if d.active.id == first), None)
            b = next((d for d in catalog.doses if d.active.id == second), None)
            if a is not None and b is not None:
                found += stops_in(ask(Question(alone.base, alone.understood, a, partner=b), "pair"))
    if alone.too_much is not None:
        names = " + ".join(alone.base.actives[key].name for key in asked)
        ceiling = alone.base.parameter("injury-unacceptable")
        told = {"injury": f"{alone.too_much:.0f}", "ceiling": f"{ceiling:.0f}"}
        found.append(Finding("turf-injury", "stop", {"active": names, "turf": _turf(alone), **told}))
    if not found:
        values = {"active": " + ".join(alone.base.actives[k].name for k in asked), "turf": _turf(alone)}
        found.append(Finding("no-turf-rate", "stop", values))
    return tuple(found)


def _turf(alone: Screened) -> str:
    return " and ".join(turf.name for turf in alone.understood.turf)


def _standing_in_list(full: Screened, alone: Screened, place: int) -> tuple[int, tuple[str, ...]]:
    """Place of the program among all different ones, and what it gives up to the first."""
    score = float(alone.scores.total[place])
    own = alone.actives_of(place)
    kept = shortlist(full, _LIST_LENGTH)
    rank = 1 + sum(1 for k in kept if k.actives != own and float(full.scores.total[k.place]) > score + 1e-9)
    if rank == 1 or not kept:
        return rank, ()
    same = [int(p) for p in full.order if full.actives_of(int(p)) == own]
    first_name = program_name(sprays_of(full, kept[0].place), full.base)
    if not same:
        return rank, (f"It controls too little to be combined; {first_name} stands first.",)
    return rank, behind(full, same[0], kept[0].place, first_name)


def _answer(
    base: KnowledgeBase,
    alone: Screened,
    request: WhyNotRequest,
    stops: Sequence[Finding],
    best: RankedProgram | None,
    rank: int | None,
    sentences: tuple[str, ...],
) -> WhyNot:
    said = stops_said(base, stops)
    cautions: tuple[Caution, ...] = best.cautions if best is not None else cautions_said(base, _informing(alone))
    used = [s for item in (*said, *cautions) for s in item.sources]
    if best is not None:
        for group in (best.control, best.turf_injury, best.reasons):
            used += [s for item in group for s in item.sources]
        used += [s for shown in best.control for part in shown.parts for s in part.sources]
    return WhyNot(
        situation=situation_shown(alone.understood),
        actives=request.actives,
        allowed=best is not None,
        stops=said,
        cautions=cautions,
        best=best,
        rank=rank,
        behind=sentences,
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, used),
        knowledge_version=base.version,
    )


def _informing(alone: Screened) -> list[Finding]:
    return [f for found in alone.catalog.findings for f in found if f.outcome != "stop"]
