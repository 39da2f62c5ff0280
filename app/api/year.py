"""The JSON API of a planned year; nothing is stored by it."""

from __future__ import annotations

from flask import Response

from app.api.routes import answered, blueprint, house, shelf
from app.services import year as planning
from app.services import year_prices

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


@blueprint.post("/year")
def year() -> Response:
    """The best program of a year for one property."""
    return answered(lambda payload: planning.plan(payload, shelf, house))


@blueprint.post("/year/scenarios")
def year_scenarios() -> Response:
    """The same, and what its plan does when the year goes otherwise."""
    return answered(lambda payload: planning.plan_with_scenarios(payload, shelf, house))


@blueprint.post("/year/price")
def year_price() -> Response:
    """The same with its price, by how the body says prices are made."""
    return answered(lambda payload: year_prices.priced(payload, shelf, house))
