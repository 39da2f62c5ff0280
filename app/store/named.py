"""What is kept under a name, with an id made from it: a document and its version, in one table for each kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.store.changed import Changed
from app.store.names import is_slug, name_key, slug_of

Document = dict[str, Any]


@dataclass(frozen=True)
class Stored:
    """A thing as it is kept."""

    slug: str
    name: str
    document: Document
    version: int
    changed_at: datetime


@dataclass(frozen=True)
class Named:
    """The things of one table; `kind` is what they are called in a sentence."""

    kind: str
    row: type[Any]

    def every(self, session: Session) -> tuple[Stored, ...]:
        """All, by name."""
        return tuple(stored(row) for row in session.scalars(select(self.row).order_by(self.row.name_key)))

    def names(self, session: Session) -> dict[str, str]:
        """Name by id, by name; no document is read."""
        found = session.execute(select(self.row.slug, self.row.name).order_by(self.row.name_key))
        return {slug: name for slug, name in found}  # noqa: C416 - rows are no pairs to the type checker

    def by_slug(self, session: Session, slug: str) -> Stored:
        """One of them.

        Raises
        ------
        UnknownId
            When there is none of that id.
        """
        row = session.scalar(select(self.row).where(self.row.slug == slug)) if is_slug(slug) else None
        if row is None:
            raise UnknownId(self.kind, slug, ())
        return stored(row)

    def by_slugs(self, session: Session, slugs: Sequence[str]) -> dict[str, Stored]:
        """Those of these ids that there are, by id."""
        # In parts, since a database bounds the parameters of one question.
        found: dict[str, Stored] = {}
        asked = [slug for slug in dict.fromkeys(slugs) if is_slug(slug)]
        for start in range(0, len(asked), _AT_ONCE):
            part = asked[start : start + _AT_ONCE]
            found |= {row.slug: stored(row) for row in session.scalars(select(self.row).where(self.row.slug.in_(part)))}
        return found

    def insert(
        self, session: Session, told: Sequence[tuple[str, Document, Mapping[str, Any]]], now: datetime
    ) -> tuple[Stored, ...]:
        """Keep new things (name, document, further columns), all or none.

        Raises
        ------
        InputError
            When a name is taken.
        """
        taken = set(session.scalars(select(self.row.slug)))
        rows = []
        for name, document, columns in told:
            slug = slug_of(name, taken)
            taken.add(slug)
            rows.append(filled(self.row(slug=slug), name, document, columns, now))
        session.add_all(rows)
        self._flush(session, [row.name for row in rows])
        return tuple(stored(row) for row in rows)

    def update(
        self,
        session: Session,
        slug: str,
        name: str,
        document: Document,
        version: int,
        now: datetime,
        columns: Mapping[str, Any] | None = None,
    ) -> Stored:
        """Change what stands at a version; its id stays.

        Raises
        ------
        Changed
            When it was changed or removed meanwhile.
        InputError
            When the new name is that of another.
        """
        row = filled(self._row_at(session, slug, name, version), name, document, columns or {}, now)
        self._flush(session, [name])
        return stored(row)

    def update_all(
        self, session: Session, told: Sequence[tuple[str, str, Document, int, Mapping[str, Any]]], now: datetime
    ) -> None:
        """Change many things (id, name, document, version, further columns), all or none.

        Raises
        ------
        Changed
            When one of them was changed or removed meanwhile.
        InputError
            When a new name is that of another.
        """
        for start in range(0, len(told), _AT_ONCE):
            part = told[start : start + _AT_ONCE]
            asked = select(self.row).where(self.row.slug.in_([slug for slug, *_ in part])).with_for_update()
            rows = {row.slug: row for row in session.scalars(asked)}
            for slug, name, document, version, columns in part:
                filled(self._at(rows.get(slug), slug, name, version), name, document, columns, now)
        self._flush(session, [name for _, name, *_ in told])

    def delete(self, session: Session, slug: str, version: int) -> None:
        """Forget what stands at a version.

        Raises
        ------
        Changed
            When it was changed or removed meanwhile.
        """
        session.delete(self._row_at(session, slug, slug, version))
        session.flush()

    def _row_at(self, session: Session, slug: str, name: str, version: int) -> Any:
        # Locked where the database can, so that the version is still this one when it is written.
        asked = select(self.row).where(self.row.slug == slug).with_for_update()
        return self._at(session.scalar(asked) if is_slug(slug) else None, slug, name, version)

    def _at(self, row: Any, slug: str, name: str, version: int) -> Any:
        if row is None:
            raise Changed(self.kind, slug, name, None, None)
        if row.version != version:
            raise Changed(self.kind, slug, row.name, {**row.document, "name": row.name}, row.version)
        return row

    def _flush(self, session: Session, names: Sequence[str]) -> None:
        try:
            session.flush()
        except IntegrityError as error:
            what = f"'{names[0]}' is the name of another {self.kind} already"
            if len(names) > 1:
                what = f"one of these names is that of another {self.kind} already, or stands twice"
            raise InputError([FieldFault("name", f"{what}; choose another name")]) from error


_AT_ONCE = 500


def filled(row: Any, name: str, document: Document, columns: Mapping[str, Any], now: datetime) -> Any:
    """The row with what it keeps."""
    row.name, row.name_key, row.document, row.changed_at = name, name_key(name), document, now
    for column, value in columns.items():
        setattr(row, column, value)
    return row


def stored(row: Any) -> Stored:
    """What a row keeps."""
    return Stored(row.slug, row.name, row.document, row.version, row.changed_at)
