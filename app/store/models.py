"""What is kept, as tables; documents are plain data, which the services read into models."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Dialect, Float, Index, Integer, MetaData, String, Text, text
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator


class UtcDateTime(TypeDecorator[datetime]):
    """A time in UTC, with its zone on both sides whatever the database keeps."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is not None and value.tzinfo is None:
            raise ValueError("a time must carry its zone")
        return value.astimezone(UTC) if value is not None else None

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """Base of every table; constraints are named, so that migrations can name them on every database."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class NamedColumns:
    """What is kept under a name, and the id made from it."""

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    slug: Mapped[str] = mapped_column(String(140), unique=True)
    name: Mapped[str] = mapped_column(String(120))
    name_key: Mapped[str] = mapped_column(String(240), unique=True)


class KeyedColumns:
    """What is kept under a key that the form carries."""

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    key: Mapped[str] = mapped_column(String(64), unique=True)


class KeptColumns:
    """A document that two people may change: its version tells whether it is still the one that was read."""

    document: Mapped[dict[str, Any]] = mapped_column(JSON)
    version: Mapped[int] = mapped_column(Integer)
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - the mapper's own name, asked of each class
        return {"version_id_col": cls.__table__.c.version}  # type: ignore[attr-defined]


class ProductRow(Base):
    """A product of the shelf: its label as a document, and its stock, which changes with every load."""

    __tablename__ = "product"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    slug: Mapped[str] = mapped_column(String(140), unique=True)
    name: Mapped[str] = mapped_column(String(120))
    name_key: Mapped[str] = mapped_column(String(240), unique=True)
    kind: Mapped[str] = mapped_column(String(20))
    formulation: Mapped[str] = mapped_column(String(4))
    label: Mapped[dict[str, Any]] = mapped_column(JSON)
    stock_value: Mapped[float | None] = mapped_column(Float)
    stock_unit: Mapped[str | None] = mapped_column(String(12))
    expiry: Mapped[date | None]
    version: Mapped[int] = mapped_column(Integer)
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012


class SprayerRow(NamedColumns, KeptColumns, Base):
    """A sprayer or spreader with its calibration as a document."""

    __tablename__ = "sprayer"


class TrialRow(NamedColumns, KeptColumns, Base):
    """A trial with its plots as a document, and beside it the few figures by which it moves the advice."""

    __tablename__ = "trial"

    # Advice reads this column alone: a document may hold thousands of plots.
    evidence: Mapped[list[dict[str, Any]]] = mapped_column(JSON)


class CustomerRow(NamedColumns, KeptColumns, Base):
    """A customer: who is billed."""

    __tablename__ = "customer"


class PropertyRow(NamedColumns, KeptColumns, Base):
    """A property with its areas and plans.

    `found_by` holds what it is searched by, in one case, `ordered_by` what lists put it in order by.
    """

    __tablename__ = "property"

    customer: Mapped[str | None] = mapped_column(String(140), index=True)
    technician: Mapped[str] = mapped_column(String(80), index=True)
    found_by: Mapped[str] = mapped_column(Text)
    ordered_by: Mapped[str] = mapped_column(String(400), index=True)


class ScoutingRow(KeyedColumns, KeptColumns, Base):
    """A weed as it was seen on an area."""

    __tablename__ = "scouting"

    property: Mapped[str] = mapped_column(String(140), index=True)
    day: Mapped[date] = mapped_column(index=True)


class RoundRow(NamedColumns, KeptColumns, Base):
    """A round: its stops and the plan that was made for them."""

    __tablename__ = "round"

    day: Mapped[date] = mapped_column(index=True)


class ForecastRow(NamedColumns, KeptColumns, Base):
    """A forecast, or temperatures that were measured, of a place."""

    __tablename__ = "forecast"


class ApplicationRow(KeyedColumns, KeptColumns, Base):
    """The record of an application; never removed. One area of a round has one record that is not void.

    Beside the document stand what it is found by (`applicator` in one case), whether something is still to be
    filled, by the mark of what was `asked` when that was reckoned, and what it took off the shelf.
    """

    __tablename__ = "application"
    __table_args__ = (
        Index(
            "uq_application_stop",
            *("round", "property", "area"),
            unique=True,
            sqlite_where=text("NOT void"),
            postgresql_where=text("NOT void"),
        ),
    )

    property: Mapped[str | None] = mapped_column(String(140), index=True)
    area: Mapped[str | None] = mapped_column(String(140))
    round: Mapped[str | None] = mapped_column(String(140), index=True)
    day: Mapped[date] = mapped_column(index=True)
    applicator: Mapped[str] = mapped_column(String(160), index=True)
    void: Mapped[bool]
    unfinished: Mapped[bool]
    asked: Mapped[str] = mapped_column(String(16))
    next_due: Mapped[date | None] = mapped_column(index=True)
    stock: Mapped[dict[str, Any]] = mapped_column(JSON)


class ApplicationChangeRow(Base):
    """What a record held before it was changed, and by whom and why."""

    __tablename__ = "application_change"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    application: Mapped[str] = mapped_column(String(64), index=True)
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    by: Mapped[str] = mapped_column(String(80))
    why: Mapped[str] = mapped_column(String(300))
    before: Mapped[dict[str, Any]] = mapped_column(JSON)


class FollowUpRow(KeyedColumns, KeptColumns, Base):
    """What was seen on an area after an application, and in which plots of which trials it stands (`fed`)."""

    __tablename__ = "follow_up"

    application: Mapped[str] = mapped_column(String(64), index=True)
    day: Mapped[date] = mapped_column(index=True)
    fed: Mapped[dict[str, Any]] = mapped_column(JSON)


class BranchRow(NamedColumns, KeptColumns, Base):
    """What holds for the branch; one row."""

    __tablename__ = "branch"


class YearRow(KeyedColumns, KeptColumns, Base):
    """One version of the year that is planned for a property: what was asked and the plan that answers it.

    `number` counts the versions of a property's year; one of them may be `chosen`.
    """

    __tablename__ = "year"
    __table_args__ = (Index("uq_year_number", "property", "season", "number", unique=True),)

    property: Mapped[str] = mapped_column(String(140), index=True)
    season: Mapped[int] = mapped_column(Integer, index=True)
    number: Mapped[int] = mapped_column(Integer)
    chosen: Mapped[bool]


class YearJobRow(KeyedColumns, KeptColumns, Base):
    """Planning the year of many properties in one go: what was asked, and how far it is."""

    __tablename__ = "year_job"

    season: Mapped[int] = mapped_column(Integer, index=True)
    state: Mapped[str] = mapped_column(String(20), index=True)


class YearFoldRow(Base):
    """One situation of a job that equal properties share: what is asked, and its plan once it is made.

    `fold` tells situations apart; `state` is `waiting`, `planned` or `failed`.
    """

    __tablename__ = "year_fold"
    __table_args__ = (Index("uq_year_fold", "job", "fold", unique=True), Index("ix_year_fold_state", "job", "state"))

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    job: Mapped[str] = mapped_column(String(64))
    fold: Mapped[str] = mapped_column(String(64))
    state: Mapped[str] = mapped_column(String(20))
    asked: Mapped[dict[str, Any]] = mapped_column(JSON)
    document: Mapped[dict[str, Any]] = mapped_column(JSON)


class YearPlaceRow(Base):
    """Which situation of a job a property stands for, with what differs between equal ones (its size, who sprays)."""

    __tablename__ = "year_place"
    __table_args__ = (
        Index("uq_year_place", "job", "property", unique=True),
        Index("ix_year_place_fold", "job", "fold"),
    )

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    job: Mapped[str] = mapped_column(String(64))
    property: Mapped[str] = mapped_column(String(140))
    fold: Mapped[str | None] = mapped_column(String(64))
    document: Mapped[dict[str, Any]] = mapped_column(JSON)


class SettingRow(Base):
    """A setting of this installation, as text."""

    __tablename__ = "setting"

    key: Mapped[str] = mapped_column(String(60), primary_key=True)
    value: Mapped[str] = mapped_column(String(4000))


class FailedLoginRow(Base):
    """A failed log-in and when it was; kept only while it counts."""

    __tablename__ = "failed_login"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)


class PendingImportRow(Base):
    """A file that was uploaded and waits for its confirmation, with the versions that its preview saw.

    `kind` says what it would be imported into: `shelf` or `trials`.
    """

    __tablename__ = "pending_import"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20), server_default="shelf")
    text: Mapped[str] = mapped_column(Text)
    seen: Mapped[dict[str, Any]] = mapped_column(JSON)
    at: Mapped[datetime] = mapped_column(UtcDateTime)
