"""What the names in a file of plots mean: weeds, actives, adjuvants; exact, never by likeness."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from knowledge.base import KnowledgeBase

# The check by the names that people give it.
CHECKS = frozenset(
    f"{word}{kind}" for word in ("nontreated", "untreated", "nottreated") for kind in ("", "check", "control", "plot")
) | {"notreatment", "check", "utc", "ntc"}
_ADJUVANT_WORDS = {"surfactant": "nis", "nonionicsurfactant": "nis", "ammoniumsulphate": "ams", "noadjuvant": "none"}
_MOST_WORDS = 4


def plain(text: str) -> str:
    """Equal for names that differ in case, spaces and punctuation alone."""
    return re.sub(r"[^a-z0-9]+", "", text.casefold())


@dataclass(frozen=True)
class Guess:
    """What a treatment is made of by its name alone."""

    actives: tuple[str, ...]
    adjuvant: str | None


@dataclass(frozen=True)
class Names:
    """Every exact name of the knowledge base, in `plain` letters, with the ids that it may mean."""

    weeds: Mapping[str, frozenset[str]]
    usual: Mapping[str, frozenset[str]]
    actives: Mapping[str, frozenset[str]]
    adjuvants: Mapping[str, frozenset[str]]
    turf: Mapping[str, frozenset[str]]
    _guesses: dict[str, Guess | None] = field(default_factory=dict, compare=False, repr=False)

    def weed(self, text: str) -> tuple[str, ...]:
        """Ids of the weeds that bear a name."""
        key = plain(text)
        return tuple(sorted(self.weeds.get(key) or self.usual.get(key) or ()))

    def active(self, text: str) -> str | None:
        """The active of an id, a name or an accepted spelling."""
        return _only(self.actives, text)

    def adjuvant(self, text: str) -> str | None:
        """The adjuvant of an id or a name."""
        return _only(self.adjuvants, text)

    def turf_id(self, text: str) -> str | None:
        """The turf of an id or a name."""
        return _only(self.turf, text)

    def guess(self, treatment: str) -> Guess | None:
        """What a treatment is made of by its name; None where any part of the name is not understood."""
        if treatment not in self._guesses:
            self._guesses[treatment] = self._guess(treatment)
        return self._guesses[treatment]

    def _guess(self, treatment: str) -> Guess | None:
        actives: list[str] = []
        adjuvants: set[str] = set()
        for part in _parts(treatment):
            words = part.split()
            for count in range(min(_MOST_WORDS, len(words)) + 1):
                head, tail = words[: len(words) - count], words[len(words) - count :]
                active, adjuvant = self.active(" ".join(head)), self.adjuvant(" ".join(tail))
                if not words or (head and active is None) or (tail and adjuvant is None):
                    continue
                if active is not None:
                    actives.append(active)
                if adjuvant is not None:
                    adjuvants.add(adjuvant)
                break
            else:
                return None
        if not actives or len(set(actives)) < len(actives) or len(adjuvants) > 1:
            return None
        return Guess(tuple(actives), next(iter(adjuvants), None))

    def adjuvant_in(self, treatment: str) -> str | None:
        """The one adjuvant that a treatment's name holds as a part, or at the end of one."""
        found = set()
        for part in _parts(treatment):
            words = part.split()
            for count in range(min(_MOST_WORDS, len(words)), 0, -1):
                adjuvant = self.adjuvant(" ".join(words[-count:]))
                if adjuvant is not None and adjuvant != "none":
                    found.add(adjuvant)
                    break
        return found.pop() if len(found) == 1 else None


def names_in(base: KnowledgeBase) -> Names:
    """The names of a knowledge base."""
    adjuvants: list[tuple[str, tuple[str, ...]]] = [(item.id, (item.id, item.name)) for item in base.adjuvants.values()]
    adjuvants += [(key, (word,)) for word, key in _ADJUVANT_WORDS.items()]
    return Names(
        weeds=_index((key, (key, *weed.every)) for key, weed in base.weed_names.items()),
        usual=_index((key, weed.usually_meant_by) for key, weed in base.weed_names.items()),
        actives=_index((item.id, (item.id, item.name, *item.synonyms)) for item in base.actives.values()),
        adjuvants=_index(adjuvants),
        turf=_index((item.id, (item.id, item.name, *item.synonyms)) for item in base.turf.values()),
    )


def _index(named: Iterable[tuple[str, Iterable[str]]]) -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for key, texts in named:
        for text in texts:
            if told := plain(text):
                found[told] = found.get(told, frozenset()) | {key}
    return found


def _only(index: Mapping[str, frozenset[str]], text: str) -> str | None:
    found = index.get(plain(text), frozenset())
    return next(iter(found)) if len(found) == 1 else None


def _parts(treatment: str) -> list[str]:
    """A name's parts; the comma of 2,4-D parts nothing."""
    parts = re.split(r"[+/&;]|\s(?:with|plus|and)\s|(?<!\d),|,(?!\d)", treatment, flags=re.IGNORECASE)
    return [part.strip() for part in parts]
