"""The JSON API: parse, call one service, answer."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from typing import Any

from flask import Blueprint, Response, abort, current_app, jsonify, request
from werkzeug.exceptions import HTTPException

from app.api.openapi import document
from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.house import Observed
from app.engine.output import Output, as_json
from app.engine.product import Product
from app.services import advice, calibration, knowledge_service
from app.services import side_by_side as comparing
from app.services.house import evidence_of
from app.services.shelf import shelf_products
from app.services.strict_json import MAX_BYTES, read_json
from app.store.opening import StoreFault
from app.version import program_version

UNASKED_TYPE = "application/x-www-form-urlencoded"
blueprint = Blueprint("api", __name__, url_prefix="/api/v1")

_ANSWER_KEYS = ("weed", "turf", "month", "zone", "stage", "site_use")
_QUERY_KEYS = {
    "api.answer": _ANSWER_KEYS,
    "api.customers_list": ("search", "page"),
    "api.customers_remove": ("version",),
    "api.properties_list": ("search", "page", "technician", "customer"),
    "api.properties_remove": ("version",),
    "api.forecasts_remove": ("version",),
    "api.rounds_remove": ("version",),
    "api.shelf_remove": ("version",),
    "api.trials_remove": ("version",),
    "api.trials_report": ("alpha",),
    "api.records_list": ("from", "to", "property", "technician", "round", "unfinished", "page"),
    "api.records_export": ("from", "to", "property", "technician", "round", "unfinished"),
    "api.records_due": ("on",),
    "api.records_rate_remove": ("version",),
    "api.year_jobs_properties": ("page",),
    "api.trials_synthesis": ("weed", "treatment", "against", "days_after", "alpha"),
}
KINDS = ("weeds", "actives", "turf", "sources")


def failure(status: int, message: str, faults: tuple[FieldFault, ...] = ()) -> tuple[Response, int]:
    """The one shape of failure."""
    fields = [{"path": fault.path, "message": fault.message} for fault in faults]
    return jsonify({"error": {"message": message, "fields": fields}}), status


@blueprint.errorhandler(InputError)
def bad_input(error: InputError) -> tuple[Response, int]:
    """Input that cannot be used: 422 with every field."""
    return failure(422, str(error), error.faults)


@blueprint.errorhandler(UnknownId)
def not_known(error: UnknownId) -> tuple[Response, int]:
    """An entry that is not there: 404 with the three nearest."""
    return failure(404, str(error))


@blueprint.errorhandler(StoreFault)
def store_away(error: StoreFault) -> tuple[Response, int]:
    """What is kept cannot be read or written now: 503."""
    return failure(503, str(error))


@blueprint.errorhandler(HTTPException)
def refused(error: HTTPException) -> tuple[Response, int]:
    """Everything the web server refuses, in the same shape."""
    return failure(error.code or 500, error.description or error.name)


def answered(service: Callable[[Any], Output]) -> Response:
    """What a service answers to the document that was sent."""
    return jsonify(as_json(service(body())))


def shelf() -> tuple[Product, ...]:
    """The products of the shelf of this app."""
    return shelf_products(current_app.extensions["store"])


def house(weeds: Collection[str]) -> tuple[Observed, ...]:
    """What the house's trials saw of these weeds."""
    return evidence_of(current_app.extensions["store"], weeds)


def body_to_keep(most: int = MAX_BYTES) -> Any:
    """The JSON document of a call that changes what is kept; its type must say that it is JSON.

    No browser sends that type for a page of another site without asking first, and it is not allowed when it asks.
    """
    if not request.is_json:
        abort(415, description="the body must be application/json, and its Content-Type must say so")
    return body(most)


def body(most: int = MAX_BYTES) -> Any:
    """The JSON document that was sent, of at most so many bytes."""
    # A body without a type is read as JSON, and so is one of the type that command-line clients send
    # unasked; one of another type was meant for something else.
    if request.mimetype not in ("", UNASKED_TYPE) and not request.is_json:
        abort(415, description=f"the body must be application/json, not {request.mimetype}")
    return read_json(request.get_data(cache=False), most)


@blueprint.before_request
def only_known_query_keys() -> None:
    """Refuse a key of the query that the call does not take, or one given twice."""
    keys = _QUERY_KEYS.get(request.endpoint or "", ())
    what = f"is not a known key; use {', '.join(keys)}" if keys else "is not a known key; none is taken here"
    faults = [FieldFault(key, what) for key in request.args if key not in keys]
    faults += [
        FieldFault(key, "stands twice; give each key once")
        for key, values in request.args.lists()
        if key in keys and len(values) > 1
    ]
    if faults:
        raise InputError(faults)


@blueprint.post("/recommend")
def recommend() -> Response:
    """Rank programs for a situation."""
    return answered(lambda payload: advice.recommend(payload, shelf, house))


@blueprint.post("/why-not")
def why_not() -> Response:
    """Say what stands against an active or mixture."""
    return answered(lambda payload: advice.why_not(payload, shelf, house))


@blueprint.post("/expect")
def expect() -> Response:
    """Expected control and injury of a stated program."""
    return answered(lambda payload: advice.expect(payload, house))


@blueprint.post("/matrix")
def matrix() -> Response:
    """Every weed against every active on one turf."""
    return answered(advice.matrix)


@blueprint.post("/side-by-side")
def side_by_side() -> Response:
    """What sets two to four products or mixtures apart."""
    return answered(lambda payload: comparing.side_by_side(payload, shelf, house))


@blueprint.post("/identify")
def identify() -> Response:
    """Weeds that fit what is seen of a plant."""
    return answered(advice.identify)


@blueprint.get("/calibration")
def calibrated() -> Response:
    """The engine held against published results."""
    return jsonify(calibration.as_document(calibration.shipped()))


@blueprint.get("/answer")
def answer() -> Response:
    """The quick answer for a weed by whatever name."""
    told = {key: request.args[key] for key in _ANSWER_KEYS if request.args.get(key)}
    if "weed" not in told:
        raise InputError([FieldFault("weed", "is required")])
    month = told.get("month")
    # Digits of the ASCII set alone: others that int() would take are slips of the keyboard.
    if month is not None and not (month.isascii() and month.isdigit() and len(month) <= 2):
        raise InputError([FieldFault("month", "must be a whole number, 1 to 12")])
    found = advice.answer(
        told["weed"],
        turf=told.get("turf"),
        month=int(month) if month is not None else None,
        zone=told.get("zone"),
        stage=told.get("stage"),
        site_use=told.get("site_use"),
        today=date.today(),
        house=house,
    )
    return jsonify(as_json(found))


@blueprint.get("/knowledge/<kind>")
def knowledge_list(kind: str) -> Response:
    """Every entry of a kind."""
    _known(kind)
    return jsonify({"kind": kind, "entries": knowledge_service.list_entries(kind)})


@blueprint.get("/knowledge/<kind>/<key>")
def knowledge_entry(kind: str, key: str) -> Response:
    """One entry with its sources."""
    _known(kind)
    return jsonify(knowledge_service.show_entry(kind, key))


def _known(kind: str) -> None:
    if kind not in KINDS:
        raise UnknownId("kind of entry", kind, KINDS)


@blueprint.get("/health")
def health() -> Response:
    """Whether it answers, and which versions."""
    base = knowledge_service.knowledge_base()
    return jsonify({"status": "ok", "version": program_version(), "knowledge_version": base.version})


@blueprint.get("/openapi.json")
def openapi() -> Response:
    """The OpenAPI document."""
    return jsonify(document())
