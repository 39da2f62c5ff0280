"""Years: plans of properties by version, and planning many properties in one go."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Adds the tables."""
    op.create_table(
        "year",
        *_keyed(),
        sa.Column("property", sa.String(140), nullable=False),
        sa.Column("season", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("chosen", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_year"),
        sa.UniqueConstraint("key", name="uq_year_key"),
    )
    op.create_index("ix_year_property", "year", ["property"])
    op.create_index("ix_year_season", "year", ["season"])
    op.create_index("uq_year_number", "year", ["property", "season", "number"], unique=True)
    op.create_table(
        "year_job",
        *_keyed(),
        sa.Column("season", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_year_job"),
        sa.UniqueConstraint("key", name="uq_year_job_key"),
    )
    op.create_index("ix_year_job_season", "year_job", ["season"])
    op.create_index("ix_year_job_state", "year_job", ["state"])
    op.create_table(
        "year_fold",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(64), nullable=False),
        sa.Column("fold", sa.String(64), nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_year_fold"),
    )
    op.create_index("uq_year_fold", "year_fold", ["job", "fold"], unique=True)
    op.create_index("ix_year_fold_state", "year_fold", ["job", "state"])
    op.create_table(
        "year_place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(64), nullable=False),
        sa.Column("property", sa.String(140), nullable=False),
        sa.Column("fold", sa.String(64), nullable=True),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_year_place"),
    )
    op.create_index("uq_year_place", "year_place", ["job", "property"], unique=True)
    op.create_index("ix_year_place_fold", "year_place", ["job", "fold"])


def _keyed() -> list[sa.Column[object]]:
    return [
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
    ]


def downgrade() -> None:
    """Drops the tables with all they hold."""
    for table in ("year_place", "year_fold", "year_job", "year"):
        op.drop_table(table)
