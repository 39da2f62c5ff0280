"""Answers as text for people, at eighty columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from typing import Any

from app.engine.identify import Identification
from app.engine.matrix import Matrix
from app.engine.output import (
    ActiveInProduct,
    Caution,
    Control,
    Expectation,
    ProductInTank,
    QuickAnswer,
    RankedProgram,
    Recommendation,
    Statement,
    TurfInjury,
    WhyNot,
)
from app.services.calibration import Calibration

WIDTH = 80
BAND_CELLS = 40
_WORTH_NAMING = 10
_MARKS = {"stop": "[stop]", "warning": "[warning]", "caution": "[caution]", "info": "[note]"}


def wrapped(text: str, lead: str = "", more: str | None = None) -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=lead,
        subsequent_indent=more if more is not None else " " * len(lead),
        # Ids hold hyphens and are copied whole.
        break_on_hyphens=False,
    )


def band(low: float, likely: float, high: float) -> str:
    """A band on a rule from 0 to 100, for example ``|....====#===....|``."""
    cells = ["."] * (BAND_CELLS + 1)
    start, tick, end = (round(value / 100 * BAND_CELLS) for value in (low, likely, high))
    cells[start : end + 1] = ["="] * (end - start + 1)
    cells[tick] = "#"
    return f"0 |{''.join(cells)}| 100"


def control_lines(shown: Control) -> Iterator[str]:
    if shown.low is None or shown.likely is None or shown.high is None:
        yield wrapped(shown.text, "     ")
        return
    when = f"{shown.days_after} days after the last application"
    yield wrapped(f"{shown.name}, {shown.stage}, {when} ({shown.basis})", "     ", "       ")
    yield f"       {band(shown.low, shown.likely, shown.high)}"
    yield f"       {shown.low:.0f} to {shown.high:.0f}, likely {shown.likely:.0f} % control"


def injury_line(shown: TurfInjury) -> str:
    figure = "" if shown.likely_pct is None else f" Likely injury {shown.likely_pct:.0f} %."
    return wrapped(f"{shown.text}{figure}", "     ")


def _statements(items: Iterable[Statement], mark: str) -> Iterator[str]:
    for item in items:
        sources = f" [{', '.join(item.sources)}]" if item.sources else ""
        yield wrapped(f"{item.text}{sources}", f"     {mark} ", "       ")


def caution_lines(items: Iterable[Caution]) -> Iterator[str]:
    for item in items:
        settled = f" (settled by {item.settled_by})" if item.settled_by else ""
        mark = "[unknown]" if item.settled_by else _MARKS[item.severity]
        yield wrapped(f"{mark} {item.text}{settled}", "     ", "       ")


def _program(program: RankedProgram) -> Iterator[str]:
    yield wrapped(f"{program.name}   score {program.score:.1f} of 100", f"{program.rank:>3}. ")
    for application in program.applications:
        rates = ", ".join(in_tank(product) for product in application.products)
        if application.adjuvant is not None:
            rate = application.adjuvant.rate
            rates += f", {application.adjuvant.name}" + (f" {rate.value:g} {rate.unit}" if rate is not None else "")
        yield wrapped(f"{application.date.isoformat()}: {rates}", "     ", "       ")
    for shown in program.control:
        yield from control_lines(shown)
    for injury in program.turf_injury:
        yield injury_line(injury)
    yield from _paid(program)
    parts = ", ".join(f"{name.replace('_', ' ')} {value:.1f}" for name, value in program.score_parts.items())
    yield wrapped(f"Score parts: {parts}", "     ", "       ")
    yield from _statements(program.reasons, "-")
    yield from caution_lines(program.cautions)
    for folded in program.folded:
        yield wrapped(f"folded here: {folded.name} ({folded.text})", "     ", "       ")
    yield ""


def _with_form(active: ActiveInProduct) -> str:
    """An active with its form, where that has a name of its own."""
    return active.name if active.form_name == active.name else f"{active.name} ({active.form_name})"


def in_tank(product: ProductInTank) -> str:
    actives = ", ".join(f"{_with_form(a)} {a.rate.value:g} {a.rate.unit}" for a in product.actives)
    if product.product is None or product.rate is None:
        return actives
    return f"{product.product} {product.rate.value:g} {product.rate.unit} [{actives}]"


