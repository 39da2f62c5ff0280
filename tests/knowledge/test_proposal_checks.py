"""The sentences of a proposal: what is refused, and whether a customer can read them."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from knowledge.models.proposal import PURPOSE_PARTS, PURPOSES, ProposalSentence
from knowledge.proposal_checks import proposal_problems
from knowledge.quantities import Quantity

# Terms of the trade that a customer would have to look up (common practice, no source).
JARGON = (
    *("emergen", "mechanism", "active ingredient", "residual", "herbicide", "tank", "adjuvant", "surfactant"),
    *("perennial", "annual", "broadleaf", "tiller", "stolon", "rhizome", "tuber", "hrac", "group", "germinat"),
)
MOST_WORDS = 40


def _changed(base: KnowledgeBase, key: str, **changes: Any) -> KnowledgeBase:
    said = base.proposal[key].model_copy(update=changes)
    return replace(base, proposal={**base.proposal, key: said})


@pytest.mark.parametrize(
    ("key", "changes", "said"),
    [
        ("mowing", {"figures": {}}, "nothing fills {wait} in the case 'leaf'"),
        ("height", {"text": "Mow {weeds}."}, "nothing fills {weeds} in the case 'always'"),
        ("nothing-what", {"text": "We spare {weeds} {when}."}, "nothing fills {weeds} in the case 'nothing'"),
        ("height", {"figures": {"spare": Quantity(2, "days")}}, "is not named in the text"),
        ("sedge-why", {"text": "Halosulfuron-methyl works on them."}, "names the active halosulfuron-methyl"),
        ("sedge-why", {"when": ("always",)}, "'always' does not go with the part 'why'"),
        ("height", {"when": ("sedge",)}, "'sedge' does not go with the part 'ask'"),
        ("sedge-why", {"part": "what"}, "2 sentences say 'what' of the purpose 'sedge'"),
        ("sedge-why", {"part": "what"}, "0 sentences say 'why' of the purpose 'sedge'"),
        ("roots", {"when": ("always",)}, "no sentence is said in the case 'tree-roots'"),
    ],
)
def test_a_fault_is_found(base: KnowledgeBase, key: str, changes: dict[str, Any], said: str) -> None:
    assert not list(proposal_problems(base))
    found = [problem.message for problem in proposal_problems(_changed(base, key, **changes))]
    assert any(said in message for message in found)


def _filled(said: ProposalSentence, **values: str) -> str:
    return said.text.format(**{name: str(amount) for name, amount in said.figures.items()}, **values)


def test_sentences_are_plain_and_short(base: KnowledgeBase) -> None:
    for key, said in base.proposal.items():
        text = _filled(said, weeds="", when="", likely="").lower()
        assert not [word for word in JARGON if word in text], key
        assert len(text.split()) <= MOST_WORDS, key
        assert said.text[0].isupper(), key
        assert said.text.endswith("."), key


@pytest.mark.parametrize("purpose", PURPOSES)
def test_a_visit_is_told_whole(base: KnowledgeBase, purpose: str) -> None:
    """What, why and what to expect read as sentences with one weed and with several."""
    told = {said.part: said for said in base.proposal.values() if purpose in said.when}
    assert set(told) == set(PURPOSE_PARTS)
    for weeds in ("goosegrass", "smooth crabgrass and goosegrass"):
        whole = [_filled(told[part], weeds=weeds, when="about April 12", likely="80 to 95 percent") for part in told]
        assert all(not re.search(r"[{}]|  ", text) for text in whole)
        assert any("about April 12" in text for text in whole)
        if purpose != "nothing":
            assert any(weeds in text for text in whole)
            assert any("80 to 95 percent" in text for text in whole)


def test_the_law_is_told_always(base: KnowledgeBase) -> None:
    """Label, staying off until dry, and that no result is certain (common practice, no source)."""
    always = " ".join(s.text.lower() for s in base.proposal.values() if s.part == "caution" and "always" in s.when)
    for words in ("label is the law", "until it is dry", "no treatment takes every weed", "follow the weather"):
        assert words in always


def test_figures_agree_with_the_slip(base: KnowledgeBase) -> None:
    """The proposal asks for what the slip of the visit will ask for: two days around the spray (Ohio State University
    2024, University of Nebraska 2017), half an inch of water within three days (Wells 2006)."""
    assert base.proposal["mowing"].figures["wait"] == base.customer["no-mowing"].figures["wait"] == Quantity(2, "days")
    assert base.proposal["water-in"].figures == base.customer["water-in"].figures
    assert base.proposal["clippings"].figures == base.customer["clippings"].figures
