"""The JSON API of the growth of weeds."""

from __future__ import annotations

from flask import Response

from app.api.routes import answered, blueprint
from app.services import growth

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


@blueprint.post("/stage-on")
def stage_on() -> Response:
    """The stage to expect on a day of a weed that was scouted earlier."""
    return answered(growth.stage_on)


@blueprint.post("/emergence")
def emergence() -> Response:
    """When seedlings come up by temperatures day by day."""
    return answered(growth.emergence)
