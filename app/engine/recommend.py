"""The main job: a situation in, ranked and reasoned programs out, with what was turned down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from app.engine.catalog import NO_DOSE
from app.engine.citations import cautions_said, cited, stops_said
from app.engine.considered import stops_in
from app.engine.cost import Tank, cost_of, supplies
from app.engine.describe import (
    Spray,
    applications_of,
    control_of,
    groups_of,
    injury_of,
    judged_at,
    program_id,
    program_name,
    situation_shown,
    sprays_of,
)
from app.engine.doses import Dose
from app.engine.offers import product_names
from app.engine.output import (
    Control,
    FoldedProgram,
    ProductInTank,
    RankedProgram,
    Recommendation,
    Statement,
    TurnedDown,
)
from app.engine.product import Product
from app.engine.reasons import above_next, program_reasons, would_change
from app.engine.rules import Finding, Question, ask
from app.engine.rules.registry import Outcome
from app.engine.scoring import PARTS, dose_injury, program_injury
from app.engine.screening import Screened, screen
from app.engine.shortlist import Kept, dominated_by, shortlist
from app.engine.situation import Situation
from app.engine.timing_rules import Best, no_treatment, situation_findings
from app.engine.understood import NOT_EMERGED, Understood, understand
from knowledge.base import KnowledgeBase

_FOLDED_SHOWN = 4


def recommend(base: KnowledgeBase, situation: Situation, shelf: Sequence[Product] | None = None) -> Recommendation:
    """Rank programs for a situation.

    Parameters
    ----------
    shelf : sequence of Product, optional
        The user's own products, for a situation whose catalog is `shelf`.

    Raises
    ------
    InputError
        When the situation names what is not known, or contradicts itself.
    """
    screened = screen(base, understand(situation, base, shelf))
    kept = shortlist(screened, situation.options.top)
    programs = ranked_programs(screened, kept)
    down = turned_down(screened)
    overall = cautions_said(base, situation_findings(base, screened.understood))
    advice = no_treatment(base, screened.understood, best_of(screened, kept))
    used = [*_ids(programs), *(s for item in down for stop in item.stops for s in stop.sources)]
    used += [s for caution in overall for s in caution.sources]
    used += [s for reason in (advice.reasons if advice is not None else ()) for s in reason.sources]
    return Recommendation(
        situation=situation_shown(screened.understood),
        headline=headline(screened, programs, advice is not None),
        ranked=programs,
        turned_down=down,
        no_treatment=advice,
        cautions=overall,
        considered=screened.considered,
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, used),
        knowledge_version=base.version,
    )


def _ids(programs: Iterable[RankedProgram]) -> list[str]:
    found: list[str] = []
    for program in programs:
        for group in (program.control, program.turf_injury, program.reasons, program.cautions):
            found += [source for item in group for source in item.sources]
        found += [source for shown in program.control for part in shown.parts for source in part.sources]
    return found


def ranked_programs(screened: Screened, kept: Sequence[Kept]) -> tuple[RankedProgram, ...]:
    """The kept programs as they are shown, in order, each with why it stands above the next."""
    names = [program_name(sprays_of(screened, k.place), screened.base) for k in kept]
    shown = []
    for index, item in enumerate(kept):
        extra: list[Statement] = []
        if index + 1 < len(kept):
            extra.append(above_next(screened, item.place, kept[index + 1].place, names[index + 1]))
            change = would_change(screened, item.place, kept[index + 1].place, names[index + 1])
            extra += [change] if change is not None else []
        better = dominated_by(screened, list(kept), index)
        shown.append(
            describe_program(
                screened,
                item.place,
                index + 1,
                extra,
                folded=item.folded,
                dominating=program_id(sprays_of(screened, better)) if better is not None else None,
            )
        )
    return tuple(shown)


def describe_program(
    screened: Screened,
    place: int,
    rank: int,
    extra: Sequence[Statement] = (),
    folded: Sequence[int] = (),
    dominating: str | None = None,
) -> RankedProgram:
    """One program in full."""
    base, understood = screened.base, screened.understood
    sprays = sprays_of(screened, place)
    control = control_of(screened, place, sprays)
    injury = dose_injury(base, understood, screened.catalog.doses)
    chosen = screened.programs.take(np.asarray([place]))
    percent = program_injury(
        injury, chosen, base.parameter("partner-injury"), base.parameter("second-application-injury")
    )[0]
    parts = {p: round(screened.scores.weights[p] * float(screened.scores.unweighted[p][place]), 2) for p in PARTS}
    tanks = tanks_of(understood, sprays)
    reasons = (*program_reasons(screened, place, sprays, control, _once(screened, place)), *extra)
    return RankedProgram(
        rank=rank,
        id=program_id(sprays),
        name=program_name(sprays, base),
        actives=tuple(dict.fromkeys(d.active.id for s in sprays for d in s.doses)),
        groups=groups_of(sprays),
        applications=applications_of(sprays, understood, base),
        control=control,
        turf_injury=injury_of(understood, sprays, percent.tolist()),
        cost=cost_of(base, understood, tanks),
        supply=supplies(base, understood, tanks),
        # The score is the sum of the parts that are shown, so that a reader can add them up.
        score=round(sum(parts.values()), 2),
        score_parts=parts,
        reasons=reasons,
        cautions=cautions_said(
            base, (*program_findings(base, understood, sprays), *_stretched(control, screened, sprays))
        ),
        dominated_by=dominating,
        folded=_folded(screened, place, folded),
    )


def tanks_of(understood: Understood, sprays: Sequence[Spray]) -> tuple[Tank, ...]:
    """The applications of a program as they are paid for."""
    carrier = understood.situation.carrier
    volume = carrier.quantity if carrier is not None else None
    return tuple(Tank(spray.doses, spray.adjuvant, volume) for spray in sprays)


def _folded(screened: Screened, place: int, folded: Sequence[int]) -> tuple[FoldedProgram, ...]:
    """The best few near-duplicates, those of one name once."""
    seen = {_precise_name(screened, place)}
    shown: list[FoldedProgram] = []
    for other in folded:
        name = _precise_name(screened, other)
        if name in seen:
            continue
        seen.add(name)
        behind = float(screened.scores.total[place] - screened.scores.total[other])
        same = screened.actives_of(other) == screened.actives_of(place)
        how = "the same actives" if same else "little different control"
        text = f"{how}; {behind:.1f} points behind."
        score = round(float(screened.scores.total[other]), 2)
        shown.append(FoldedProgram(id=program_id(sprays_of(screened, other)), name=name, score=score, text=text))
        if len(shown) == _FOLDED_SHOWN:
            break
    return tuple(shown)


def _precise_name(screened: Screened, place: int) -> str:
    sprays = sprays_of(screened, place)
    forms = [d.form.name for d in sprays[0].doses if len(d.active.forms) > 1]
    return program_name(sprays, screened.base) + (f" ({', '.join(forms)})" if forms else "")


def _once(screened: Screened, place: int) -> tuple[float, ...] | None:
    """Likely control [percent] by the first application alone, where a repeat of it is judged."""
    programs = screened.programs
    if not programs.twice[place]:
        return None
    same = (
        np.all(programs.first == programs.first[place], axis=1)
        & ~programs.twice
        & (programs.first_adjuvant == programs.first_adjuvant[place])
    )
    at = np.flatnonzero(same)
    return tuple(float(x) for x in screened.band.likely[at[0]]) if len(at) else None


def program_findings(base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray]) -> tuple[Finding, ...]:
    """Everything the rules find of a program, stops included."""
    found: list[Finding] = []
    for index, spray in enumerate(sprays):
        for dose in spray.doses:
            same = [(s.day, d) for s in sprays for d in s.doses if d.active.id == dose.active.id]
            if index == 0:
                found += ask(Question(base, understood, dose), "dose")
            whole = sum(d.rate.base for _, d in same)
            last = max(day for day, _ in same)
            asked = Question(base, understood, dose, repeats=len(same), planned=whole, last_day=last)
            found += ask(asked, "repeat")
            found += ask(Question(base, understood, dose, adjuvant=spray.adjuvant), "adjuvant")
            for other in spray.doses:
                if other.active.id < dose.active.id:
                    found += ask(Question(base, understood, dose, partner=other), "pair")
        if index and spray.doses != sprays[0].doses:
            for dose in spray.doses:
                found += ask(Question(base, understood, dose), "dose")
    return (*found, *_water_in(base, understood, sprays))


def _water_in(base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray]) -> list[Finding]:
    if not any(target.stage == NOT_EMERGED for target in understood.targets):
        return []
    soil = [d for d in sprays[0].doses if d.active.movement == "barrier"]
    outcome: Outcome = "warning" if understood.situation.forecast.soil_moisture == "dry" else "info"
    sources = base.rules["water-in"].sources
    return [Finding("water-in", outcome, {"active": d.active.name}, sources) for d in soil]


def _stretched(control: Sequence[Control], screened: Screened, sprays: Sequence[Spray]) -> list[Finding]:
    found = []
    words = {"rate": "another rate", "other-season": "another season"}
    for t, shown in enumerate(control):
        target = screened.understood.targets[t]
        for dose in {d.active.id: d for s in sprays for d in s.doses}.values():
            cell = screened.facts.cell(
                dose,
                target,
                judged_at(screened.understood, shown.stage, screened.timing.days_for(shown.stage)),
                sprays[0].adjuvant,
            )
            sources = screened.base.rules["record-stretched"].sources
            if cell.resisted:
                values = {"active": dose.active.name, "weed": target.weed.name}
                found.append(Finding("resisted", "info", values, sources))
            elif cell.widened:
                how = " and ".join(words[kind] for kind in cell.widened)
                values = {"active": dose.active.name, "weed": target.weed.name, "how": f"recorded at {how}"}
                found.append(Finding("record-stretched", "info", values, sources))
    return found


def turned_down(screened: Screened) -> tuple[TurnedDown, ...]:
    """Every active with activity on a target that no passing program holds, with its stops."""
    catalog, base = screened.catalog, screened.base
    floor = base.parameter("activity-floor")
    passing = {
        catalog.doses[d].active.id
        for d in np.unique(np.concatenate([screened.programs.first.ravel(), screened.programs.second.ravel()])).tolist()
        if d != NO_DOSE
    }
    active: dict[str, list[int]] = {}
    for index, dose in enumerate(catalog.doses):
        if catalog.activity[index] >= floor and dose.active.id not in passing:
            active.setdefault(dose.active.id, []).append(index)
    if screened.understood.products is not None:
        return _products_turned_down(screened, floor)
    found = []
    for key in sorted(active):
        stops = active_stops(screened, active[key])
        if stops:
            said = stops_said(base, stops)
            found.append(TurnedDown(actives=(key,), name=base.actives[key].name, stops=said))
    return tuple(found)


def _products_turned_down(screened: Screened, floor: float) -> tuple[TurnedDown, ...]:
    """Every product with activity on a target that no passing program holds, with its stops."""
    catalog = screened.catalog
    used = np.unique(np.concatenate([screened.programs.first.ravel(), screened.programs.second.ravel()])).tolist()
    passing = {name for d in used if d != NO_DOSE for name in product_names([catalog.doses[d]])}
    rates: dict[str, list[list[int]]] = {}
    for choice in catalog.offered:
        name = product_names([catalog.doses[choice[0]]])[0]
        if name not in passing and any(catalog.activity[d] >= floor for d in choice):
            rates.setdefault(name, []).append(list(choice))
    found = []
    for name, offers in sorted(rates.items()):
        stops = min((_offer_stops(screened, offer) for offer in offers), key=len)
        if stops:
            actives = tuple(catalog.doses[d].active.id for d in offers[0])
            said = stops_said(screened.base, stops)
            found.append(TurnedDown(actives=actives, name=name, product=name, stops=said))
    return tuple(found)


def _offer_stops(screened: Screened, offer: Sequence[int]) -> tuple[Finding, ...]:
    """The hard stops against a product at one rate: those of every dose it holds.

    What an adjuvant would bring on is told only where nothing bars a dose itself.
    """
    own = tuple(stop for index in offer for stop in screened.catalog.stopped(index))
    return own or tuple(stop for index in offer for stop in active_stops(screened, [index]))


def active_stops(screened: Screened, indices: Sequence[int]) -> tuple[Finding, ...]:
    """The hard stops against an active, from whichever of its stopped doses has the fewest."""
    least: tuple[Finding, ...] | None = None
    for index in indices:
        dose: Dose = screened.catalog.doses[index]
        stops = [*screened.catalog.stopped(index)]
        if not stops:
            for adjuvant in screened.tables.adjuvants:
                question = Question(screened.base, screened.understood, dose, adjuvant=adjuvant)
                stops += stops_in(ask(question, "adjuvant"))
        if stops and (least is None or len(stops) < len(least)):
            least = tuple(stops)
    return least or ()


def best_of(screened: Screened, kept: Sequence[Kept]) -> Best | None:
    """The first program as the timing rules need it."""
    if not kept:
        return None
    place = kept[0].place
    doses = [screened.catalog.doses[d] for d in screened.programs.first[place] if d != NO_DOSE]
    hours = [
        d.active.rainfast_hours.value
        for d in doses
        if d.active.rainfast_hours is not None and d.timing != "preemergence"
    ]
    return Best(tuple(float(x) for x in screened.band.likely[place]), max(hours, default=None))


def headline(screened: Screened, programs: Sequence[RankedProgram], hold: bool) -> str:
    """One sentence a rep can read aloud, and the one caution that matters most."""
    turf = " and ".join(t.name for t in screened.understood.turf)
    weeds = " and ".join(t.weed.name for t in screened.understood.targets)
    if not programs:
        return f"Nothing passes every stop for {weeds} on {turf} here."
    first = programs[0]
    expected = "; ".join(
        f"{c.likely:.0f} % of {c.name} ({c.low:.0f} to {c.high:.0f})" for c in first.control if c.likely is not None
    )
    lead = "if it must be sprayed now, " if hold else ""
    sentence = f"{lead}{weeds} on {turf}: {_what_and_how_often(first)}; expect {expected}."
    return f"{sentence[0].upper()}{sentence[1:]} {_gravest(first)}".strip()


def _what_and_how_often(program: RankedProgram) -> str:
    first = program.applications[0]
    named = [text for p in first.products for text in _rate_words(p)]
    rates = ", ".join(named) + (f" with {first.adjuvant.name}" if first.adjuvant is not None else "")
    if len(program.applications) == 1:
        return f"{rates}, once"
    second = program.applications[1]
    if second.products == first.products:
        return f"{rates}, twice, {second.day} days apart"
    later = " and ".join(p.product or ", ".join(a.name for a in p.actives) for p in second.products)
    return f"{rates}, then {later} {second.day} days later"


def _rate_words(product: ProductInTank) -> list[str]:
    if product.product is not None and product.rate is not None:
        return [f"{product.product} at {product.rate.value:g} {product.rate.unit}"]
    return [f"{a.name} at {a.rate.value:g} {a.rate.unit}" for a in product.actives]


# Which caution is read aloud first, where none is a warning.
_GRAVEST = ("volatility", "temperature", "green-up", "turf-condition", "surroundings", "rainfast", "seeding-interval")


def _gravest(program: RankedProgram) -> str:
    warning = next((c.text for c in program.cautions if c.severity == "warning"), None)
    if warning is not None:
        return warning
    ranked = [c for code in _GRAVEST for c in program.cautions if c.code == code]
    return next((c.text for c in ranked), "")
