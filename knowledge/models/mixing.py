"""Facts of mixing: formulations, measures that a person can pour, and the steps of filling a tank."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.common import AdjuvantId, Slug, Sourced


class FormulationFact(Sourced):
    """A formulation by its two-letter code; `order` is its place in filling a tank, null where it is spread dry."""

    id: str = Field(pattern=r"^[A-Z]{1,2}$")
    name: str
    state: Literal["liquid", "dry"]
    order: int | None = Field(ge=0, le=100)
    text: str


class Measures(Sourced):
    """The marks on what a person pours or weighs with, the coarsest first, in `unit`."""

    id: Slug
    system: Literal["us", "metric"]
    state: Literal["liquid", "dry"]
    unit: Literal["fl oz", "mL", "oz", "g"]
    steps: tuple[float, ...] = Field(min_length=1)
    text: str


class MixStep(Sourced):
    """A step of filling, of the jar test or of rinsing.

    `order` puts it among the formulations; `adjuvants` limits it to tanks that hold one of these.
    """

    id: Slug
    part: Literal["filling", "jar-test", "rinse"]
    order: int = Field(ge=0, le=100)
    adjuvants: tuple[AdjuvantId, ...] = ()
    text: str
