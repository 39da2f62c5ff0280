"""What a stated program is expected to do, whatever its rank, with the stops against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from app.engine.catalog import MAX_PARTS, NO_DOSE
from app.engine.citations import cautions_said, cited, stops_said
from app.engine.control import Band, Floats
from app.engine.describe import Spray, control_shown, injury_of, situation_shown
from app.engine.doses import Dose, stated_dose
from app.engine.errors import FieldFault, InputError
from app.engine.output import Control, Expectation, TurfInjury
from app.engine.recommend import program_findings
from app.engine.responses import Cell, ControlFacts
from app.engine.rules import Finding, Question
from app.engine.rules.limits import least_interval
from app.engine.scoring import dose_injury, program_injury
from app.engine.screen import Programs, hardest_stage, program_control
from app.engine.situation import ExpectRequest, Situation
from app.engine.tables import Tables, Timing, build_tables, moments, usual_timing
from app.engine.timing_rules import situation_findings
from app.engine.understood import Understood, understand
from knowledge.base import KnowledgeBase


def expect(base: KnowledgeBase, request: ExpectRequest) -> Expectation:
    """Expected control and injury of one stated program.

    Raises
    ------
    InputError
        For unknown ids, rates that are none, and a broken situation.
    """
    situation = _with_carrier(request)
    understood = understand(situation, base)
    sprays = _stated(base, understood, request)
    timing = timing_of(base, sprays, request.days_after)
    control, injury = judged(base, understood, sprays, timing)
    findings = findings_of(base, understood, sprays, injury)
    stops, cautions = stops_said(base, findings), cautions_said(base, findings)
    used = [s for group in (control, injury, stops, cautions) for item in group for s in item.sources]
    used += [s for shown in control for part in shown.parts for s in part.sources]
    return Expectation(
        situation=situation_shown(understood),
        control=control,
        turf_injury=injury,
        stops=stops,
        cautions=cautions,
        notices=tuple(notice.text for notice in base.notices.values()),
        sources=cited(base, used),
        knowledge_version=base.version,
    )


def _with_carrier(request: ExpectRequest) -> Situation:
    """The situation with the program's least carrier volume, which every floor is held against."""
    told = [a.carrier for a in request.program.applications if a.carrier is not None]
    if not told:
        return request.situation
    least = min(told, key=lambda carrier: carrier.quantity.base)
    return request.situation.model_copy(update={"carrier": least})


def _stated(base: KnowledgeBase, understood: Understood, request: ExpectRequest) -> tuple[Spray, ...]:
    sprays = []
    for number, application in enumerate(request.program.applications):
        path = f"program.applications.{number}"
        doses = tuple(
            stated_dose(base, understood, part.active, part.form, part.rate, f"{path}.actives.{i}")
            for i, part in enumerate(application.actives)
        )
        adjuvant = application.adjuvant.id if application.adjuvant is not None else "none"
        if adjuvant not in base.adjuvants:
            raise InputError([FieldFault(f"{path}.adjuvant.id", f"'{adjuvant}' is no known adjuvant")])
        sprays.append(Spray(application.day, doses, adjuvant))
    return tuple(sprays)


def timing_of(base: KnowledgeBase, sprays: Sequence[Spray], days: int | None) -> Timing:
    """When a stated program is judged: so many days after its last application, or as is usual."""
    usual = usual_timing(base)
    interval = float(sprays[1].day - sprays[0].day) if len(sprays) > 1 else usual.interval
    if days is None:
        return Timing(interval, usual.days_emerged, usual.days_not_emerged)
    return Timing(interval, float(days), float(days))


def judged(
    base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray], timing: Timing
) -> tuple[tuple[Control, ...], tuple[TurfInjury, ...]]:
    """Control of every target and injury of every turf by one stated program."""
    doses = [dose for spray in sprays for dose in spray.doses]
    adjuvants = tuple(dict.fromkeys(spray.adjuvant for spray in sprays))
    facts = ControlFacts(base, understood)
    tables = build_tables(base, understood, facts, doses, adjuvants, timing, range(len(doses)))
    program = _as_program(sprays, adjuvants)
    get = base.parameter
    whole = program_control(tables, program, get("site-correlation"))
    band, columns = hardest_stage(tables, whole, len(understood.targets))
    injury = program_injury(
        dose_injury(base, understood, doses), program, get("partner-injury"), get("second-application-injury")
    )[0]
    control = tuple(
        _shown(base, understood, facts, tables, sprays, timing, t, int(columns[0, t]), band)
        for t in range(len(understood.targets))
    )
    return control, injury_of(understood, sprays, injury.tolist())


