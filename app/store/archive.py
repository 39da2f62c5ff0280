"""Everything that is kept, as one archive: a zip of tables as JSON lines with a manifest that can be checked."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any, NoReturn

from sqlalchemy import Connection, Date, DateTime, Engine, MetaData, Table, insert, select

from app.engine.errors import FieldFault, InputError
from app.store.models import Base
from app.store.opening import Store, migrate, newest_revision, open_in_memory, revision_known, revision_of
from app.store.settings import PRIVATE

FORMAT = 1
MANIFEST = "manifest.json"
MOST_BYTES = 256 * 1024 * 1024
# What belongs to one installation and one moment stays there: keys, the password, failed log-ins.
_LEFT_OUT = ("failed_login", "pending_import", "alembic_version")


def write(store: Store, now: datetime, program_version: str, knowledge_version: str) -> bytes:
    """The archive of a store.

    Parameters
    ----------
    now : datetime
        The time to note in it, UTC.
    """
    files: dict[str, bytes] = {}
    counts: dict[str, int] = {}
    with store.engine.execution_options(reads_only=True).connect() as connection:
        revision = revision_of(connection)
        for table in _tables(_metadata_at(connection, revision)):
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


def restore(store: Store, data: bytes) -> dict[str, int]:
    """Replace everything in a store by what an archive holds; on any fault nothing is changed.

    Returns
    -------
    dict of str to int
        Rows restored, by table.

    Raises
    ------
    InputError
        When it is no archive of ours, damaged, or from a newer version.
    """
    manifest, rows = _read(data)
    metadata, rows = _brought_up(manifest["revision"], rows)
    with store.session() as session:
        connection = session.connection()
        for table in reversed(_tables(metadata)):
            kept = table.c.key.not_in(PRIVATE) if table.name == "setting" else None
            connection.execute(table.delete() if kept is None else table.delete().where(kept))
        for table in _tables(metadata):
            if rows[table.name]:
                connection.execute(insert(table), rows[table.name])
        _restart_counters(connection, metadata)
    return {name: len(found) for name, found in rows.items()}


def _metadata_at(connection: Connection, revision: str | None) -> MetaData:
    """The tables as they stand: those of the models, or of an older revision as the database tells them."""
    if revision == newest_revision():
        return Base.metadata
    found = MetaData()
    found.reflect(connection)
    return found


def _tables(metadata: MetaData) -> list[Table]:
    return [table for table in metadata.sorted_tables if table.name not in _LEFT_OUT]


def _rows(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    for row in connection.execute(select(table).order_by(*table.primary_key.columns)).mappings():
        if table.name != "setting" or row["key"] not in PRIVATE:
            yield {key: _plain(value) for key, value in row.items()}


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


def _read(data: bytes) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """The manifest and the rows of each table file, everything checked."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if sum(item.file_size for item in archive.infolist()) > MOST_BYTES:
                _refuse(f"holds more than {MOST_BYTES // 1024 // 1024} MiB and is not read")
            files = {item.filename: archive.read(item) for item in archive.infolist()}
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, NotImplementedError) as error:
        _refuse("is damaged or no backup of this program", error)
    except RuntimeError as error:
        _refuse("is locked with a password; backups of this program are not", error)
    manifest = _manifest(files)
    rows = {}
    for name, told in manifest["files"].items():
        found = files.get(name)
        if found is None or hashlib.sha256(found).hexdigest() != told["sha256"]:
            _refuse(f"is damaged: {name} is not as it was written")
        rows[name.removesuffix(".jsonl")] = [json.loads(line) for line in found.decode().splitlines()]
    return manifest, rows


def _manifest(files: dict[str, bytes]) -> dict[str, Any]:
    try:
        manifest = json.loads(files[MANIFEST])
        number, revision = manifest["format"], manifest["revision"]
        complete = all({"sha256", "rows"} <= set(told) for told in manifest["files"].values())
    except (KeyError, ValueError, TypeError, AttributeError) as error:
        _refuse("is no backup of this program: its manifest is missing or cannot be read", error)
    if not complete or not isinstance(number, int):
        _refuse("is no backup of this program: its manifest is not complete")
    if number > FORMAT or not revision_known(str(revision)):
        by = manifest.get("program", "unknown")
        _refuse(f"was written by a newer version of the program ({by}); restore it with that version")
    return dict(manifest)


def _refuse(what: str, cause: Exception | None = None) -> NoReturn:
    raise InputError([FieldFault("backup", f"{what}; nothing was changed")]) from cause


def _brought_up(
    revision: str, rows: dict[str, list[dict[str, Any]]]
) -> tuple[MetaData, dict[str, list[dict[str, Any]]]]:
    """The rows as the newest revision holds them, by way of a store in memory at their own."""
    passing = open_in_memory(to=revision)
    try:
        _fill(passing.engine, rows)
        migrate(passing)
        metadata = MetaData()
        metadata.reflect(passing.engine)
        with passing.engine.connect() as connection:
            found = {
                table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
                for table in _tables(Base.metadata)
            }
    finally:
        passing.close()
    return Base.metadata, found


def _fill(engine: Engine, rows: dict[str, list[dict[str, Any]]]) -> None:
    metadata = MetaData()
    metadata.reflect(engine)
    for name, found in rows.items():
        table = metadata.tables.get(name)
        if table is None or any(set(row) != set(table.columns.keys()) for row in found):
            _refuse(f"is damaged: {name} does not hold what it should")
        if not found:
            continue
        try:
            with engine.begin() as connection:
                connection.execute(insert(table), [_typed(table, row) for row in found])
        except Exception as error:
            _refuse(f"is damaged: {name} cannot be read back", error)


def _typed(table: Table, row: dict[str, Any]) -> dict[str, Any]:
    """A row of text and numbers as its columns take it."""
    typed: dict[str, Any] = {}
    for key, value in row.items():
        kind = table.c[key].type
        if value is not None and isinstance(kind, DateTime):
            typed[key] = datetime.fromisoformat(value)
        elif value is not None and isinstance(kind, Date):
            typed[key] = date.fromisoformat(value)
        else:
            typed[key] = value
    return typed


def _restart_counters(connection: Connection, metadata: MetaData) -> None:
    """PostgreSQL counts ids by itself; after rows that bring theirs, it goes on behind the highest."""
    if connection.dialect.name != "postgresql":
        return
    for table in _tables(metadata):
        if "id" in table.c:
            connection.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
            )
