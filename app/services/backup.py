"""Backup and restore: one archive with everything that is kept."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from pydantic import ValidationError
from sqlalchemy import Connection
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError
from app.engine.house import Observed
from app.season.forecast import Forecast
from app.season.property import Customer, Property, ScoutingNote
from app.season.record import ApplicationRecord, Branch, FollowUp
from app.season.round import Round
from app.season.round_output import RoundPlan
from app.services.knowledge_service import knowledge_base
from app.services.sprayers import checked_sprayer
from app.services.validation import validated
from app.services.year_job_check import check_jobs
from app.services.year_question import YearDocument
from app.store import archive, products, restoring, sprayers, trials, years
from app.store import properties as places
from app.store import records as applications
from app.store.forecasts import FORECASTS
from app.store.opening import Store, backup_folder
from app.store.rounds import ROUNDS
from app.trials.trial import Trial
from app.version import program_version


def archive_of(store: Store, now: datetime) -> bytes:
    """The archive of everything that is kept."""
    return archive.write(store, now, program_version(), knowledge_base().version)


def archive_name(now: datetime) -> str:
    """A name for an archive written at a time."""
    return f"swardwright-{now.astimezone(UTC):%Y%m%d-%H%M%S}.zip"


def write_backup(store: Store, path: Path, now: datetime) -> None:
    """Write the archive to a file, whole or not at all.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    _write(archive_of(store, now), path)


def keep_aside(store: Store, now: datetime | None = None) -> Path:
    """Write the archive into the folder of backups, before something that cannot be undone.

    Raises
    ------
    InputError
        When it cannot be written there.
    """
    moment = now or datetime.now(UTC)
    return _put_aside(store, archive_of(store, moment), moment)


def restore_backup(store: Store, data: bytes, now: datetime) -> tuple[dict[str, int], Path]:
    """Replace everything by what an archive holds; what was there is kept aside first.

    Returns
    -------
    tuple
        Rows restored by table, and the archive of what was there.

    Raises
    ------
    InputError
        When the archive cannot be used, or what is there cannot be kept aside; nothing is changed then.
    """
    aside: list[Path] = []

    def before(connection: Connection) -> None:
        kept = archive.written(connection, now, program_version(), knowledge_base().version)
        aside.append(_put_aside(store, kept, now))

    counts = restoring.restore(store, data, check=_usable, before=before)
    return counts, aside[0]


def counted(counts: dict[str, int]) -> str:
    """What was restored, in words."""
    told = [f"{count} {_plural(name, count)}" for name, count in counts.items() if count]
    *others, last = told or ["nothing: the archive is empty"]
    return f"{', '.join(others)} and {last}" if others else last


# What the rows of a table are called, where its name does not say it.
_CALLED = {"scouting": "scouting note", "application": "application record", "application_change": "change of a record"}


def _plural(table: str, count: int) -> str:
    word = _CALLED.get(table, table.replace("_", " "))
    if count == 1:
        return word
    head, of, rest = word.partition(" of ")
    if head.endswith("y"):
        return f"{head[:-1]}ies{of}{rest}"
    return f"{head}es{of}{rest}" if head.endswith(("ch", "s")) else f"{head}s{of}{rest}"


# What looks at the rows of one kind, and what these are called in the sentence that refuses them. A new kind
# of thing that is kept adds its own.
Check = Callable[[Session], None]


def _usable(held: Store) -> None:
    """Refuse an archive with something that could not be read once it is restored."""
    with held.reading() as session:
        for what, check in CHECKS.items():
            try:
                check(session)
            except (ValidationError, InputError) as error:
                archive.refuse(f"holds a {what} that cannot be used", error)


def _products_sprayers_trials(session: Session) -> None:
    products.every(session)
    for item in sprayers.every(session):
        checked_sprayer({**item.document, "name": item.name})
    for trial in trials.every(session):
        _check_trial(trial)


def _check_trial(held: trials.Stored) -> None:
    validated(Trial, {**held.document, "name": held.name})
    for figures in held.evidence:
        validated(Observed, figures)


def _customers(session: Session) -> None:
    for item in places.CUSTOMERS.every(session):
        validated(Customer, {**item.document, "name": item.name})


def _properties(session: Session) -> None:
    for item in places.PROPERTIES.every(session):
        validated(Property, {**item.document, "name": item.name})


def _notes(session: Session) -> None:
    for item in places.every_note(session):
        validated(ScoutingNote, item.document)


def _branch(session: Session) -> None:
    for item in places.BRANCH.every(session):
        validated(Branch, item.document)


def _records(session: Session) -> None:
    for item in applications.found(session, applications.Wanted()):
        validated(ApplicationRecord, item.document)
        for change in applications.changes(session, item.key):
            validated(ApplicationRecord, change.before)
        for seen in applications.follow_ups(session, [item.key]):
            validated(FollowUp, seen.document)


def _rounds(session: Session) -> None:
    for item in ROUNDS.every(session):
        validated(Round, {**item.document["round"], "name": item.name})
        if item.document["plan"] is not None:
            validated(RoundPlan, item.document["plan"])


def _forecasts(session: Session) -> None:
    for item in FORECASTS.every(session):
        validated(Forecast, item.document)


def _years(session: Session) -> None:
    for item in years.every(session):
        held = validated(YearDocument, item.document)
        if held.asked.year != item.season:
            raise InputError([FieldFault("asked.year", f"is {held.asked.year} under the season {item.season}")])


CHECKS: dict[str, Check] = {
    "product, sprayer or trial": _products_sprayers_trials,
    "customer": _customers,
    "property": _properties,
    "scouting note": _notes,
    "branch": _branch,
    "record of an application": _records,
    "forecast": _forecasts,
    "round": _rounds,
    "plan of a year": _years,
    "plan of the branch": check_jobs,
}


def _put_aside(store: Store, data: bytes, moment: datetime) -> Path:
    folder = backup_folder(store)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError([FieldFault("backup", f"{folder} cannot be made: {error.strerror or error}")]) from error
    name = archive_name(moment).removesuffix(".zip")
    path, number = folder / f"{name}.zip", 1
    while path.exists():
        number += 1
        path = folder / f"{name}-{number}.zip"
    _write(data, path)
    return path


def _write(data: bytes, path: Path) -> None:
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError([FieldFault("backup", f"{path} cannot be written: {error.strerror or error}")]) from error
