"""Which weed is it? Narrows the list by what can be seen of the plant, and asks what would narrow it most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date as Date
from math import log2
from typing import Literal

from pydantic import Field

from app.engine.errors import FieldFault, InputError
from app.engine.measures import Day, Input
from app.engine.output import Output
from app.engine.understood import NOT_EMERGED, month_day, unknown_id
from knowledge.base import KnowledgeBase
from knowledge.models import Weed
from knowledge.models.common import Slug, Zone

_QUESTIONS_SHOWN = 3


class Seen(Input):
    """What is seen: an answer to any of the traits, and where and when."""

    traits: dict[Slug, Slug] = Field(default={}, max_length=30)
    zone: Zone | None = None
    date: Day | None = None


class TraitAgreement(Output):
    """One answer held against one weed: `agrees`, `differs`, or `not-recorded`."""

    trait: str
    answer: str
    outcome: Literal["agrees", "differs", "not-recorded"]
    shows: tuple[str, ...]


class Candidate(Output):
    """A weed with how it agrees with what is seen."""

    weed: str
    name: str
    scientific_name: str
    recognise: str
    agrees: int
    differs: int
    held: tuple[TraitAgreement, ...]
    out_of_season: bool
    look_alikes: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]


class NextQuestion(Output):
    """A trait not answered yet, with how many of the weeds left show each answer."""

    trait: str
    question: str
    counts: dict[str, int]


class Identification(Output):
    """Weeds that nothing seen speaks against, those ruled out, and what to look at next."""

    possible: tuple[Candidate, ...]
    ruled_out: tuple[Candidate, ...]
    ask_next: tuple[NextQuestion, ...]
    knowledge_version: str


def identify(base: KnowledgeBase, seen: Seen) -> Identification:
    """Narrow the weeds of the knowledge base by what is seen.

    A weed is ruled out by an answer that its record contradicts, or where it is not up at that
    date in that zone. A trait that its record leaves open never rules it out, and counts for
    less than one that agrees. Equal agreement is ordered by name.

    Raises
    ------
    InputError
        For a trait or an answer that is not in the vocabulary.
    """
    _check(base, seen)
    found = [_held(weed, seen) for weed in base.weeds.values()]
    possible = sorted((c for c in found if not c.differs and not c.out_of_season), key=_order)
    out = sorted((c for c in found if c.differs or c.out_of_season), key=lambda c: (c.differs, *_order(c)))
    return Identification(
        possible=tuple(possible),
        ruled_out=tuple(out),
        ask_next=_next(base, seen, [base.weeds[c.weed] for c in possible]),
        knowledge_version=base.version,
    )


def _order(candidate: Candidate) -> tuple[int, str]:
    return (-candidate.agrees, candidate.name.lower())


def _check(base: KnowledgeBase, seen: Seen) -> None:
    faults = []
    for name, answer in seen.traits.items():
        trait = base.traits.get(name)
        if trait is None:
            faults.append(unknown_id(f"traits.{name}", "trait", name, base.traits))
        elif answer not in {value.id for value in trait.values}:
            answers = ", ".join(value.id for value in trait.values)
            faults.append(FieldFault(f"traits.{name}", f"'{answer}' is no answer to '{trait.question}'; use {answers}"))
    if (seen.zone is None) != (seen.date is None):
        missing = "zone" if seen.zone is None else "date"
        faults.append(FieldFault(missing, "is required beside the other of zone and date, to tell what is up then"))
    if faults:
        raise InputError(faults)


def _held(weed: Weed, seen: Seen) -> Candidate:
    shows = weed.traits.shows if weed.traits is not None else {}
    held = []
    for name, answer in seen.traits.items():
        told = shows.get(name, ())
        outcome: Literal["agrees", "differs", "not-recorded"]
        outcome = "not-recorded" if not told else "agrees" if answer in told else "differs"
        held.append(TraitAgreement(trait=name, answer=answer, outcome=outcome, shows=told))
    return Candidate(
        weed=weed.id,
        name=weed.name,
        scientific_name=weed.scientific_name,
        recognise=weed.recognise.text,
        agrees=sum(item.outcome == "agrees" for item in held),
        differs=sum(item.outcome == "differs" for item in held),
        held=tuple(held),
        out_of_season=not _is_up(weed, seen.zone, seen.date),
        look_alikes=tuple((item.name, item.difference) for item in weed.look_alikes),
        sources=tuple(citation.id for citation in weed.recognise.sources),
    )


def _is_up(weed: Weed, zone: str | None, day: Date | None) -> bool:
    """Whether any emerged stage is usual then; true where nothing is told."""
    if zone is None or day is None:
        return True
    open_windows = [w.stage for w in weed.calendar if zone in w.zones and w.holds(month_day(day))]
    return not open_windows or any(stage != NOT_EMERGED for stage in open_windows)


def _next(base: KnowledgeBase, seen: Seen, left: Sequence[Weed]) -> tuple[NextQuestion, ...]:
    """The unanswered traits whose answers split the weeds left most evenly [bits], the best first."""
    found = []
    for name, trait in base.traits.items():
        if name in seen.traits:
            continue
        told = [weed.traits.shows[name] for weed in left if weed.traits is not None and name in weed.traits.shows]
        counts = Counter(value for values in told for value in values)
        if len(counts) > 1:
            share = len(told) / len(left)
            ordered = {value.id: counts[value.id] for value in trait.values if counts[value.id]}
            found.append((share * _bits(counts), NextQuestion(trait=name, question=trait.question, counts=ordered)))
    found.sort(key=lambda pair: (-pair[0], pair[1].trait))
    return tuple(question for _, question in found[:_QUESTIONS_SHOWN])


def _bits(counts: Mapping[str, int]) -> float:
    total = sum(counts.values())
    return -sum(n / total * log2(n / total) for n in counts.values())
