"""Use cases of sprayers: kept with their calibration."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Literal

from pydantic import Field

from app.engine.measures import Carrier, Day, Input, Volume
from app.engine.product import OneLine
from app.services.validation import validated
from app.store import sprayers
from app.store.opening import Store
from app.store.sprayers import StoredSprayer


class Sprayer(Input):
    """A sprayer or spreader as it is kept: what it puts out and holds, and when that was measured."""

    name: OneLine = Field(min_length=1, max_length=120)
    kind: Literal["boom", "gun", "backpack", "hand-can", "spreader"]
    carrier: Carrier | None = None
    tank: Volume | None = None
    calibrated_on: Day | None = None
    notes: str = Field(default="", max_length=2000)


def list_sprayers(store: Store) -> tuple[StoredSprayer, ...]:
    """Every sprayer, by name."""
    with store.reading() as session:
        return sprayers.every(session)


def sprayer_named(store: Store, slug: str) -> StoredSprayer:
    """One sprayer.

    Raises
    ------
    UnknownId
        When there is none of that id.
    """
    with store.reading() as session:
        return sprayers.by_slug(session, slug)


def add_sprayer(store: Store, payload: Any) -> StoredSprayer:
    """Keep a new sprayer, given as plain data.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    name, document = checked_sprayer(payload)
    with store.session() as session:
        return sprayers.insert(session, name, document, datetime.now(UTC))


def change_sprayer(store: Store, slug: str, payload: Any, version: int) -> StoredSprayer:
    """Change a sprayer that stands at a version.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    InputError
        Naming every field that cannot be used.
    """
    name, document = checked_sprayer(payload)
    with store.session() as session:
        return sprayers.update(session, slug, name, document, version, datetime.now(UTC))


def remove_sprayer(store: Store, slug: str, version: int) -> None:
    """Forget a sprayer that stands at a version.

    Raises
    ------
    Changed
        When it was changed or removed meanwhile.
    """
    with store.session() as session:
        sprayers.delete(session, slug, version)


def checked_sprayer(payload: Any) -> tuple[str, dict[str, Any]]:
    """The name and the document of a sprayer given as plain data.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    told = validated(Sprayer, payload)
    return told.name, told.model_dump(mode="json", exclude={"name"})
