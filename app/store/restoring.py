"""Putting an archive in the place of what is kept: all of it in one transaction, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Column, Connection, Engine, MetaData, Table, insert, select
from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError

from app.store import archive
from app.store.archive import Archive, Row, private, refuse, tables
from app.store.models import Base
from app.store.opening import Store, migrate, open_in_memory
from app.store.settings import PRIVATE

_LISTS = frozenset({("trial", "evidence")})


def restore(
    store: Store,
    data: bytes,
    *,
    check: Callable[[Store], object] | None = None,
    before: Callable[[Connection], object] | None = None,
) -> dict[str, int]:
    """Replace everything in a store by what an archive holds; on any fault nothing is changed.

    Parameters
    ----------
    check : callable, optional
        Called with a store in memory that holds the archive; it raises where that cannot be used.
    before : callable, optional
        Called with the connection that replaces, while nobody else can write and before anything is changed.

    Returns
    -------
    dict of str to int
        Rows restored, by table.

    Raises
    ------
    InputError
        When it is no archive of ours, damaged, or from a newer version.
    """
    rows = _brought_up(archive.read(data), check)
    with store.session() as session:
        connection = session.connection()
        _keep_others_out(connection)
        if before is not None:
            before(connection)
        try:
            _replace(connection, rows)
        except (DataError, IntegrityError) as error:
            refuse("holds what this database does not take", error)
    return {name: len(found) for name, found in rows.items()}


def _brought_up(held: Archive, check: Callable[[Store], object] | None) -> dict[str, list[Row]]:
    """The rows as the newest revision holds them, by way of a store in memory at their own."""
    passing = open_in_memory(to=held.revision)
    try:
        _fill(passing.engine, held.rows)
        migrate(passing)
        if check is not None:
            check(passing)
        with passing.engine.connect() as connection:
            return {
                table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
                for table in tables(Base.metadata)
            }
    finally:
        passing.close()


def _fill(engine: Engine, rows: dict[str, list[Row]]) -> None:
    metadata = MetaData()
    metadata.reflect(engine)
    wanted = {table.name: table for table in tables(metadata)}
    if set(rows) != set(wanted):
        missing = ", ".join(sorted(set(wanted) - set(rows))) or "nothing"
        refuse(f"is damaged: it lacks {missing}, or holds what it should not")
    for name, table in wanted.items():
        typed = [_typed(table, row) for row in rows[name] if set(row) == set(table.columns.keys())]
        if len(typed) != len(rows[name]):
            refuse(f"is damaged: {name} does not hold what it should")
        # What is secret is never written; where it stands in an archive, it was put there by somebody else.
        kept = [row for row in typed if not private(name, row)]
        if not kept:
            continue
        try:
            with engine.begin() as connection:
                connection.execute(insert(table), kept)
        except (SQLAlchemyError, OverflowError) as error:
            refuse(f"is damaged: {name} cannot be read back", error)


def _typed(table: Table, row: Row) -> Row:
    """A row of text and numbers as its columns take it."""
    return {key: _value(table.c[key], value) for key, value in row.items()}


def _value(column: Column[Any], value: Any) -> Any:
    kind = column.type.python_type
    fits: bool
    if value is None:
        fits = bool(column.nullable)
    elif kind in (datetime, date) and isinstance(value, str):
        try:
            return _moment(value) if kind is datetime else date.fromisoformat(value)
        except (ValueError, OverflowError):
            fits = False
    else:
        # A column of JSON, whose kind is told as `object`, holds a document unless it is named as a list.
        document = list if (column.table.name, column.name) in _LISTS else dict
        wanted: Any = {float: (int, float), object: document}.get(kind, kind)
        fits = isinstance(value, wanted) and isinstance(value, bool) == (kind is bool)
    if not fits:
        refuse(f"is damaged: {column.table.name} does not hold what it should in {column.name}")
    return value


def _moment(text: str) -> datetime:
    told = datetime.fromisoformat(text)
    return told.replace(tzinfo=UTC) if told.tzinfo is None else told.astimezone(UTC)


def _keep_others_out(connection: Connection) -> None:
    """PostgreSQL lets others write beside a transaction unless it is told not to; they go on reading."""
    if connection.dialect.name == "postgresql":
        names = ", ".join(table.name for table in tables(Base.metadata))
        connection.exec_driver_sql(f"LOCK TABLE {names} IN SHARE ROW EXCLUSIVE MODE")


def _replace(connection: Connection, rows: dict[str, list[Row]]) -> None:
    counted = {table.name: _as_counted(connection, table, rows[table.name]) for table in tables(Base.metadata)}
    for table in reversed(tables(Base.metadata)):
        kept = table.c.key.not_in(PRIVATE) if table.name == "setting" else None
        connection.execute(table.delete() if kept is None else table.delete().where(kept))
    for table in tables(Base.metadata):
        if counted[table.name]:
            connection.execute(insert(table), counted[table.name])
    _restart_counters(connection)


def _as_counted(connection: Connection, table: Table, rows: list[Row]) -> list[Row]:
    """The rows, each that changes what is stored with a version above it.

    A form that was opened before must not find its version again on something else.
    """
    if "version" not in table.c:
        return rows
    name = "slug" if "slug" in table.c else "key"
    stored = {row[name]: dict(row) for row in connection.execute(select(table)).mappings()}
    return [_above(row, stored.get(row[name])) for row in rows]


def _above(row: Row, now: Row | None) -> Row:
    if now is None or {**now, "id": row["id"]} == row:
        return row
    return {**row, "version": max(row["version"], now["version"] + 1)}


def _restart_counters(connection: Connection) -> None:
    """PostgreSQL counts ids by itself; after rows that bring theirs, it goes on behind the highest."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables(Base.metadata):
        if "id" in table.c:
            connection.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
            )
