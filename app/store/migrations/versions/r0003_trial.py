"""Trials, and files of trials that wait for their confirmation beside those of the shelf."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the table, and the column that tells the files apart."""
    op.create_table(
        "trial",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(140), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("name_key", sa.String(240), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("evidence", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_trial"),
        sa.UniqueConstraint("slug", name="uq_trial_slug"),
        sa.UniqueConstraint("name_key", name="uq_trial_name_key"),
    )
    # Files that wait while the store is brought up are of the shelf: there were no others.
    op.add_column("pending_import", sa.Column("kind", sa.String(20), server_default="shelf", nullable=False))


def downgrade() -> None:
    """Drops both again; a waiting file of trials would be taken for one of the shelf, so it goes too."""
    op.execute("DELETE FROM pending_import WHERE kind <> 'shelf'")
    with op.batch_alter_table("pending_import") as table:
        table.drop_column("kind")
    op.drop_table("trial")
