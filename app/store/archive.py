"""Everything that is kept, as one archive: a zip of tables as JSON lines with a manifest that can be checked."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, NoReturn

from sqlalchemy import Connection, MetaData, Table, select

from app.engine.errors import FieldFault, InputError
from app.store.models import Base
from app.store.opening import Store, newest_revision, revision_known, revision_of
from app.store.settings import PRIVATE

FORMAT = 1
MANIFEST = "manifest.json"
MOST_BYTES = 256 * 1024 * 1024
MOST_FILES = 50
# What belongs to one installation and one moment stays there: failed log-ins, files not yet confirmed.
_LEFT_OUT = ("failed_login", "pending_import", "alembic_version")
_PACKING = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)

Row = dict[str, Any]


@dataclass(frozen=True)
class Archive:
    """What an archive holds, checked against its manifest: the rows of each table at a revision."""

    revision: str
    rows: dict[str, list[Row]]


def write(store: Store, now: datetime, program_version: str, knowledge_version: str) -> bytes:
    """The archive of a store as it stands at one moment.

    Parameters
    ----------
    now : datetime
        The time to note in it, UTC.
    """
    with store.snapshot() as connection:
        return written(connection, now, program_version, knowledge_version)


def written(connection: Connection, now: datetime, program_version: str, knowledge_version: str) -> bytes:
    """The archive of what a connection sees."""
    files: dict[str, bytes] = {}
    counts: dict[str, int] = {}
    revision = revision_of(connection)
    for table in tables(_metadata_at(connection, revision)):
        lines = [json.dumps(row, ensure_ascii=False, sort_keys=True) for row in _rows(connection, table)]
        files[f"{table.name}.jsonl"] = "".join(f"{line}\n" for line in lines).encode()
        counts[f"{table.name}.jsonl"] = len(lines)
    manifest = {
        "format": FORMAT,
        "revision": revision,
        "program": program_version,
        "knowledge": knowledge_version,
        "written": now.astimezone(UTC).isoformat(),
        "files": {
            name: {"sha256": hashlib.sha256(data).hexdigest(), "rows": counts[name]} for name, data in files.items()
        },
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in {MANIFEST: json.dumps(manifest, indent=1).encode(), **files}.items():
            # A fixed time: equal stores give equal files but for the manifest.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def tables(metadata: MetaData) -> list[Table]:
    """The tables that an archive holds, each behind those it refers to."""
    return [table for table in metadata.sorted_tables if table.name not in _LEFT_OUT]


def _metadata_at(connection: Connection, revision: str | None) -> MetaData:
    """The tables as they stand: those of the models, or of an older revision as the database tells them."""
    if revision == newest_revision():
        return Base.metadata
    found = MetaData()
    found.reflect(connection)
    return found


def _rows(connection: Connection, table: Table) -> Iterator[Row]:
    for row in connection.execute(select(table).order_by(*table.primary_key.columns)).mappings():
        if not private(table.name, row):
            yield {key: _plain(value) for key, value in row.items()}


def private(table: str, row: Any) -> bool:
    """Whether a row never leaves this installation, nor comes in from elsewhere: a key or a password."""
    return table == "setting" and row["key"] in PRIVATE


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        # A database may tell a time in its own zone, or without one, which is UTC.
        return (value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def read(data: bytes) -> Archive:
    """What an archive holds, everything checked.

    Raises
    ------
    InputError
        When it is no archive of ours, damaged, from a newer version, or holds too much.
    """
    files = _unpacked(data)
    manifest = _manifest(files)
    rows: dict[str, list[Row]] = {}
    for name, told in manifest["files"].items():
        found = files.get(name)
        if found is None or hashlib.sha256(found).hexdigest() != told["sha256"]:
            refuse(f"is damaged: {name} is not as it was written")
        rows[name.removesuffix(".jsonl")] = held = _lines(name, found)
        if len(held) != told["rows"]:
            refuse(f"is damaged: {name} holds {len(held)} rows and not {told['rows']}")
    return Archive(str(manifest["revision"]), rows)


def _unpacked(data: bytes) -> dict[str, bytes]:
    """The files in a zip, never more than the limit whatever it says of itself."""
    if len(data) > MOST_BYTES:
        _too_much()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            held = archive.infolist()
            if sum(item.file_size for item in held) > MOST_BYTES:
                _too_much()
            # Only these two are unpacked by the piece, so that a false size costs no memory.
            if len(held) > MOST_FILES or any(item.compress_type not in _PACKING for item in held):
                refuse("is no backup of this program")
            return {item.filename: _content(archive, item) for item in held}
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, ValueError) as error:
        refuse("is damaged or no backup of this program", error)
    except RuntimeError as error:
        # What zipfile raises for a password and, by a subclass, for a packing that it does not know.
        refuse("is locked or packed in a way that backups of this program are not", error)


def _content(archive: zipfile.ZipFile, item: zipfile.ZipInfo) -> bytes:
    with archive.open(item) as file:
        return file.read(item.file_size)


def _manifest(files: dict[str, bytes]) -> dict[str, Any]:
    try:
        manifest = json.loads(files[MANIFEST])
        number, revision = manifest["format"], manifest["revision"]
        complete = all({"sha256", "rows"} <= set(told) for told in manifest["files"].values())
    except (KeyError, ValueError, TypeError, AttributeError, RecursionError) as error:
        refuse("is no backup of this program: its manifest is missing or cannot be read", error)
    if not complete or not isinstance(number, int):
        refuse("is no backup of this program: its manifest is not complete")
    if number > FORMAT or not revision_known(str(revision)):
        by = manifest.get("program", "unknown")
        refuse(f"was written by a newer version of the program ({by}); restore it with that version")
    return dict(manifest)


def _lines(name: str, data: bytes) -> list[Row]:
    try:
        # Split at line feeds alone: a text may hold other characters that end a line elsewhere.
        *lines, rest = data.decode().split("\n")
        rows = [json.loads(line, parse_constant=_no_number) for line in lines]
    except (ValueError, RecursionError) as error:
        refuse(f"is damaged: {name} cannot be read", error)
    if rest or not all(isinstance(row, dict) for row in rows):
        refuse(f"is damaged: {name} does not hold what it should")
    return rows


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _too_much() -> NoReturn:
    refuse(f"holds more than {MOST_BYTES // 1024 // 1024} MiB and is not read")


def refuse(what: str, cause: Exception | None = None) -> NoReturn:
    """Say why an archive cannot be used."""
    raise InputError([FieldFault("backup", f"{what}; nothing was changed")]) from cause
