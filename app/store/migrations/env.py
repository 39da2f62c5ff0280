"""Runs the migrations on the connection that `opening.py` hands over."""

from __future__ import annotations

from alembic import context

from app.store.models import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    # SQLite cannot alter a table in place; it is copied then.
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
