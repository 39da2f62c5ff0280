"""Customers, properties, scouting notes, rounds, forecasts, application records with their history, and the branch."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def _kept() -> tuple[sa.Column[object], ...]:
    return (
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
    )


def _named(table: str, *more: sa.Column[object]) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(140), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("name_key", sa.String(240), nullable=False),
        *more,
        *_kept(),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        sa.UniqueConstraint("slug", name=f"uq_{table}_slug"),
        sa.UniqueConstraint("name_key", name=f"uq_{table}_name_key"),
    )


def _keyed(table: str, *more: sa.Column[object], once: sa.UniqueConstraint | None = None) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(64), nullable=False),
        *more,
        *_kept(),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        sa.UniqueConstraint("key", name=f"uq_{table}_key"),
        *((once,) if once is not None else ()),
    )


_INDEXED = (
    *(
        ("property", "customer"),
        ("property", "technician"),
        ("property", "ordered_by"),
        ("round", "day"),
        ("scouting", "property"),
    ),
    *(("scouting", "day"), ("application", "property"), ("application", "round"), ("application", "day")),
    *(("application_change", "application"), ("follow_up", "application"), ("follow_up", "day")),
)


def upgrade() -> None:
    """Makes the tables."""
    _named("customer")
    _named(
        "property",
        sa.Column("customer", sa.String(140)),
        sa.Column("technician", sa.String(80), nullable=False),
        sa.Column("found_by", sa.Text(), nullable=False),
        sa.Column("ordered_by", sa.String(400), nullable=False),
    )
    _named("round", sa.Column("day", sa.Date(), nullable=False))
    _named("forecast")
    _named("branch")
    _keyed(
        "scouting",
        sa.Column("property", sa.String(140), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
    )
    _keyed(
        "application",
        sa.Column("property", sa.String(140)),
        sa.Column("area", sa.String(140)),
        sa.Column("round", sa.String(140)),
        sa.Column("day", sa.Date(), nullable=False),
        once=sa.UniqueConstraint("round", "property", "area", name="uq_application_round"),
    )
    _keyed(
        "follow_up",
        sa.Column("application", sa.String(64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
    )
    op.create_table(
        "application_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("application", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(80), nullable=False),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_application_change"),
    )
    for table, column in _INDEXED:
        op.create_index(f"ix_{table}_{column}", table, [column])


def downgrade() -> None:
    """Drops them, with all that they hold."""
    for table, column in reversed(_INDEXED):
        op.drop_index(f"ix_{table}_{column}", table)
    for table in ("application_change", "follow_up", "application", "scouting"):
        op.drop_table(table)
    for table in ("branch", "forecast", "round", "property", "customer"):
        op.drop_table(table)
