"""Trials written as a file of plots, which is read back to equal trials."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from app.services.csv_text import guarded
from app.services.label_text import measure_text, written
from app.services.trial_columns import KNOWN
from app.trials.trial import Plot, Treatment, Trial

_UNTOLD = "NA"


def write_trials(trials: Iterable[Trial]) -> str:
    """The file with its headings; equal trials give equal text. Notes have no column."""
    told = io.StringIO(newline="")
    writer = csv.writer(told, lineterminator="\r\n")
    writer.writerow(KNOWN)
    for trial in trials:
        of_trial = {
            "trial": trial.name,
            "turf": trial.turf or "",
            "place": trial.place,
            "applied": trial.applied.isoformat() if trial.applied is not None else "",
            "season": trial.season or "",
            "design": trial.design or "",
            "kind": trial.kind,
        }
        made = {treatment.name: _of_treatment(treatment) for treatment in trial.treatments}
        stages = {treatment.name: treatment.stages for treatment in trial.treatments}
        for plot in trial.plots:
            cells = {**of_trial, **made[plot.treatment], **_of_plot(plot)}
            cells["stage"] = stages[plot.treatment].get(plot.weed, "")
            writer.writerow([guarded(cells[column]) for column in KNOWN])
    return told.getvalue()


def _of_treatment(treatment: Treatment) -> dict[str, str]:
    rates = [_UNTOLD if part.rate is None else measure_text(part.rate) for part in treatment.actives]
    forms = [part.form or _UNTOLD for part in treatment.actives]
    return {
        "treatment": treatment.name,
        "actives": "; ".join(part.active for part in treatment.actives),
        "rate": "; ".join(rates) if any(part.rate is not None for part in treatment.actives) else "",
        "form": "; ".join(forms) if any(part.form is not None for part in treatment.actives) else "",
        "adjuvant": treatment.adjuvant or "",
        "applications": "" if treatment.is_check else str(treatment.applications),
    }


def _of_plot(plot: Plot) -> dict[str, str]:
    figures = {name: getattr(plot, name) for name in ("control_pct", "injury_pct", "cover_pct", "cover_before_pct")}
    return {
        "weed": plot.weed,
        "days_after": str(plot.days_after),
        "rep": plot.rep,
        **{name: "" if value is None else written(value) for name, value in figures.items()},
    }
