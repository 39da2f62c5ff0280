"""Products, sprayers, settings and failed log-ins."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the first tables."""
    op.create_table(
        "product",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(140), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("name_key", sa.String(240), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("formulation", sa.String(4), nullable=False),
        sa.Column("label", sa.JSON(), nullable=False),
        sa.Column("stock_value", sa.Float(), nullable=True),
        sa.Column("stock_unit", sa.String(12), nullable=True),
        sa.Column("expiry", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_product"),
        sa.UniqueConstraint("slug", name="uq_product_slug"),
        sa.UniqueConstraint("name_key", name="uq_product_name_key"),
    )
    op.create_table(
        "sprayer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(140), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("name_key", sa.String(240), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sprayer"),
        sa.UniqueConstraint("slug", name="uq_sprayer_slug"),
        sa.UniqueConstraint("name_key", name="uq_sprayer_name_key"),
    )
    op.create_table(
        "setting",
        sa.Column("key", sa.String(60), nullable=False),
        sa.Column("value", sa.String(4000), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_setting"),
    )
    op.create_table(
        "failed_login",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_failed_login"),
    )
    op.create_index("ix_failed_login_at", "failed_login", ["at"])


def downgrade() -> None:
    """Drops them again."""
    for table in ("failed_login", "setting", "sprayer", "product"):
        op.drop_table(table)
