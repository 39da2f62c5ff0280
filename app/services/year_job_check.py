"""Whether plans of the branch that come back from an archive can be read."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.season.year import YearAsked
from app.season.year_output import YearPlan
from app.services.validation import validated
from app.services.year_job_figures import read_figures
from app.services.year_job_shapes import kept_job
from app.services.year_job_sums import read_place
from app.store import year_jobs as kept

_STATES = (kept.WAITING, kept.PLANNED, kept.FAILED)


def check_jobs(session: Session) -> None:
    """Look at every job with its situations and properties.

    Raises
    ------
    InputError
        With what cannot be read.
    """
    known = set()
    for job in kept.every(session):
        kept_job(job)
        known.add(job.key)
        folds = set()
        for fold, asked, document in kept.whole_folds(session, job.key):
            folds.add(fold.fold)
            validated(YearAsked, asked)
            if fold.state not in _STATES:
                raise InputError([FieldFault("state", f"'{fold.state[:20]}' of a situation is none")])
            read_figures(fold)
            if fold.state == kept.PLANNED:
                validated(YearPlan, document.get("plan"))
        for place in kept.places(session, job.key):
            told = read_place(place)
            if {part.fold for part in told.parts} - folds or (place.fold is None) != (not told.parts):
                raise InputError([FieldFault("fold", f"{place.property} stands for a situation that is not there")])
    if lost := kept.jobs_of_rows(session) - known:
        raise InputError([FieldFault("job", f"situations or properties belong to {min(lost)}, which is not there")])
