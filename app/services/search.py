"""Finding a weed from what people call it: synonyms, old names and slips of the pen."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from app.engine.errors import FieldFault, InputError
from knowledge.base import KnowledgeBase
from knowledge.models import Weed

# Shares of likeness on rapidfuzz's scale of 0 to 100.
LIKE_ENOUGH = 78.0
WORTH_SUGGESTING = 60.0
# Another weed may be meant only where it is about as like.
CLOSE = 6.0
# What sets apart the weed that a shared name usually means.
USUAL_MEANING = 0.5


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A weed that the text may mean, by which of its names, and how alike [0 to 100]."""

    id: str
    name: str
    matched: str
    score: float


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()


def suggest(base: KnowledgeBase, text: str, limit: int = 8) -> list[Suggestion]:
    """Weeds that a text may mean, the likeliest first; equal likeness is ordered by id.

    Parameters
    ----------
    text : str
        What was typed: a name, a part of one, or a misspelt one.
    limit : int
        At most so many suggestions.
    """
    asked = _plain(text)
    if not asked:
        return []
    found = []
    for key, weed in base.weed_names.items():
        names = {name: _plain(name) for name in (*weed.every, *weed.usually_meant_by)}
        best = max(names, key=lambda name: _likeness(asked, names[name]))
        meant = USUAL_MEANING if asked.rstrip("s") in {_plain(n).rstrip("s") for n in weed.usually_meant_by} else 0.0
        found.append(Suggestion(key, weed.name, best, round(_likeness(asked, names[best]) + meant, 1)))
    found.sort(key=lambda item: (-item.score, item.id))
    return [item for item in found if item.score >= WORTH_SUGGESTING][:limit]


def _likeness(asked: str, name: str) -> float:
    if asked == name:
        return 100.0
    whole = fuzz.ratio(asked, name)
    turned = fuzz.token_sort_ratio(asked, name)
    # What is typed first is the start of a name.
    begun = 90.0 if len(asked) >= 3 and (name.startswith(asked) or f" {asked}" in f" {name}") else 0.0
    plural = 99.0 if asked.rstrip("s") == name.rstrip("s") else 0.0
    return min(99.0, max(whole, turned, begun, plural))


def find_weed(base: KnowledgeBase, text: str) -> tuple[Weed, Suggestion, tuple[str, ...]]:
    """The weed that a question means.

    Returns
    -------
    tuple
        The weed, how it was matched, and the ids of other weeds that the text may mean.

    Raises
    ------
    InputError
        Where no name is like enough, with the three nearest.
    """
    found = suggest(base, text, limit=6)
    if not found or found[0].score < LIKE_ENOUGH:
        names = [weed.name for weed in base.weed_names.values()]
        near = [item[0] for item in process.extract(text, sorted(names), scorer=fuzz.ratio, limit=3)]
        what = f"'{text.strip()[:80]}' is no weed this knows; nearest: {', '.join(near)}"
        raise InputError([FieldFault("weed", what)])
    first = found[0]
    others = tuple(item.id for item in found[1:] if item.score >= max(LIKE_ENOUGH, first.score - CLOSE))
    return base.weeds[first.id], first, others
