"""What a proposal says to the customer: what each visit is for, what is asked of them, and what to mind."""

from __future__ import annotations

from typing import Literal, get_args

from pydantic import Field

from knowledge.models.common import Amount, Sentence, Slug

# What a visit may be for; `weeds` where nothing closer fits, `nothing` where nothing is sprayed.
Purpose = Literal[
    "preemergence-grass",
    "preemergence-second",
    "postemergence-grass",
    "perennial-grass",
    "broadleaf-spring",
    "broadleaf-summer",
    "broadleaf-autumn",
    "sedge",
    "winter-preemergence",
    "winter-postemergence",
    "weeds",
    "nothing",
]
# What must be so for a request or a caution: `soil` where a visit treats the soil, `leaf` where one sprays leaves,
# the others where the surroundings of an area name them.
ProposalCase = Literal[
    "always",
    "soil",
    "leaf",
    "children-or-pets",
    "vegetable-garden",
    "sensitive-ornamentals",
    "tree-roots",
    "surface-water",
    "well-head",
    "bloom-in-turf",
    "clippings-composted",
    "neighbour-susceptible-crop",
]
PURPOSES: tuple[str, ...] = get_args(Purpose)
PROPOSAL_CASES: tuple[str, ...] = get_args(ProposalCase)
PURPOSE_PARTS = ("what", "why", "expect")
PURPOSE_VALUES = frozenset({"weeds", "when", "likely"})


class ProposalSentence(Sentence):
    """A sentence of a proposal.

    Its text may hold in braces what its `figures` name, and for a purpose also

    `{weeds}`
        the weeds that the visit is meant for, as "smooth crabgrass and goosegrass";
    `{when}`
        the day or the span, with its preposition, as "about April 12" or "between April 3 and 20";
    `{likely}`
        the expected control of them over the season by all visits of the plan, as "80 to 95 percent".

    For `nothing` there are no weeds and nothing is expected, so `{when}` alone is filled.

    Attributes
    ----------
    part : str
        `what`, `why` and `expect` of a visit, by its purpose; `ask`, what the company asks of the customer;
        `caution`, what is to be minded; `cover`, what the price does not cover; `pay`, beside the price.
    when : tuple of str
        Purposes of a visit, or cases; one of them suffices.
    figures : dict
        Amounts that its text names in braces.
    """

    id: Slug
    part: Literal["what", "why", "expect", "ask", "caution", "cover", "pay"]
    order: int = Field(default=0, ge=0, le=100)
    when: tuple[Purpose | ProposalCase, ...] = Field(min_length=1)
    figures: dict[str, Amount] = Field(default_factory=dict)
