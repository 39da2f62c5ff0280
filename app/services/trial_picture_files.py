"""Every picture of an analysis, each under the name of a file."""

from __future__ import annotations

from collections.abc import Iterator

from app.store.names import slug_of
from app.trials.output import TrialAnswer
from app.trials.pictures import Picture, bars, course, dose


def pictures_of(answer: TrialAnswer) -> dict[str, Picture]:
    """The bars of every weed and date, its dose curves, and the courses, by a name that a file can have."""
    found: dict[str, Picture] = {}
    for name, picture in _pictures(answer):
        found[slug_of(name, found)] = picture
    return found


def _pictures(answer: TrialAnswer) -> Iterator[tuple[str, Picture]]:
    designs: dict[tuple[str, str], str] = {}
    for analysis in answer.analyses:
        designs[analysis.trial, analysis.weed] = analysis.design_text
        # A long name of a trial must not push out what tells its pictures apart.
        stem = f"{analysis.trial[:60]} {analysis.weed[:30]} {analysis.days_after} days"
        yield stem, bars(analysis)
        for curve in analysis.dose_curves:
            told = (analysis.weed_name, analysis.trial, analysis.days_after, analysis.design_text, analysis.alpha)
            yield f"{stem} dose", dose(curve, *told)
    for line in answer.courses:
        yield f"{line.trial[:60]} {line.weed[:30]} course", course(line, designs.get((line.trial, line.weed), ""))
