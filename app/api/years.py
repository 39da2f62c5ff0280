"""The JSON API of the years of kept properties."""

from __future__ import annotations

from flask import Response, current_app, jsonify

from app.api.routes import blueprint, body_to_keep
from app.engine.output import as_json
from app.services import year_answers as answers
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.get("/years/<slug>/<int:season>")
def years_one(slug: str, season: int) -> Response:
    """The chosen plan of a property's year, and its versions."""
    return jsonify(as_json(answers.one(_store(), slug, season)))


@blueprint.post("/years/<slug>/<int:season>")
def years_plan(slug: str, season: int) -> tuple[Response, int]:
    """Plan a property's year, and keep the plan."""
    return jsonify(as_json(answers.plan(_store(), slug, season, body_to_keep()))), 201