def _paid(program: RankedProgram) -> Iterator[str]:
    cost = program.cost
    if cost.per_acre is not None:
        text = (
            f"Materials {cost.per_1000_ft2:.2f} {cost.currency} per 1000 ft2, {cost.per_acre:.2f} per acre. {cost.text}"
        )
        yield wrapped(text, "     ", "       ")
    elif cost.text:
        yield wrapped(f"Cost not known: {cost.text}", "     ", "       ")
    for supply in program.supply:
        yield wrapped(supply.text, "     ", "       ")


def _lines(parts: Iterable[str]) -> str:
    return "\n".join(parts).rstrip() + "\n"


def _sources(sources: dict[str, Any]) -> Iterator[str]:
    yield "Sources"
    for key, source in sources.items():
        yield wrapped(f"{key} ({source.basis}): {source.citation}", "  ", "    ")


def ending_lines(notices: Iterable[str], sources: dict[str, Any], version: str) -> Iterator[str]:
    yield "Before you spray"
    for notice in notices:
        yield wrapped(notice, "  - ")
    yield ""
    yield from _sources(sources)
    yield ""
    yield f"Knowledge version {version}."


def recommendation_text(answer: Recommendation) -> str:
    """A recommendation for people."""
    return _lines(_recommendation(answer))


def _recommendation(answer: Recommendation) -> Iterator[str]:
    yield wrapped(answer.headline)
    yield ""
    yield from _below_headline(answer)


def _below_headline(answer: Recommendation) -> Iterator[str]:
    if answer.no_treatment is not None:
        yield wrapped(f"[stop] {answer.no_treatment.text}")
        yield from _statements(answer.no_treatment.reasons[1:], "-")
        yield wrapped(f"Come back: {answer.no_treatment.come_back}")
        yield ""
    yield from _house(answer)
    yield from caution_lines(answer.cautions)
    yield f"Programs ({answer.considered} considered)"
    for program in answer.ranked:
        yield from _program(program)
    if answer.turned_down:
        yield "Turned down"
        for item in answer.turned_down:
            yield wrapped(f"[stop] {item.name}: {' '.join(stop.text for stop in item.stops)}", "  ", "    ")
        yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def _house(answer: Recommendation) -> Iterator[str]:
    house = answer.house_evidence
    if house is None:
        return
    yield wrapped(house.text)
    for text in house.changed:
        yield wrapped(text, "  - ")
    for record in house.records:
        yield wrapped(record.text, "  ", "    ")
        yield f"    {band(record.posterior.low, record.posterior.likely, record.posterior.high)}"
    yield ""


def quick_answer_text(answer: QuickAnswer) -> str:
    """A quick answer for people: its sentence, which weed was understood, then the recommendation."""
    return _lines(_quick(answer))


def _quick(answer: QuickAnswer) -> Iterator[str]:
    weed, situation = answer.weed, answer.situation
    understood = f"{weed.name} ({weed.scientific_name})"
    if weed.alternatives:
        understood += f"; it may also mean {', '.join(weed.alternatives)}"
    yield wrapped(answer.recommendation.headline)
    yield ""
    place = f"{situation.date.isoformat()}, {situation.zone}, {', '.join(situation.turf)}"
    yield wrapped(f"Understood as {understood}. {place}.")
    yield ""
    yield from _below_headline(answer.recommendation)


def why_not_text(answer: WhyNot) -> str:
    """What stands against an active or mixture, for people."""
    return _lines(_why_not(answer))


def _why_not(answer: WhyNot) -> Iterator[str]:
    name = " + ".join(answer.actives)
    if answer.best is None:
        yield wrapped(f"{name}: not here.")
        for stop in answer.stops:
            yield wrapped(f"[stop] {stop.text}", "  ", "    ")
        yield from caution_lines(answer.cautions)
    else:
        yield wrapped(f"{name} passes every stop here and ranks {answer.rank}.")
        for sentence in answer.behind:
            yield wrapped(sentence, "  - ")
        yield ""
        yield from _program(answer.best)
    yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def expectation_text(answer: Expectation) -> str:
    """Expected control and injury of a stated program, for people."""
    return _lines(_expectation(answer))


