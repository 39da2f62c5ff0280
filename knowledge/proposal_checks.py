"""Checks of the sentences of a proposal: none is missing, every brace is filled, and no active is named."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from string import Formatter

from knowledge.base import KnowledgeBase
from knowledge.models.proposal import (
    PROPOSAL_CASES,
    PURPOSE_PARTS,
    PURPOSE_VALUES,
    PURPOSES,
    ProposalSentence,
)
from knowledge.reader import Problem

_PLACE = "proposal.yaml"
# A visit without a spray has no weeds, and nothing is expected of it.
_NOTHING = frozenset({"when"})


def proposal_problems(base: KnowledgeBase) -> Iterator[Problem]:
    """What is wrong with the sentences of a proposal."""
    told: Counter[tuple[str, str]] = Counter()
    actives = {active.name.lower() for active in base.actives.values()}
    for key, said in base.proposal.items():
        yield from _sentence_problems(key, said)
        for name in sorted(actives):
            if name in said.text.lower():
                yield Problem(_PLACE, f"{key}.text", f"names the active {name}; say what it does instead")
        told.update((said.part, case) for case in said.when)
    for part in PURPOSE_PARTS:
        for purpose in PURPOSES:
            if told[part, purpose] != 1:
                what = f"{told[part, purpose]} sentences say '{part}' of the purpose '{purpose}'; there must be one"
                yield Problem(_PLACE, "", what)
    for case in PROPOSAL_CASES:
        if not told["ask", case] and not told["caution", case]:
            yield Problem(_PLACE, "", f"no sentence is said in the case '{case}'")


def _sentence_problems(key: str, said: ProposalSentence) -> Iterator[Problem]:
    braces = {name for _, name, _, _ in Formatter().parse(said.text) if name is not None}
    of_a_visit = said.part in PURPOSE_PARTS
    for case in said.when:
        if (case in PURPOSES) != of_a_visit:
            yield Problem(_PLACE, f"{key}.when", f"'{case}' does not go with the part '{said.part}'")
            continue
        filled = (_NOTHING if case == "nothing" else PURPOSE_VALUES) if of_a_visit else frozenset()
        for name in sorted(braces - set(said.figures) - filled):
            yield Problem(_PLACE, f"{key}.text", f"nothing fills {{{name}}} in the case '{case}'")
    for name in said.figures:
        if name not in braces:
            yield Problem(_PLACE, f"{key}.figures.{name}", "is not named in the text")
