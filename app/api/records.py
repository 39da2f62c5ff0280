"""The JSON API of application records; a change names the version that it changes, and nothing is ever removed."""

from __future__ import annotations

from datetime import date

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body_to_keep
from app.engine.output import as_json
from app.services import record_answers
from app.services.record_log import log_csv
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.get("/records")
def records_list() -> Response:
    """A page of the log."""
    return jsonify(as_json(record_answers.listing(_store(), request.args.to_dict())))


@blueprint.post("/records")
def records_add() -> tuple[Response, int, dict[str, str]]:
    """Keep a record, once however often it is sent."""
    kept, new = record_answers.add(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201 if new else 200, {"Location": f"/api/v1/records/{kept.key}"}


@blueprint.get("/records/export.csv")
def records_export() -> Response:
    """The log as a file, one row a product."""
    text = log_csv(_store(), record_answers.log_asked(request.args.to_dict()))
    return Response(text.encode("utf-8-sig"), mimetype="text/csv")


@blueprint.get("/records/due")
def records_due() -> Response:
    """What is due to be rated or sprayed again."""
    return jsonify(as_json(record_answers.due(_store(), request.args.get("on"), date.today())))


@blueprint.get("/records/<key>")
def records_one(key: str) -> Response:
    """One record with its history and what was seen after it."""
    return jsonify(as_json(record_answers.one(_store(), key)))


@blueprint.put("/records/<key>")
def records_change(key: str) -> Response:
    """Change a record; what stood before goes into its history."""
    return jsonify(as_json(record_answers.change(_store(), key, body_to_keep())))


@blueprint.post("/records/<key>/void")
def records_void(key: str) -> Response:
    """Say of a record that it does not count, and why."""
    return jsonify(as_json(record_answers.void(_store(), key, body_to_keep())))


@blueprint.post("/records/<key>/follow-ups")
def records_rate(key: str) -> tuple[Response, int, dict[str, str]]:
    """Keep what was seen after an application."""
    kept = record_answers.follow_up(_store(), key, body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/records/{key}"}


@blueprint.put("/records/<key>/follow-ups/<own>")
def records_rate_change(key: str, own: str) -> Response:
    """Change what was seen after an application."""
    return jsonify(as_json(record_answers.change_follow_up(_store(), key, own, body_to_keep())))


@blueprint.delete("/records/<key>/follow-ups/<own>")
def records_rate_remove(key: str, own: str) -> Response:
    """Forget what was seen after an application."""
    return jsonify(as_json(record_answers.remove_follow_up(_store(), key, own, request.args.get("version"))))
