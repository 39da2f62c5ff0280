"""The JSON API of the shelf; a change names the version that it changes."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body_to_keep
from app.engine.output import as_json
from app.services import shelf, shelf_answers
from app.services.csv_text import MAX_BYTES
from app.store.changed import Changed
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]
# JSON writes a line break or a quotation mark as two signs.
_MOST_JSON = MAX_BYTES + MAX_BYTES // 2


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.errorhandler(Changed)
def changed_meanwhile(error: Changed) -> tuple[Response, int]:
    """Somebody else was quicker: 409 with what is stored now and its version."""
    told: dict[str, Any] = {"message": str(error), "fields": [], "stored": error.stored, "version": error.version}
    return jsonify({"error": told}), 409


@blueprint.get("/shelf")
def shelf_list() -> Response:
    """Everything on the shelf."""
    return jsonify(as_json(shelf_answers.listing(_store())))


@blueprint.post("/shelf")
def shelf_add() -> tuple[Response, int, dict[str, str]]:
    """Put a product on the shelf."""
    kept = shelf_answers.add(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/shelf/{kept.id}"}


@blueprint.get("/shelf/<slug>")
def shelf_product(slug: str) -> Response:
    """One product with its version."""
    return jsonify(as_json(shelf_answers.one(_store(), slug)))


@blueprint.put("/shelf/<slug>")
def shelf_change(slug: str) -> Response:
    """Change a product."""
    return jsonify(as_json(shelf_answers.change(_store(), slug, body_to_keep())))


@blueprint.delete("/shelf/<slug>")
def shelf_remove(slug: str) -> Response:
    """Take a product off the shelf."""
    return jsonify(as_json(shelf_answers.remove(_store(), slug, request.args.get("version"))))


@blueprint.post("/shelf/import")
def shelf_import() -> Response:
    """Preview a file, or import it."""
    return jsonify(as_json(shelf_answers.bring_in(_store(), body_to_keep(_MOST_JSON))))


@blueprint.get("/shelf/export.csv")
def shelf_export() -> Response:
    """The shelf as a file."""
    return Response(shelf.export_csv(_store()).encode("utf-8-sig"), mimetype="text/csv")
