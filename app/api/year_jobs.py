"""The JSON API of planning a branch in one go: begun, watched, cancelled, gone on with, and what it adds up to."""

from __future__ import annotations

from flask import Response, current_app, jsonify, request

from app.api.routes import blueprint, body_to_keep
from app.engine.errors import FieldFault, InputError
from app.engine.output import as_json
from app.services import year_job_answers as answers
from app.store.opening import Store

# The same blueprint, with the calls of this file on it.
__all__ = ["blueprint"]


def _store() -> Store:
    store: Store = current_app.extensions["store"]
    return store


@blueprint.get("/year-jobs")
def year_jobs_list() -> Response:
    """The latest jobs."""
    return jsonify(as_json(answers.listing(_store())))


@blueprint.post("/year-jobs")
def year_jobs_start() -> tuple[Response, int, dict[str, str]]:
    """Begin to plan the year of a branch."""
    told, new = answers.start(_store(), body_to_keep())
    return jsonify(as_json(told)), 201 if new else 200, {"Location": f"/api/v1/year-jobs/{told.id}"}


@blueprint.get("/year-jobs/<key>")
def year_jobs_one(key: str) -> Response:
    """How far a job is."""
    return jsonify(as_json(answers.one(_store(), key)))


@blueprint.delete("/year-jobs/<key>")
def year_jobs_remove(key: str) -> Response:
    """Forget a job that nobody works on."""
    return jsonify(as_json(answers.remove(_store(), key)))


@blueprint.post("/year-jobs/<key>/cancel")
def year_jobs_cancel(key: str) -> Response:
    """Have a job stop."""
    _nothing(body_to_keep())
    return jsonify(as_json(answers.cancel(_store(), key)))


@blueprint.post("/year-jobs/<key>/resume")
def year_jobs_resume(key: str) -> Response:
    """Go on with a job."""
    _nothing(body_to_keep())
    return jsonify(as_json(answers.resume(_store(), key)))


@blueprint.post("/year-jobs/<key>/use")
def year_jobs_use(key: str) -> Response:
    """Take plans over into the years of their properties."""
    return jsonify(as_json(answers.use(_store(), key, body_to_keep())))


@blueprint.get("/year-jobs/<key>/summary")
def year_jobs_summary(key: str) -> Response:
    """Expected control and gaps over the branch."""
    return jsonify(as_json(answers.summary(_store(), key)))


@blueprint.get("/year-jobs/<key>/order")
def year_jobs_order(key: str) -> Response:
    """The season's order in whole packs by month."""
    return jsonify(as_json(answers.order(_store(), key)))


@blueprint.get("/year-jobs/<key>/load")
def year_jobs_load(key: str) -> Response:
    """Visits, area and minutes by week and technician."""
    return jsonify(as_json(answers.load(_store(), key)))


@blueprint.get("/year-jobs/<key>/properties")
def year_jobs_properties(key: str) -> Response:
    """A page of the properties of a job."""
    told = request.args.get("page", "1")
    if not (told.isascii() and told.isdecimal() and len(told) < 10):
        raise InputError([FieldFault("page", f"'{told[:20]}' is no page; count from 1")])
    return jsonify(as_json(answers.places(_store(), key, int(told))))


@blueprint.get("/year-jobs/<key>/properties/<slug>")
def year_jobs_plans(key: str, slug: str) -> Response:
    """What was planned for a property."""
    return jsonify(as_json(answers.plans(_store(), key, slug)))


def _nothing(payload: object) -> None:
    if payload != {}:
        raise InputError([FieldFault("", "nothing is told here; send {}")])
