"""The JSON API of properties, customers and scouting notes; a change names the version that it changes."""

from __future__ import annotations

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body_to_keep
from app.engine.output import as_json
from app.services import property_answers as answers
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.get("/properties")
def properties_list() -> Response:
    """A page of properties."""
    return jsonify(as_json(answers.listing(_store(), request.args.to_dict())))


@blueprint.post("/properties")
def properties_add() -> tuple[Response, int, dict[str, str]]:
    """Keep a property."""
    kept = answers.add(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/properties/{kept.id}"}


@blueprint.get("/properties/<slug>")
def properties_one(slug: str) -> Response:
    """One property with its version."""
    return jsonify(as_json(answers.one(_store(), slug)))


@blueprint.put("/properties/<slug>")
def properties_change(slug: str) -> Response:
    """Change a property."""
    return jsonify(as_json(answers.change(_store(), slug, body_to_keep())))


@blueprint.delete("/properties/<slug>")
def properties_remove(slug: str) -> Response:
    """Remove a property."""
    return jsonify(as_json(answers.remove(_store(), slug, request.args.get("version"))))


@blueprint.get("/properties/<slug>/notes")
def notes_list(slug: str) -> Response:
    """The notes of a property."""
    return jsonify(as_json(answers.notes(_store(), slug)))


@blueprint.post("/properties/<slug>/notes")
def notes_add(slug: str) -> tuple[Response, int]:
    """Keep a note on a property."""
    return jsonify(as_json(answers.add_note(_store(), slug, body_to_keep()))), 201


@blueprint.put("/properties/<slug>/notes/<key>")
def notes_change(slug: str, key: str) -> Response:
    """Change or close a note."""
    return jsonify(as_json(answers.change_note(_store(), slug, key, body_to_keep())))


@blueprint.get("/customers")
def customers_list() -> Response:
    """A page of customers."""
    return jsonify(as_json(answers.customer_listing(_store(), request.args.to_dict())))


@blueprint.post("/customers")
def customers_add() -> tuple[Response, int, dict[str, str]]:
    """Keep a customer."""
    kept = answers.add_customer(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/customers/{kept.id}"}


@blueprint.get("/customers/<slug>")
def customers_one(slug: str) -> Response:
    """One customer with their properties."""
    return jsonify(as_json(answers.customer(_store(), slug)))


@blueprint.put("/customers/<slug>")
def customers_change(slug: str) -> Response:
    """Change a customer."""
    return jsonify(as_json(answers.change_customer(_store(), slug, body_to_keep())))


@blueprint.delete("/customers/<slug>")
def customers_remove(slug: str) -> Response:
    """Remove a customer for whom nothing is served."""
    return jsonify(as_json(answers.remove_customer(_store(), slug, request.args.get("version"))))
