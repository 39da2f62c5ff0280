"""What the customer is told after an application, and when each sentence holds."""

from __future__ import annotations

from typing import Literal, get_args

from pydantic import Field

from knowledge.models.common import Amount, Sentence, Slug

# What must be so for a sentence to be said; the season knows how each is found out.
CustomerCase = Literal[
    "always",
    "spot",
    "reentry",
    "rainfast",
    "rainfast-untold",
    "water-in",
    "leaf",
    "symptoms",
    "whitening",
    "again",
    "once",
    "clippings",
    "seeding",
    "seeding-untold",
    "flowers",
    "children-or-pets",
]
CUSTOMER_CASES: tuple[str, ...] = get_args(CustomerCase)
# What the season fills into a sentence of a case, beside the figures of the sentence itself.
CASE_VALUES: dict[str, frozenset[str]] = {
    "reentry": frozenset({"hours", "product"}),
    "rainfast": frozenset({"hours"}),
    "symptoms": frozenset({"first", "full"}),
    "again": frozenset({"day"}),
    "once": frozenset({"full"}),
    "seeding": frozenset({"day"}),
}


class CustomerSentence(Sentence):
    """A sentence for the customer.

    Attributes
    ----------
    part : str
        Where it stands: `now`, the first days; `look`, what will be seen; `next`, what comes later; `law`.
    when : tuple of str
        Cases in which it is said; one of them suffices.
    actives : tuple of str
        Where given, it is said only where one of these was applied.
    figures : dict
        Amounts that its text names in braces.
    """

    id: Slug
    part: Literal["now", "look", "next", "law"]
    order: int = Field(ge=0, le=100)
    when: tuple[CustomerCase, ...] = Field(min_length=1)
    actives: tuple[Slug, ...] = ()
    figures: dict[str, Amount] = Field(default_factory=dict)
