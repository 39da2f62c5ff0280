"""What a trial says, as text for people, at eighty columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from app.text import WIDTH, wrapped
from app.trials.output import (
    Analysis,
    AnovaRow,
    Comparison,
    Course,
    DoseCurve,
    LawnRating,
    LeastDifference,
    MeanRow,
    Scale,
    Separation,
    Synthesis,
    TrialAnswer,
    TrialReport,
    Warned,
)

_MOST_PAIRS = 10
_MOST_DATES = 8
_LEAST_NAME = 16
_LEAST_P = 0.0001
_SPREAD_UNIT: dict[Scale, str] = {"percent": "pts", "arcsine": "deg"}


def answer_text(answer: TrialAnswer) -> str:
    """Every weed and date of a file of plots, the courses over the dates, and what weakens the claims."""
    return _text(_answer(answer))


def report_text(report: TrialReport) -> str:
    """Everything that one trial says."""
    return _text(_report(report))


def synthesis_text(found: Synthesis) -> str:
    """Several trials of one question: the pooled figure, each trial, how they differ."""
    return _text(_synthesis(found, "pts" if found.difference else "%"))


def _text(lines: Iterable[str]) -> str:
    told = list(lines)
    # Parts end with an empty line each, and two in a row say no more than one.
    kept = [line for before, line in zip(["", *told], told, strict=False) if before or line]
    return "\n".join(kept).rstrip() + "\n"


def _answer(answer: TrialAnswer) -> Iterator[str]:
    yield from _parts(answer.analyses, answer.courses, answer.lawns, answer.warnings)
    for notice in answer.notices:
        yield wrapped(notice, "  - ")


def _report(report: TrialReport) -> Iterator[str]:
    what = "treated lawns, rated without a check" if report.kind == "lawns" else "replicated plots"
    applied = f"applied {report.applied}" if report.applied is not None else ""
    yield wrapped("; ".join(part for part in (f"{report.trial}: {what}", report.place, applied) if part))
    yield ""
    yield from _parts(report.analyses, report.courses, report.lawns, report.warnings)


def _parts(
    analyses: Sequence[Analysis], courses: Sequence[Course], lawns: Sequence[LawnRating], warnings: Sequence[Warned]
) -> Iterator[str]:
    for analysis in analyses:
        yield from _analysis(analysis)
    for course in courses:
        yield from _course(course)
    if lawns:
        yield "Treated lawns"
        for rating in lawns:
            yield wrapped(f"{rating.trial}, {rating.text}", "  - ", "    ")
        yield ""
    if warnings:
        yield from _warnings(warnings)
        yield ""


def _warnings(warnings: Iterable[Warned]) -> Iterator[str]:
    for warning in warnings:
        yield wrapped(f"[warning] {warning.text}", "  ", "    ")


def _analysis(found: Analysis) -> Iterator[str]:
    yield _title(f"{found.trial}: {found.weed_name}, {found.days_after} days after application")
    yield wrapped(found.headline)
    yield ""
    yield from _means(found.shown, found.alpha)
    yield from _anova(found.shown.anova, found.shown.scale)
    yield from _differences(found.shown)
    yield ""
    yield wrapped(found.design_text, "  ")
    yield wrapped(found.transformation.reason, "  ")
    if found.check is not None:
        yield wrapped(found.check.text, "  ")
    yield ""
    yield from _pairs(found.shown.comparisons)
    yield from _beside(found)
    for missing in found.missing:
        yield wrapped(f"[missing] {missing.treatment}, replicate {missing.rep}: no rating at this date", "  ", "    ")
    yield from _warnings(found.warnings)
    yield ""


def _title(text: str) -> str:
    title = wrapped(text)
    return f"{title}\n{'-' * min(WIDTH, max(len(line) for line in title.splitlines()))}"


def _beside(found: Analysis) -> Iterator[str]:
    """Mixtures against their parts, dose curves and turf injury, where the trial tells of them."""
    if found.mixtures:
        yield "Mixtures against their parts"
        for joint in found.mixtures:
            yield wrapped(joint.text, "  - ", "    ")
        yield ""
    for curve in found.dose_curves:
        yield from _dose(curve)
    if found.injury:
        yield "Turf injury"
        yield from _table((("treatment", "n", "mean [%]", "sd [pts]"),), [_injury_cells(row) for row in found.injury])
        yield ""


def _injury_cells(row: MeanRow) -> tuple[str, ...]:
    return (row.treatment, str(row.n), f"{row.mean:.1f}", _figure(row.sd, ".1f"))


def _means(shown: Separation, alpha: float) -> Iterator[str]:
    unit = _SPREAD_UNIT[shown.scale]
    heads = (
        ("", "", "mean", "se", f"{100 * (1 - alpha):g} % interval", "sd", "LSD", "HSD"),
        ("treatment", "n", "[%]", f"[{unit}]", "[%]", "[pts]", "", ""),
    )
    yield from _table(heads, [_mean_cells(row) for row in shown.means])
    angles = "; analysed as angles (deg: degrees), means turned back into percent" if shown.scale == "arcsine" else ""
    yield wrapped(f"Means that share a letter are not different; pts: percentage points{angles}.", "  ")
    yield ""


def _mean_cells(row: MeanRow) -> tuple[str, ...]:
    interval = "" if row.low is None or row.high is None else f"{row.low:.1f} to {row.high:.1f}"
    letters = (row.letter_lsd or "", row.letter_hsd or "") if row.in_analysis else ("-", "-")
    return (
        *(row.treatment, str(row.n), f"{row.mean:.1f}", _figure(row.se, ".2f"), interval),
        *(_figure(row.sd, ".1f"), *letters),
    )


def _anova(rows: Sequence[AnovaRow], scale: Scale) -> Iterator[str]:
    if not rows:
        return
    yield f"Analysis of variance (SS and MS in squared {_SPREAD_UNIT[scale]})"
    yield from _table(
        (("source", "df", "SS", "MS", "F", "p"),),
        [
            (row.source, str(row.df), f"{row.ss:.2f}", _figure(row.ms, ".2f"), _figure(row.f, ".2f"), _p(row.p))
            for row in rows
        ],
    )
    yield ""


def _differences(shown: Separation) -> Iterator[str]:
    unit = "percentage points" if shown.scale == "percent" else "degrees"
    yield wrapped(_least("LSD", shown.lsd, unit), "  ", "    ")
    if not shown.protected:
        yield wrapped("Treatments differ by no more than chance would: letters of the LSD are not protected.", "  ")
    yield wrapped(_least("HSD", shown.hsd, unit), "  ", "    ")
    if shown.cv_pct is not None:
        mean = f"{shown.grand_mean:.1f} {'%' if shown.scale == 'percent' else 'degrees'}"
        yield f"  coefficient of variation {shown.cv_pct:.1f} %, grand mean {mean}"


def _least(name: str, least: LeastDifference, unit: str) -> str:
    if least.value is None:
        return f"{name}: none, for no error can be reckoned"
    mean = "" if least.exact else " (mean over the pairs, whose replicates differ in number)"
    return f"{name} at {least.alpha:g}: {least.value:.2f} {unit}{mean}"


def _pairs(pairs: Sequence[Comparison]) -> Iterator[str]:
    for pair in pairs[:_MOST_PAIRS]:
        yield wrapped(pair.text, "  - ", "    ")
    if len(pairs) > _MOST_PAIRS:
        yield f"  - and {len(pairs) - _MOST_PAIRS} more pairs; --json tells all of them"
    if pairs:
        yield ""


def _dose(curve: DoseCurve) -> Iterator[str]:
    adjuvant = f" with {curve.adjuvant}" if curve.adjuvant is not None else ""
    yield wrapped(f"Dose response of {' + '.join(curve.actives)}{adjuvant} [{curve.unit}]")
    yield wrapped(curve.text, "  ")
    for effective in curve.effective:
        if effective.text not in curve.text:
            yield wrapped(effective.text, "  - ", "    ")
    yield ""


def _course(course: Course) -> Iterator[str]:
    span = f"{course.first_day} to {course.last_day} days after application"
    yield _title(f"{course.trial}: {course.weed_name} from {span}")
    yield wrapped(course.text)
    yield ""
    days = sorted({day for points in course.points.values() for day, _ in points})
    yield "Mean control [%] by days after application"
    for first in range(0, len(days), _MOST_DATES):
        shown = days[first : first + _MOST_DATES]
        rows = [
            (treatment, *(_figure(dict(points).get(day), ".1f") for day in shown))
            for treatment, points in course.points.items()
        ]
        yield from _table((("treatment", *(str(day) for day in shown)),), rows)
    yield ""
    if course.separation is not None:
        yield "Average control over the dates"
        yield from _means(course.separation, course.separation.lsd.alpha)
        yield from _differences(course.separation)
        yield ""


def _synthesis(found: Synthesis, unit: str) -> Iterator[str]:
    yield wrapped(found.question)
    yield wrapped(found.text)
    yield ""
    sure = f"{100 * (1 - found.alpha):g} %"
    yield from _table(
        (("trial", "days after", f"estimate [{unit}]", f"{sure} interval", "weight [%]"),),
        [
            (
                f"{effect.trial}, {effect.place}" if effect.place else effect.trial,
                *(str(effect.days_after), f"{effect.estimate:.1f}"),
                *(f"{effect.low:.1f} to {effect.high:.1f}", f"{effect.weight_pct:.0f}"),
            )
            for effect in found.effects
        ],
    )
    yield ""
    yield f"  all together {found.estimate:.1f} {unit} ({found.low:.1f} to {found.high:.1f})"
    if found.expect_low is not None and found.expect_high is not None:
        yield f"  the next trial is expected between {found.expect_low:.1f} and {found.expect_high:.1f} {unit}"
    if unit == "pts":
        yield "  pts: percentage points"
    yield (
        f"  differences between trials: Q {found.q:.2f} on {found.q_df} df, p {_p(found.q_p)}; "
        f"I2 {found.i2_pct:.0f} %, tau2 {found.tau2:.2f}"
    )
    yield ""
    yield from _warnings(found.warnings)


def _p(value: float | None) -> str:
    if value is None:
        return ""
    return f"<{_LEAST_P:g}" if value < _LEAST_P else f"{value:.4f}"


def _figure(value: float | None, form: str) -> str:
    return "" if value is None else format(value, form)


def _table(heads: Sequence[Sequence[str]], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """A table whose first column is text and takes what the figures leave of the line, in folds where it must."""
    wide = [max(len(cells[column]) for cells in (*heads, *rows)) for column in range(1, len(heads[0]))]
    left = WIDTH - 2 - sum(2 + width for width in wide)
    first = max(_LEAST_NAME, min(left, max(len(cells[0]) for cells in (*heads, *rows))))
    for cells in (*heads, *rows):
        name, *more = _folded(cells[0], first)
        figures = "".join(f"  {cell:>{width}}" for cell, width in zip(cells[1:], wide, strict=True))
        yield f"  {name:<{first}}{figures}".rstrip()
        yield from (f"    {line}" for line in more)


def _folded(text: str, width: int) -> list[str]:
    """The text in lines of a width; at least one, which may be empty."""
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]
