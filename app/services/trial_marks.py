"""A mark by which a browser sees that a picture of trials is still the one it holds, before anything is reckoned."""

from __future__ import annotations

import hashlib

from app.engine.errors import UnknownId
from app.services.knowledge_service import knowledge_base
from app.store import trials as kept
from app.store.opening import Store
from app.version import program_version


def mark_of(store: Store, asked: str, slug: str | None = None) -> str:
    """What a picture depends on, in short: trials as they stand, the knowledge, the program, and what is asked.

    Parameters
    ----------
    asked : str
        The address of the picture with everything that is asked of it.
    slug : str, optional
        The trial it is of; every kept trial where none is named.

    Raises
    ------
    UnknownId
        When there is no trial of that id.
    """
    with store.reading() as session:
        states = kept.states(session, slug)
    if slug is not None and not states:
        raise UnknownId("trial", slug, (), "that is kept")
    told = [asked, knowledge_base().version, program_version()]
    # A trial that was removed and brought in again has a version that was there before, at another moment.
    told += [f"{name} {version} {changed_at.isoformat()}" for name, version, changed_at in states]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:32]
