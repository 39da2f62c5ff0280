"""The JSON API of trials; a change names the version that it changes."""

from __future__ import annotations

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body, body_to_keep
from app.engine.output import as_json
from app.services import trial_answers
from app.services.csv_text import MAX_BYTES
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]
# JSON writes a line break or a quotation mark as two signs.
_MOST_JSON = MAX_BYTES + MAX_BYTES // 2


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.post("/trials/analyse")
def trials_analyse() -> Response:
    """Analyse a file of plots; nothing is stored."""
    return jsonify(as_json(trial_answers.analyse(body(_MOST_JSON))))


@blueprint.post("/trials/import")
def trials_import() -> Response:
    """Preview a file of plots, or import it."""
    return jsonify(as_json(trial_answers.bring_in(_store(), body_to_keep(_MOST_JSON))))


@blueprint.post("/trials/ratings")
def trials_rate() -> tuple[Response, int, dict[str, str]]:
    """Keep a follow-up rating of a treated lawn."""
    kept = trial_answers.rate(_store(), body_to_keep())
    return jsonify(as_json(kept)), 201, {"Location": f"/api/v1/trials/{kept.id}"}


@blueprint.get("/trials/synthesis")
def trials_synthesis() -> Response:
    """What several kept trials say of one question."""
    return jsonify(as_json(trial_answers.pooled(_store(), request.args.to_dict())))


@blueprint.get("/trials")
def trials_list() -> Response:
    """Every kept trial."""
    return jsonify(as_json(trial_answers.listing(_store())))


@blueprint.get("/trials/<slug>")
def trials_one(slug: str) -> Response:
    """One trial with its version."""
    return jsonify(as_json(trial_answers.one(_store(), slug)))


@blueprint.put("/trials/<slug>")
def trials_change(slug: str) -> Response:
    """Change a trial."""
    return jsonify(as_json(trial_answers.change(_store(), slug, body_to_keep(_MOST_JSON))))


@blueprint.delete("/trials/<slug>")
def trials_remove(slug: str) -> Response:
    """Remove a trial."""
    return jsonify(as_json(trial_answers.remove(_store(), slug, request.args.get("version"))))


@blueprint.get("/trials/<slug>/report")
def trials_report(slug: str) -> Response:
    """The analysis of a trial."""
    return jsonify(as_json(trial_answers.report(_store(), slug, request.args.get("alpha"))))
