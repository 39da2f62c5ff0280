"""What is kept under a key that the form carries, so that saving the same twice keeps it once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.store.changed import Changed

Document = dict[str, Any]


@dataclass(frozen=True)
class Stored:
    """A thing as it is kept."""

    key: str
    document: Document
    version: int
    changed_at: datetime


@dataclass(frozen=True)
class Keyed:
    """The things of one table; `kind` is what they are called in a sentence."""

    kind: str
    row: type[Any]

    def by_key(self, session: Session, key: str) -> Stored:
        """One of them.

        Raises
        ------
        UnknownId
            When there is none of that key.
        """
        row = session.scalar(select(self.row).where(self.row.key == key)) if is_key(key) else None
        if row is None:
            raise UnknownId(self.kind, key, ())
        return stored(row)

    def where(
        self, session: Session, *told: ColumnElement[bool], limit: int | None = None, offset: int = 0
    ) -> tuple[Stored, ...]:
        """Those for which all of this holds, the latest day first."""
        asked = select(self.row).where(*told).order_by(self.row.day.desc(), self.row.id.desc())
        return tuple(stored(row) for row in session.scalars(asked.limit(limit).offset(offset)))

    def keep(
        self, session: Session, key: str, document: Document, columns: Mapping[str, Any], now: datetime
    ) -> tuple[Stored, bool]:
        """Keep a new thing; True beside it where it is new, False where this key was kept before.

        Raises
        ------
        InputError
            For a key that is none, or where something else that must be single stands in its place.
        """
        if not is_key(key):
            raise InputError([FieldFault("key", "must be 8 to 64 small letters, digits or hyphens")])
        before = session.scalar(select(self.row).where(self.row.key == key))
        if before is not None:
            return stored(before), False
        row = self.row(key=key, document=document, changed_at=now)
        for column, value in columns.items():
            setattr(row, column, value)
        session.add(row)
        try:
            session.flush()
        except IntegrityError as error:
            raise InputError([FieldFault("key", f"this {self.kind} is kept already; open it to change it")]) from error
        return stored(row), True

    def update(
        self,
        session: Session,
        key: str,
        document: Document,
        version: int,
        now: datetime,
        columns: Mapping[str, Any] | None = None,
    ) -> Stored:
        """Change what stands at a version.

        Raises
        ------
        Changed
            When it was changed or removed meanwhile.
        """
        row = self._row_at(session, key, version)
        row.document, row.changed_at = document, now
        for column, value in (columns or {}).items():
            setattr(row, column, value)
        session.flush()
        return stored(row)

    def delete(self, session: Session, key: str, version: int) -> None:
        """Forget what stands at a version.

        Raises
        ------
        Changed
            When it was changed or removed meanwhile.
        """
        session.delete(self._row_at(session, key, version))
        session.flush()

    def _row_at(self, session: Session, key: str, version: int) -> Any:
        row = session.scalar(select(self.row).where(self.row.key == key).with_for_update()) if is_key(key) else None
        if row is None:
            raise Changed(self.kind, key, f"this {self.kind}", None, None)
        if row.version != version:
            raise Changed(self.kind, key, f"this {self.kind}", dict(row.document), row.version)
        return row


def is_key(text: str) -> bool:
    """Whether a text can be a key."""
    return re.fullmatch(r"[a-z0-9-]{8,64}", text) is not None


def stored(row: Any) -> Stored:
    """What a row keeps."""
    return Stored(row.key, row.document, row.version, row.changed_at)
