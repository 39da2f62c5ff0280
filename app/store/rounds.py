"""Rounds in the store: a document that holds the round and the plan that was made for it."""

from __future__ import annotations

from app.store.models import RoundRow
from app.store.named import Named

ROUNDS = Named("round", RoundRow)
