"""The JSON API of rounds: kept, planned, their load sheet, and their stops turned into records."""

from __future__ import annotations

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body_to_keep
from app.engine.output import as_json
from app.services import round_answers as answers
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.get("/rounds")
def rounds_list() -> Response:
    """Every round."""
    return jsonify(as_json(answers.listing(_store())))


@blueprint.post("/rounds")
def rounds_add() -> tuple[Response, int, dict[str, str]]:
    """Keep a round."""
    kept = answers.add(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/rounds/{kept.id}"}


@blueprint.get("/rounds/<slug>")
def rounds_one(slug: str) -> Response:
    """One round with its plan."""
    return jsonify(as_json(answers.one(_store(), slug)))


@blueprint.put("/rounds/<slug>")
def rounds_change(slug: str) -> Response:
    """Change a round."""
    return jsonify(as_json(answers.change(_store(), slug, body_to_keep())))


@blueprint.delete("/rounds/<slug>")
def rounds_remove(slug: str) -> Response:
    """Remove a round that has no record."""
    return jsonify(as_json(answers.remove(_store(), slug, request.args.get("version"))))


@blueprint.post("/rounds/<slug>/plan")
def rounds_plan(slug: str) -> Response:
    """Plan a round and keep the plan."""
    return jsonify(as_json(answers.plan(_store(), slug, body_to_keep())))


@blueprint.post("/rounds/<slug>/done")
def rounds_done(slug: str) -> tuple[Response, int]:
    """Turn a stop that was sprayed into a record."""
    made = answers.done(_store(), slug, body_to_keep())
    return jsonify(as_json(made)), 201 if made.new else 200


@blueprint.get("/forecasts")
def forecasts_list() -> Response:
    """Every forecast that is kept."""
    return jsonify(as_json(answers.forecast_listing(_store())))


@blueprint.post("/forecasts")
def forecasts_add() -> tuple[Response, int]:
    """Keep a forecast."""
    return jsonify(as_json(answers.keep_forecast(_store(), body_to_keep()))), 201


@blueprint.delete("/forecasts/<slug>")
def forecasts_remove(slug: str) -> Response:
    """Forget a forecast."""
    return jsonify(as_json(answers.remove_forecast(_store(), slug, request.args.get("version"))))


@blueprint.get("/rounds/<slug>/sheet")
def rounds_sheet(slug: str) -> Response:
    """The load sheet of a planned round."""
    return jsonify(as_json(answers.sheet(_store(), slug)))
