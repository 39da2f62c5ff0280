"""The JSON API of mixing."""

from __future__ import annotations

from flask import Response, current_app

from app.api.routes import answered, blueprint
from app.services import mixing
from app.services.shelf import product_named
from app.services.sprayers import sprayer_named

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


@blueprint.post("/mix")
def mix() -> Response:
    """Amounts for a tank, a load or a backpack, with the order of mixing."""
    store = current_app.extensions["store"]
    return answered(
        lambda payload: mixing.mix(
            payload, lambda slug: product_named(store, slug)[0], lambda slug: sprayer_named(store, slug).document
        )
    )


@blueprint.post("/sprayer-calibration")
def calibrate() -> Response:
    """The carrier volume from what was measured."""
    return answered(mixing.calibrate)
