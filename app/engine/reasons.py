"""Why a program stands where it stands: sentences built from the figures that ranked it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.engine.citations import source_ids
from app.engine.control import expit
from app.engine.describe import Spray, single_cell, words
from app.engine.doses import Dose
from app.engine.output import Control, Statement
from app.engine.record_shifts import adjuvant_rule
from app.engine.scoring import FULL_SCORE, PARTS
from app.engine.screening import Screened
from app.engine.understood import NOT_EMERGED
from knowledge.models import Weed

PART_WORDS = {
    "control": "control",
    "turf_safety": "turf safety",
    "resistance": "mechanisms",
    "cost": "cost",
    "passes": "passes",
    "off_target": "off-target risk",
}
_CREEPING = ("stolon", "rhizome", "creeping-root", "tuber", "bulb")
_ORGAN_WORDS = {
    "stolon": "stolons",
    "rhizome": "rhizomes",
    "creeping-root": "creeping roots",
    "tuber": "tubers",
    "bulb": "bulbs",
}


def program_reasons(
    screened: Screened, place: int, sprays: Sequence[Spray], control: Sequence[Control], once: Sequence[float] | None
) -> tuple[Statement, ...]:
    """Every reason for one program.

    Parameters
    ----------
    control : sequence of Control
        Its control as shown.
    once : sequence of float or None
        Likely control [percent] of the first application alone, for a program of two.
    """
    found: list[Statement] = [
        *_leads(screened, sprays, control),
        *_organs(screened, sprays, control),
        *_roles(sprays, control),
        *_adjuvants(screened, sprays, control),
        *_second(screened, sprays, control, once),
        *_volatility(screened, sprays),
        *_speed(screened, sprays, control),
        *_rates(screened, sprays),
        *_mechanisms(screened, place, sprays),
    ]
    return tuple(s.model_copy(update={"text": s.text[:1].upper() + s.text[1:]}) for s in found)


def _lead(screened: Screened, sprays: Sequence[Spray], target: int, stage: str) -> tuple[Dose, str, float] | None:
    """The active that does most on a target by itself, its adjuvant and its control [percent]."""
    best: tuple[Dose, str, float] | None = None
    for spray in sprays:
        for dose in spray.doses:
            cell = single_cell(screened, dose, screened.understood.targets[target], stage, spray.adjuvant)
            likely = 100 * float(expit(cell.mean))
            if cell.response is not None and (best is None or likely > best[2]):
                best = (dose, spray.adjuvant, likely)
    return best


def _leads(screened: Screened, sprays: Sequence[Spray], control: Sequence[Control]) -> Iterator[Statement]:
    for t, shown in enumerate(control):
        lead = _lead(screened, sprays, t, shown.stage)
        if lead is None or shown.likely is None:
            continue
        dose, _, likely = lead
        others = [p.name for p in shown.parts if p.active != dose.active.id and p.likely is not None]
        small = [
            p.name for p in shown.parts if p.active != dose.active.id and p.likely is not None and p.likely < likely / 2
        ]
        text = f"{dose.active.name} is the piece that does it on {shown.name}: {likely:.0f} % by itself"
        if others and len(small) == len(others):
            text += f"; {' and '.join(small)} adds little there"
        elif others:
            text += f", {shown.likely:.0f} % with {' and '.join(others)}"
        part = next(p for p in shown.parts if p.active == dose.active.id)
        yield Statement(code="lead-active", text=f"{text}.", sources=part.sources)


def _organs(screened: Screened, sprays: Sequence[Spray], control: Sequence[Control]) -> Iterator[Statement]:
    for t, shown in enumerate(control):
        weed = screened.understood.targets[t].weed
        organs = [_ORGAN_WORDS[organ] for organ in weed.organs if organ in _CREEPING]
        lead = _lead(screened, sprays, t, shown.stage)
        if not organs or lead is None or shown.stage == NOT_EMERGED:
            continue
        name, kept = lead[0].active.name, " and ".join(organs)
        moves = lead[0].active.movement == "phloem"
        text = f"{shown.name} keeps its reserves in {kept}; {name} " + (
            f"moves through the whole plant and reaches the {kept}."
            if moves
            else f"acts mainly where it lands, so expect regrowth from the {kept}."
        )
        yield Statement(code="organs", text=text, sources=source_ids(weed.recognise.sources))


def _roles(sprays: Sequence[Spray], control: Sequence[Control]) -> Iterator[Statement]:
    useful = {p.active for shown in control for p in shown.parts if p.likely}
    said = set()
    for spray in sprays:
        for dose in spray.doses:
            if dose.active.id in useful and dose.active.id not in said:
                said.add(dose.active.id)
                role = dose.active.role
                yield Statement(code="role", text=f"{dose.active.name}: {role.text}", sources=source_ids(role.sources))


def _adjuvants(screened: Screened, sprays: Sequence[Spray], control: Sequence[Control]) -> Iterator[Statement]:
    for spray in dict.fromkeys(sprays):
        if spray.adjuvant == "none":
            continue
        name = screened.base.adjuvants[spray.adjuvant].name
        for t, shown in enumerate(control):
            target = screened.understood.targets[t]
            for dose in spray.doses:
                rule = adjuvant_rule(dose.active, spray.adjuvant, shown.stage, target.weed.life_form)
                if rule is None or rule.shift <= 0:
                    continue
                cells = [single_cell(screened, dose, target, shown.stage, a) for a in ("none", spray.adjuvant)]
                without, with_it = (100 * float(expit(cell.mean)) for cell in cells)
                if cells[1].response is not None and round(with_it) > round(without):
                    gain = f"from {without:.0f} to {with_it:.0f} %"
                    text = f"{name} lifts {dose.active.name} on {shown.name} at {words(shown.stage)} {gain}."
                    yield Statement(code="adjuvant", text=text, sources=source_ids(rule.sources))


def _second(
    screened: Screened, sprays: Sequence[Spray], control: Sequence[Control], once: Sequence[float] | None
) -> Iterator[Statement]:
    for target in screened.understood.targets:
        if target.weed.plan is not None and target.stage != NOT_EMERGED:
            text = f"{target.weed.name}: {target.weed.plan.text}"
            yield Statement(code="plan", text=text, sources=source_ids(target.weed.plan.sources))
    if len(sprays) == 1 or once is None:
        return
    for t, shown in enumerate(control):
        if shown.likely is not None and shown.likely - once[t] >= 1:
            weed = screened.understood.targets[t].weed
            why = _why_again(weed, shown.stage)
            first = f"One application leaves {shown.name} at {once[t]:.0f} % control"
            text = f"{first}, two bring {shown.likely:.0f} %: {why}."
            yield Statement(code="second-application", text=text, sources=shown.sources)


def _why_again(weed: Weed, stage: str) -> str:
    if stage == NOT_EMERGED:
        return "the second holds what comes up late"
    if weed.life_cycle in ("perennial", "biennial"):
        return "what survives the first regrows and is met again"
    return "what survives the first is met while it is still small"


def _volatility(screened: Screened, sprays: Sequence[Spray]) -> Iterator[Statement]:
    situation = screened.understood.situation
    heat, warm_air = situation.forecast.max_temp_f, screened.base.parameter("warm-air-f")
    warm = screened.understood.season == "summer" if heat is None else heat >= warm_air
    if not warm:
        return
    said = set()
    for spray in sprays:
        for dose in spray.doses:
            esters = [f for f in dose.active.forms if f.kind == "ester" and f.id != dose.form.id]
            if esters and dose.form.kind != "ester" and dose.active.id not in said:
                said.add(dose.active.id)
                text = (
                    f"{dose.active.name} goes in as the {dose.form.name}, not as the {esters[0].name}: "
                    "volatility, the ester gives off vapour in summer heat."
                )
                yield Statement(code="volatility", text=text, sources=source_ids(esters[0].sources))


def _speed(screened: Screened, sprays: Sequence[Spray], control: Sequence[Control]) -> Iterator[Statement]:
    acting = {
        p.active
        for shown in control
        for p in shown.parts
        if p.likely and p.likely >= screened.base.parameter("activity-floor")
    }
    timed = {
        dose.active.id: (dose.active.name, dose.active.symptoms)
        for spray in sprays
        for dose in spray.doses
        if dose.active.id in acting and dose.active.symptoms is not None
    }
    if not timed or all(shown.stage == NOT_EMERGED for shown in control):
        return
    known = [(symptoms, name) for name, symptoms in timed.values() if symptoms is not None]
    fast, name = min(known, key=lambda pair: (pair[0].first_days, pair[0].full_days, pair[1]))
    text = f"First symptoms in {fast.first_days[0]:g} to {fast.first_days[1]:g} days from {name}"
    slower = [(s, n) for s, n in known if s.first_days[1] > fast.first_days[1]]
    if slower:
        other, slow_name = max(slower, key=lambda pair: (pair[0].first_days, pair[1]))
        text += f", sooner than from {slow_name} ({other.first_days[0]:g} to {other.first_days[1]:g} days)"
    sources = source_ids(c for symptoms, _ in known for c in symptoms.sources)
    full = max(s.full_days[1] for s, _ in known)
    yield Statement(code="speed", text=f"{text}; full effect by about {full:g} days.", sources=sources)


def _rates(screened: Screened, sprays: Sequence[Spray]) -> Iterator[Statement]:
    turf = " and ".join(t.name for t in screened.understood.turf)
    for dose in {d.active.id: d for spray in sprays for d in spray.doses}.values():
        if dose.usual is None:
            continue
        top = max((r.usual for r in dose.active.rates if r.timing == dose.timing), key=lambda q: q.base, default=None)
        if top is not None and dose.usual.usual.base < top.base * (1 - 1e-9):
            here = f"{dose.active.name} goes at {dose.rate} because the turf is {turf}"
            text = f"{here}; up to {top} is usual on hardier turf."
            yield Statement(code="turf-rate", text=text, sources=source_ids(dose.usual.sources))


def _mechanisms(screened: Screened, place: int, sprays: Sequence[Spray]) -> Iterator[Statement]:
    groups = {d.active.mechanism.group: d.active.mechanism.name for s in sprays for d in s.doses}
    named = ", ".join(f"group {g} ({name})" for g, name in sorted(groups.items(), key=lambda item: int(item[0])))
    share = float(screened.scores.unweighted["resistance"][place])
    text = f"Mechanisms: {named}."
    if share < 1:
        text += " Rotate to another mechanism in the season: this one works alone on some of the weeds."
    citations = [c for s in sprays for d in s.doses for c in d.active.mechanism.sources]
    yield Statement(code="mechanisms", text=text, sources=source_ids(citations))


def above_next(screened: Screened, place: int, below: int, below_name: str) -> Statement:
    """What sets a program above the next one, by the parts of the score."""
    gap = _part_gaps(screened, place, below)
    gains = sorted(((gap[p], p) for p in PARTS if gap[p] >= 0.05), reverse=True)
    losses = sorted((gap[p], p) for p in PARTS if gap[p] <= -0.05)
    won = ", ".join(f"{PART_WORDS[p]} {size:+.1f}" for size, p in gains) or "equal parts"
    lost = ", ".join(f"{PART_WORDS[p]} {size:+.1f}" for size, p in losses)
    text = f"Stands above {below_name}: {won}" + (f"; gives up {lost}" if lost else "") + " (points of 100)."
    return Statement(code="above-next", text=text)


def behind(screened: Screened, place: int, first: int, first_name: str) -> tuple[str, ...]:
    """Sentences that say why a program stands below the first."""
    gap = _part_gaps(screened, first, place)
    lost = sorted(((gap[p], p) for p in PARTS if gap[p] >= 0.05), reverse=True)
    sentences = [f"{size:.1f} points behind {first_name} on {PART_WORDS[part]}." for size, part in lost]
    for t, target in enumerate(screened.understood.targets):
        ours, theirs = (float(screened.band.likely[p, t]) for p in (place, first))
        if theirs - ours >= 1:
            sentences.append(f"Expected control of {target.weed.name}: {ours:.0f} % against {theirs:.0f} %.")
    return tuple(sentences)


def _part_gaps(screened: Screened, upper: int, lower: int) -> dict[str, float]:
    scores = screened.scores
    return {
        part: scores.weights[part] * float(scores.unweighted[part][upper] - scores.unweighted[part][lower])
        for part in PARTS
    }


def would_change(screened: Screened, place: int, below: int, below_name: str) -> Statement | None:
    """The least change of one priority that would put the next program first, or None.

    One weight w is moved, the others keep their proportions: w * d + (100 - w) * rest = 0, with d
    the gap on that part and rest the gap on the others.
    """
    scores = screened.scores
    gaps = {p: float(scores.unweighted[p][place] - scores.unweighted[p][below]) for p in PARTS}
    best: tuple[float, str, float] | None = None
    for part in PARTS:
        others = FULL_SCORE - scores.weights[part]
        if others <= 0:
            continue
        rest = sum(scores.weights[p] * gaps[p] for p in PARTS if p != part) / others
        if rest * gaps[part] >= 0:
            continue
        weight = FULL_SCORE * rest / (rest - gaps[part])
        change = abs(weight - scores.weights[part])
        if 0 <= weight <= FULL_SCORE and (best is None or change < best[0]):
            best = (change, part, weight)
    if best is None:
        text = f"No single priority would put {below_name} above it."
        return Statement(code="would-change", text=text)
    _, part, weight = best
    direction = "more" if weight > scores.weights[part] else "less"
    text = (
        f"Stays above {below_name} unless {PART_WORDS[part]} counts {direction} than {weight:.0f} of 100 "
        f"(now {scores.weights[part]:.0f})."
    )
    return Statement(code="would-change", text=text)