def _expectation(answer: Expectation) -> Iterator[str]:
    yield wrapped(_expected_headline(answer))
    yield ""
    for shown in answer.control:
        yield from control_lines(shown)
        for part in shown.parts:
            yield wrapped(part.text, "       - ")
    for injury in answer.turf_injury:
        yield injury_line(injury)
    yield ""
    if answer.stops:
        yield "Stops that stand against it"
        for stop in answer.stops:
            yield wrapped(f"[stop] {stop.text}", "  ", "    ")
        yield ""
    yield from caution_lines(answer.cautions)
    yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def _expected_headline(answer: Expectation) -> str:
    figures = [
        f"no figure for {shown.name}"
        if shown.low is None or shown.likely is None or shown.high is None
        else f"{shown.likely:.0f} % of {shown.name} ({shown.low:.0f} to {shown.high:.0f})"
        for shown in answer.control
    ]
    days = answer.control[0].days_after
    stops = {0: "", 1: " One stop stands against it here."}.get(
        len(answer.stops), f" {len(answer.stops)} stops stand against it here."
    )
    return f"Expected control {days} days after the last application: {'; '.join(figures)}.{stops}"


def coverage_text(counts: dict[str, Any]) -> str:
    """Coverage as a table."""
    lines = [f"Knowledge version {counts['knowledge_version']}", ""]
    for part in ("entries", "responses", "tolerance"):
        lines.append(part)
        for name, value in counts[part].items():
            if isinstance(value, dict):
                lines.append(f"  {name.replace('_', ' ')}: " + ", ".join(f"{k} {v}" for k, v in value.items()))
            else:
                lines.append(f"  {name.replace('_', ' ')}: {value}")
        lines.append("")
    lines.append("actives without a response: " + (", ".join(counts["actives_without_response"]) or "none"))
    return "\n".join(lines) + "\n"


def matrix_text(found: Matrix) -> str:
    """The matrix as lists: for each weed what works, what helps, and what does not."""
    allowed = {column.active: column.name for column in found.columns if column.allowed}
    lines = [f"{found.turf}, {found.zone}, {found.date} ({found.season}), {found.site_use}, {found.purpose}", ""]
    for row in found.rows:
        lines.append(f"{row.name} ({', '.join(row.stages)})")
        cells = sorted((cell for cell in row.cells if cell.active in allowed), key=lambda c: (-c.likely, c.active))
        told = [f"{allowed[cell.active]} {cell.likely:.0f}" for cell in cells if round(cell.likely) >= _WORTH_NAMING]
        lines.append(wrapped(", ".join(told) + " % likely" if told else "nothing recorded does much", "  "))
    barred = [f"{c.name} ({c.stops[0].code if c.stops else 'no rate'})" for c in found.columns if not c.allowed]
    lines += ["", wrapped("not allowed here: " + ", ".join(barred), "", "  ")]
    return "\n".join(lines) + "\n"


def identification_text(found: Identification) -> str:
    """Weeds that fit, and what to look at next."""
    whole = len(found.possible) + len(found.ruled_out)
    lines = [f"{len(found.possible)} of {whole} weeds fit"]
    for item in found.possible:
        lines.append(wrapped(f"{item.name} ({item.weed}): {item.recognise}", "  ", "    "))
    for question in found.ask_next:
        answers = ", ".join(f"{answer} {count}" for answer, count in question.counts.items())
        lines.append(wrapped(f"look at {question.trait}: {question.question} {answers}", "", "  "))
    return "\n".join(lines) + "\n"


def calibration_text(found: Calibration) -> str:
    """The calibration as tables: whole, by group, by timing, and the worst misses."""
    lines = [
        f"{found.results} published results; error is the distance from likely to the printed range",
        "",
        f"{'':28}{'results':>8}{'mean error':>14}{'inside the band':>18}",
        _tally_line("all", found.results, found.mean_absolute_error, found.inside_share),
        *(_tally_line(t.group, t.results, t.mean_absolute_error, t.inside_share) for t in found.timings),
        *(_tally_line(t.group, t.results, t.mean_absolute_error, t.inside_share) for t in found.groups),
    ]
    if found.worst:
        lines += ["", "worst misses"]
    for miss in found.worst:
        printed = "{:.0f} to {:.0f}".format(*miss.printed)
        what = (
            f"{miss.weed}, {miss.stage}: {miss.program}, {miss.days_after} days after: printed {printed} %, "
            f"expected {miss.low:.0f} to {miss.high:.0f}, likely {miss.likely:.0f} % "
            f"(off by {miss.error:.0f} points; {', '.join(miss.sources)}"
            + (f"; assumed {', '.join(miss.assumed)})" if miss.assumed else ")")
        )
        lines.append(wrapped(what, "  ", "    "))
    if found.unanswered:
        lines += ["", wrapped("no figure here for: " + ", ".join(found.unanswered), "")]
    return "\n".join(lines) + "\n"


def _tally_line(name: str, results: int, error: float, inside: float) -> str:
    return f"{name:28}{results:>8}{error:>7.1f} points{100 * inside:>16.0f} %"
