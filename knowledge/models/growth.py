"""How fast weeds grow: the warmth that a stage takes."""

from __future__ import annotations

from pydantic import Field

from knowledge.models.common import Slug, Sourced


class Growth(Sourced):
    """Warmth from entering one stage to entering the next.

    Attributes
    ----------
    weeds : tuple of str
        Weeds of which it holds.
    start, end : str
        The stage that is entered first, and the one after it (`from`, `to` in the text).
    base_f : float
        Temperature above which warmth counts [F].
    low, high : float
        Central 80 % over sites and plants [F degree-days of the simple daily average above `base_f`].
    """

    id: Slug
    weeds: tuple[Slug, ...] = Field(min_length=1)
    start: str = Field(alias="from")
    end: str = Field(alias="to")
    base_f: float
    low: float = Field(gt=0)
    high: float = Field(gt=0)
    text: str
