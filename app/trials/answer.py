"""What a file of plots says: all of its trials."""

from __future__ import annotations

from collections.abc import Sequence

from app.trials.analysis import report
from app.trials.output import TrialAnswer, Warned
from app.trials.trial import Trial
from knowledge.base import KnowledgeBase


def answer(
    base: KnowledgeBase, trials: Sequence[Trial], alpha: float = 0.05, notices: Sequence[str] = ()
) -> TrialAnswer:
    """Analyse every trial.

    Raises
    ------
    InputError
        Where one cannot be analysed.
    """
    reports = [report(base, trial, alpha) for trial in trials]
    warned: dict[Warned, None] = dict.fromkeys(w for found in reports for w in found.warnings)
    return TrialAnswer(
        analyses=tuple(a for found in reports for a in found.analyses),
        courses=tuple(c for found in reports for c in found.courses),
        lawns=tuple(row for found in reports for row in found.lawns),
        warnings=tuple(warned),
        notices=tuple(notices),
    )