def _as_program(sprays: Sequence[Spray], adjuvants: tuple[str, ...]) -> Programs:
    rows: Floats = np.full((2, 1, MAX_PARTS), NO_DOSE, dtype=np.float64)
    start = 0
    for number, spray in enumerate(sprays):
        rows[number, 0, : len(spray.doses)] = np.arange(start, start + len(spray.doses))
        start += len(spray.doses)
    first, second = rows.astype(np.int64)
    used = [adjuvants.index(spray.adjuvant) for spray in sprays]
    return Programs(
        first, second, np.asarray([used[0]]), np.asarray([used[-1]]), np.asarray([max(len(s.doses) for s in sprays)])
    )


def _shown(
    base: KnowledgeBase,
    understood: Understood,
    facts: ControlFacts,
    tables: Tables,
    sprays: Sequence[Spray],
    timing: Timing,
    target: int,
    column: int,
    band: Band,
) -> Control:
    at = tables.columns[column]
    asked = moments(at, understood, base, timing)
    cells: dict[str, tuple[Dose, Cell]] = {}
    for spray in sprays:
        for dose in spray.doses:
            cell = facts.cell(dose, at.target, asked["single"], spray.adjuvant)
            if cell.response is None and "escape" in asked and spray.day > sprays[0].day:
                cell = facts.cell(dose, at.target, asked["escape"], spray.adjuvant)
            cells.setdefault(dose.active.id, (dose, cell))
    figures = tuple(float(getattr(band, name)[0, target]) for name in ("low", "likely", "high"))
    return control_shown(at.target, at.stage, figures, round(timing.days_for(at.stage)), list(cells.values()))


def findings_of(
    base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray], injury: Sequence[TurfInjury]
) -> tuple[Finding, ...]:
    """Everything that is found of one stated program here, stops included."""
    found = (*_all_findings(base, understood, sprays), *situation_findings(base, understood))
    return (*found, *_injury_findings(base, understood, sprays, injury, found))


def _injury_findings(
    base: KnowledgeBase,
    understood: Understood,
    sprays: Sequence[Spray],
    injury: Sequence[TurfInjury],
    found: Sequence[Finding],
) -> Iterator[Finding]:
    """The stop against a whole program that would injure the turf too much, where no dose of it does so alone."""
    ceiling = base.parameter("injury-unacceptable")
    if any(finding.code in ("turf-injury", "turf-sensitive", "turf-unknown") for finding in found):
        return
    names = " + ".join(dict.fromkeys(dose.active.name for spray in sprays for dose in spray.doses))
    for turf, shown in zip(understood.turf, injury, strict=True):
        if shown.likely_pct is not None and shown.likely_pct > ceiling:
            told = {"injury": f"{shown.likely_pct:.0f}", "ceiling": f"{ceiling:.0f}"}
            yield Finding("turf-injury", "stop", {"active": names, "turf": turf.name, **told})


def _all_findings(base: KnowledgeBase, understood: Understood, sprays: Sequence[Spray]) -> tuple[Finding, ...]:
    found = [*program_findings(base, understood, sprays)]
    if len(sprays) > 1:
        gap = sprays[1].day - sprays[0].day
        again = {d.active.id for d in sprays[0].doses}
        for dose in sprays[1].doses:
            days, sources = least_interval(Question(base, understood, dose))
            if dose.active.id in again and gap < days:
                values = {"active": dose.active.name, "days": str(days), "since": str(gap)}
                found.append(Finding("retreat-interval", "stop", values, sources))
    return tuple(found)


__all__ = ["expect", "findings_of", "judged", "timing_of"]
