"""Backup and restore: one archive with everything that is kept."""

from __future__ import annotations

import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from app.engine.errors import FieldFault, InputError
from app.services.knowledge_service import knowledge_base
from app.store import archive
from app.store.opening import Store, backup_folder
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
    data = archive_of(store, now)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).replace(path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError([FieldFault("backup", f"{path} cannot be written: {error.strerror or error}")]) from error


def keep_aside(store: Store, now: datetime | None = None) -> Path:
    """Write the archive into the folder of backups, before something that cannot be undone."""
    moment = now or datetime.now(UTC)
    folder = backup_folder(store)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / archive_name(moment)
    number = 1
    while path.exists():
        number += 1
        path = folder / archive_name(moment).replace(".zip", f"-{number}.zip")
    write_backup(store, path, moment)
    return path


def restore_backup(store: Store, data: bytes, now: datetime) -> tuple[dict[str, int], Path]:
    """Replace everything by what an archive holds; what was there is kept aside first.

    Returns
    -------
    tuple
        Rows restored by table, and the archive of what was there.

    Raises
    ------
    InputError
        When the archive cannot be used; nothing is changed then.
    """
    before = keep_aside(store, now)
    return archive.restore(store, data), before
