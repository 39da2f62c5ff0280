"""Records: what they are found by, what is still to be filled, what they took off the shelf, where ratings stand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_LIVE = sa.text("NOT void")
_INDEXED = ("applicator", "next_due")


def upgrade() -> None:
    """Adds the columns; a void record no longer keeps its stop from being recorded again."""
    with op.batch_alter_table("application") as table:
        table.drop_constraint("uq_application_round", type_="unique")
        table.add_column(sa.Column("applicator", sa.String(160), nullable=False, server_default=""))
        table.add_column(sa.Column("void", sa.Boolean(), nullable=False, server_default=sa.false()))
        table.add_column(sa.Column("unfinished", sa.Boolean(), nullable=False, server_default=sa.false()))
        # Of nothing that is asked: it is reckoned when the log is next read.
        table.add_column(sa.Column("asked", sa.String(16), nullable=False, server_default=""))
        table.add_column(sa.Column("next_due", sa.Date()))
        table.add_column(sa.Column("stock", sa.JSON(), nullable=False, server_default="{}"))
    with op.batch_alter_table("application") as table:
        for name in ("applicator", "void", "unfinished", "asked", "stock"):
            table.alter_column(name, server_default=None)
    with op.batch_alter_table("follow_up") as table:
        table.add_column(sa.Column("fed", sa.JSON(), nullable=False, server_default="{}"))
    with op.batch_alter_table("follow_up") as table:
        table.alter_column("fed", server_default=None)
    op.create_index(
        "uq_application_stop",
        "application",
        ["round", "property", "area"],
        unique=True,
        sqlite_where=_LIVE,
        postgresql_where=_LIVE,
    )
    for column in _INDEXED:
        op.create_index(f"ix_application_{column}", "application", [column])


def downgrade() -> None:
    """Drops them again; void records no longer belong to their round."""
    for column in _INDEXED:
        op.drop_index(f"ix_application_{column}", "application")
    op.drop_index("uq_application_stop", "application")
    op.execute("UPDATE application SET round = NULL WHERE void")
    with op.batch_alter_table("follow_up") as table:
        table.drop_column("fed")
    with op.batch_alter_table("application") as table:
        for name in ("stock", "next_due", "asked", "unfinished", "void", "applicator"):
            table.drop_column(name)
        table.create_unique_constraint("uq_application_round", ["round", "property", "area"])
