"""The pages: each view parses, calls one service and renders one template."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, jsonify, make_response, redirect, render_template, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError, UnknownId
from app.services import advice, knowledge_service
from app.services.search import suggest
from app.version import program_version
from app.web import units
from app.web.choices import form_choices
from app.web.forms import field_of, read_question
from app.web.security import try_password
from app.web.show import helpers

blueprint = Blueprint("pages", __name__)

_DEMO = {
    "weed": "wild violet",
    "turf": "tall-fescue",
    "zone": "cool-humid",
    "date": "2027-06-15",
    "stage": "flowering",
    "stand": "established",
    "max_temp": "82",
    "max_temp_3": "84",
    "rain_free": "24",
    "wind": "5",
}
_KINDS = {"weeds": "Weeds", "actives": "Actives", "turf": "Turf", "sources": "Sources"}


def _system() -> units.System:
    return units.system_named(request.args.get("units") or request.cookies.get(units.COOKIE))


@blueprint.app_context_processor
def _everywhere() -> dict[str, Any]:
    base = knowledge_service.knowledge_base()
    return {
        "notices": [notice.text for notice in base.notices.values()],
        "knowledge_version": base.version,
        "program_version": program_version(),
        "system": _system(),
        "labels": units.LABELS[_system()],
        "today": date.today().isoformat(),
        "asked_at": request.full_path.rstrip("?"),
        **helpers(base, _system()),
    }


def _typed() -> dict[str, str]:
    return {key: value for key, value in request.args.items() if key != "surroundings"}


def _form(typed: dict[str, str], faults: tuple[FieldFault, ...] = ()) -> dict[str, Any]:
    """What the question form needs: choices, what was typed, and faults by field."""
    by_field: dict[str, str] = {}
    for fault in faults:
        by_field.setdefault(field_of(fault.path), fault.message)
    return {
        "typed": typed,
        "chosen_surroundings": request.args.getlist("surroundings"),
        "faults": by_field,
        **form_choices(knowledge_service.knowledge_base()),
    }


@blueprint.get("/")
def ask() -> str:
    """The question."""
    typed = _typed()
    if not typed and current_app.config["SETTING"].demo:
        typed = dict(_DEMO)
    return render_template("ask.html", **_form(typed))


@blueprint.get("/answer")
def answer() -> str | tuple[str, int]:
    """The ranked answer, at an address that can be sent."""
    typed, base = _typed(), knowledge_service.knowledge_base()
    try:
        asked = read_question(typed, request.args.getlist("surroundings"), base, date.today(), _system())
        found = advice.recommend(asked.payload)
    except InputError as error:
        return _refused(typed, error)
    return render_template(
        "answer.html",
        answer=found,
        alternatives=[base.weeds[key] for key in asked.alternatives],
        why_not=_why_not_addresses(typed),
        **_form(typed),
    )


def _refused(typed: dict[str, str], error: InputError) -> tuple[str, int]:
    near = suggest(knowledge_service.knowledge_base(), typed.get("weed", ""), limit=5)
    return render_template("ask.html", near=near, **_form(typed, error.faults)), 422


def _why_not_addresses(typed: dict[str, str]) -> str:
    pairs = [*typed.items(), *(("surroundings", name) for name in request.args.getlist("surroundings"))]
    return urlencode(pairs)


@blueprint.get("/why-not")
def why_not() -> str | tuple[str, int]:
    """What stands against one active here."""
    typed, base = _typed(), knowledge_service.knowledge_base()
    actives = [name for name in request.args.getlist("active") if name]
    try:
        asked = read_question(typed, request.args.getlist("surroundings"), base, date.today(), _system())
        found = advice.why_not({"situation": asked.payload, "actives": actives})
    except InputError as error:
        return _refused(typed, error)
    return render_template("why_not.html", answer=found, **_form(typed))


@blueprint.get("/suggest")
def suggestions() -> Response:
    """Weeds that what is being typed may mean."""
    found = suggest(knowledge_service.knowledge_base(), request.args.get("q", "")[:80])
    return jsonify([{"id": item.id, "name": item.name, "matched": item.matched} for item in found])


@blueprint.get("/knowledge")
def knowledge() -> str:
    """What is known, and on what basis."""
    return render_template("knowledge.html", kinds=_KINDS, coverage=knowledge_service.coverage())


@blueprint.get("/knowledge/<kind>")
def entries(kind: str) -> str:
    """Every entry of a kind."""
    if kind not in _KINDS:
        raise UnknownId("kind of entry", kind, tuple(_KINDS))
    return render_template("entries.html", kind=kind, title=_KINDS[kind], entries=knowledge_service.list_entries(kind))


@blueprint.get("/knowledge/<kind>/<key>")
def entry(kind: str, key: str) -> str:
    """One entry with its facts and sources."""
    if kind not in _KINDS:
        raise UnknownId("kind of entry", kind, tuple(_KINDS))
    shown = knowledge_service.show_entry(kind, key)
    base = knowledge_service.knowledge_base()
    return render_template(
        f"entry_{kind}.html", entry=getattr(base, kind)[key], key=key, sources=shown.get("sources", {})
    )


@blueprint.get("/about")
def about() -> str:
    """Versions, where data live, and what this does not do."""
    setting = current_app.config["SETTING"]
    return render_template(
        "about.html", coverage=knowledge_service.coverage(), setting=setting, cache=knowledge_service.snapshot_folder()
    )


@blueprint.post("/units")
def choose_units() -> BaseResponse:
    """Remember US or metric."""
    back = request.form.get("back", "/")
    # Only a path of our own: another host after // or a scheme would lead away.
    safe = back if back.startswith("/") and not back.startswith("//") and "\\" not in back else "/"
    answered = redirect(safe, code=303)
    chosen = units.system_named(request.form.get("units"))
    answered.set_cookie(units.COOKIE, chosen, max_age=31_536_000, samesite="Strict", httponly=True)
    return answered


@blueprint.get("/login")
def login() -> str:
    """The password."""
    return render_template("login.html", fault=None)


@blueprint.post("/login")
def log_in() -> BaseResponse | tuple[str, int]:
    """Check the password."""
    fault = try_password(request.form.get("password", ""))
    if fault is not None:
        return render_template("login.html", fault=fault), 422
    return redirect("/", code=303)


@blueprint.app_errorhandler(UnknownId)
def not_known(error: UnknownId) -> tuple[str, int]:
    """An entry that is not there."""
    return render_template("error.html", title="Not known", message=str(error)), 404


@blueprint.app_errorhandler(HTTPException)
def refused(error: HTTPException) -> Response:
    """Everything the web server refuses, as a page; the API answers in its own shape."""
    if request.path.startswith("/api/"):
        body: dict[str, Any] = {"error": {"message": error.description or error.name, "fields": []}}
        return make_response(jsonify(body), error.code or 500)
    page = render_template("error.html", title=error.name, message=error.description or "")
    return make_response(page, error.code or 500)
