"""The JSON API of weather: spray windows and degree-days; nothing is stored."""

from __future__ import annotations

from flask import Response, current_app, jsonify

from app.api.routes import blueprint, body
from app.engine.output import as_json
from app.engine.product import Product
from app.services import weather
from app.services.shelf import product_named

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _held(slug: str) -> Product:
    return product_named(current_app.extensions["store"], slug)[0]


@blueprint.post("/windows")
def spray_windows() -> Response:
    """Which hours of a forecast are open for spraying."""
    return jsonify(as_json(weather.windows(body(), _held)))


@blueprint.post("/degree-days")
def degree_days() -> Response:
    """Degree-days of a run of days."""
    return jsonify(as_json(weather.degree_days(body())))
