"""Facts of application records: the fields of a record, and which of them are usually asked for."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from knowledge.models.common import Slug, Sourced


class RecordField(Sourced):
    """A field of an application record and whether the usual rules ask for it.

    Attributes
    ----------
    field : str
        Its path in a record; `products.` before what each product has.
    name : str
        What it is called in a sentence.
    asked : str
        `usual` where the usual rules ask for it, `branch` where a branch may ask for it.
    beside, unless : str
        A field that must be filled, or must be empty, for this one to be asked for.
    """

    id: Slug
    field: str = Field(pattern=r"^[a-z_]+(\.[a-z_]+)?$")
    name: str = Field(min_length=3)
    asked: Literal["usual", "branch"]
    beside: str = ""
    unless: str = ""
