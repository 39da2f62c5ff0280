"""Files that were uploaded and wait for their confirmation."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the table."""
    op.create_table(
        "pending_import",
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("seen", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_pending_import"),
    )


def downgrade() -> None:
    """Drops it."""
    op.drop_table("pending_import")
