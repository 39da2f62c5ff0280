"""The pages: each view parses, calls one service and renders one template."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, jsonify, make_response, redirect, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as BaseResponse

from app.api.routes import failure
from app.engine.errors import InputError, UnknownId
from app.engine.house import Observed, house_sources
from app.engine.house_output import FigureUnused, MovedRecord
from app.engine.output import Recommendation, WhyNot, as_json
from app.engine.product import Product
from app.services import advice, house, knowledge_service
from app.services.search import suggest
from app.services.shelf import shelf_products
from app.store.opening import StoreFault
from app.version import program_version
from app.web import arrange, units
from app.web.choices import form_choices
from app.web.fields import FIELD_LABELS, KIND_OF_FIELD, QUICK
from app.web.forms import Asked, read_question
from app.web.security import STALE_FORM, here, own_path
from app.web.show import helpers
from app.web.trial_moved import unused_words
from knowledge.models import Source

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
# Parts of an address that are no field of the question.
_BESIDE = ("surroundings", "active", "units")


def _typed_in() -> units.System:
    """The system in which the figures of this address were typed."""
    return units.system_named(request.args.get("units"))


def _system() -> units.System:
    """The system to show: the one remembered, else that of the address."""
    return units.system_named(request.cookies.get(units.COOKIE) or request.args.get("units"))


@blueprint.app_context_processor
def _everywhere() -> dict[str, Any]:
    base = knowledge_service.knowledge_base()
    return {
        "notices": [notice.text for notice in base.notices.values()],
        "knowledge_version": base.version,
        "program_version": program_version(),
        "system": _system(),
        # Not asked of the store again: a page that says the store is away must not need it.
        "guarded": g.get("logged_in", False),
        "labels": units.LABELS[_system()],
        "asked_at": request.full_path.rstrip("?"),
        "numbers": {},
        **helpers(base, _system(), _house_source),
    }


def _typed() -> dict[str, str]:
    return {key: value for key, value in request.args.items() if key not in _BESIDE}


def _address(changes: dict[str, str] | None = None, *, without: tuple[str, ...] = ()) -> str:
    """The query of this question, for a link that asks it again."""
    changed = changes or {}
    kept = [
        (key, value)
        for key, value in request.args.items(multi=True)
        if value and key not in without and key not in changed
    ]
    return urlencode([*kept, *changed.items()])


def _asked() -> Asked:
    base = knowledge_service.knowledge_base()
    return read_question(_typed(), request.args.getlist("surroundings"), base, date.today(), _typed_in())


def _form(typed: dict[str, str], faults: dict[str, str] | None = None) -> dict[str, Any]:
    """What the question form needs: choices, what was typed, and faults by field."""
    shown = {
        key: units.retyped("past_rate" if key.startswith("past_rate") else KIND_OF_FIELD.get(key, ""), *_turned(value))
        for key, value in typed.items()
    }
    if typed.get("area"):
        # An area is not turned: it keeps the unit it was typed in.
        shown.setdefault("area_unit", units.LABELS[_typed_in()]["area"])
    return {
        "typed": shown,
        "told": sum(1 for key, value in typed.items() if value and key not in QUICK),
        "chosen_surroundings": request.args.getlist("surroundings"),
        "faults": faults or {},
        "near": {},
        "address": _address,
        "asked_pairs": [pair for pair in request.args.items(multi=True) if pair[1] and pair[0] != "active"],
        **form_choices(knowledge_service.knowledge_base()),
    }


def _turned(text: str) -> tuple[str, units.System, units.System]:
    return text, _typed_in(), _system()


def _shelf() -> tuple[Product, ...]:
    return shelf_products(here())


def _house(weeds: Collection[str] | None = None) -> tuple[Observed, ...]:
    """What the house's trials saw of some weeds, or of any."""
    found = house.evidence_of(here(), weeds)
    g.house_sources = {**g.get("house_sources", {}), **house_sources(found)}
    return found


def _house_source(key: str) -> Source:
    """A trial as a source; what the page has read already is not read again."""
    if key not in g.get("house_sources", {}):
        _house()
    found: Source = g.house_sources[key]
    return found


def _refused(asked: Asked, error: InputError) -> tuple[str, int]:
    form = _form(_typed(), asked.rows.by_field(error.faults, _system()))
    return render_template("ask.html", **{**form, "near": asked.near}), 422


def _has_blanks() -> bool:
    """Whether a form sent fields that were left empty; the address is then made short first."""
    return any(not value for values in request.args.listvalues() for value in values)


def _meant(asked: Asked) -> list[dict[str, Any]]:
    """How each name was taken, and the addresses that ask after the other weeds it may mean."""
    found = []
    for named, row in zip(asked.named, asked.rows.targets, strict=True):
        field = "weed" if row == 1 else f"weed_{row}"
        names = [knowledge_service.knowledge_base().weeds[other].name for other in named.others]
        others = [(name, f"/answer?{_address({field: name})}") for name in names]
        taken = named.asked.lower() != named.weed.name.lower()
        found.append({"asked": named.asked, "name": named.weed.name, "taken": taken, "others": others})
    return [item for item in found if item["taken"] or item["others"]]


def _answered(found: Recommendation | WhyNot, asked: Asked, settle_at: str = "") -> dict[str, Any]:
    """What both pages of an answer need; `settle_at` is the page that holds the question's fields."""
    rows = asked.rows
    unknown = [FIELD_LABELS[rows.field_of(path)] for path in found.situation.derived.unknowns]
    return {
        "answer": found,
        "field_of": rows.field_of,
        "not_told": list(dict.fromkeys(unknown)),
        "numbers": {key: number for number, key in enumerate(found.sources, start=1)},
        "settle_at": settle_at,
        "tanks_of": arrange.tanks_of,
        "mix_address": arrange.mix_address,
        "score_rows": arrange.score_rows,
        **_form(_typed()),
    }


@blueprint.get("/")
def ask() -> str:
    """The question."""
    typed = _typed()
    if not typed and current_app.config["SETTING"].demo:
        typed = dict(_DEMO)
    return render_template("ask.html", **_form(typed))


@blueprint.get("/answer")
def answer() -> str | tuple[str, int] | BaseResponse:
    """The ranked answer, at an address that can be sent."""
    if _has_blanks():
        return redirect(f"/answer?{_address()}")
    asked = _asked()
    try:
        found = advice.recommend(asked.checked(), _shelf, _house)
    except InputError as error:
        return _refused(asked, error)
    return render_template(
        "answer.html",
        asked=asked,
        meant=_meant(asked),
        comparisons=arrange.comparisons_of(found.ranked),
        **_answered(found, asked),
    )


@blueprint.get("/answer.json")
def answer_as_json() -> Response | tuple[Response, int]:
    """The same answer as JSON, in the shape of the API."""
    asked = _asked()
    try:
        return jsonify(as_json(advice.recommend(asked.checked(), _shelf, _house)))
    except InputError as error:
        found = asked.rows.by_field(error.faults, _system())
        return failure(422, "; ".join(f"{field}: {message}" for field, message in found.items()), error.faults)


@blueprint.get("/why-not")
def why_not() -> str | tuple[str, int] | BaseResponse:
    """What stands against one active here."""
    if _has_blanks():
        return redirect(f"/why-not?{_address()}")
    asked = _asked()
    try:
        found = advice.why_not(
            {"situation": asked.checked(), "actives": request.args.getlist("active")}, _shelf, _house
        )
    except InputError as error:
        return _refused(asked, error)
    question = f"/answer?{_address(without=('active',))}"
    return render_template("why_not.html", **_answered(found, asked, settle_at=question))


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
    groups = arrange.listing(kind, knowledge_service.knowledge_base())
    return render_template("entries.html", kind=kind, title=_KINDS[kind], groups=groups)


@blueprint.get("/knowledge/<kind>/<key>")
def entry(kind: str, key: str) -> str:
    """One entry with its facts and sources."""
    if kind not in _KINDS:
        raise UnknownId("kind of entry", kind, tuple(_KINDS))
    sources = knowledge_service.show_entry(kind, key).get("sources", {})
    base = knowledge_service.knowledge_base()
    if kind == "actives":
        sources = {**sources, **dict.fromkeys(arrange.cited_beside(key, base))}
    moved, unused = _moved(kind, key)
    sources = {**sources, **dict.fromkeys(key for record in moved for key in record.sources)}
    numbers = {name: number for number, name in enumerate(sources, start=1)}
    return render_template(
        f"entry_{kind}.html",
        entry=getattr(base, kind)[key],
        key=key,
        numbers=numbers,
        base=base,
        arrange=arrange,
        uses_of=knowledge_service.uses_of,
        moved=moved,
        unused=unused_words(base, unused),
    )


def _moved(kind: str, key: str) -> tuple[tuple[MovedRecord, ...], tuple[FigureUnused, ...]]:
    """What the house's trials do to the records of a weed or active."""
    if kind == "weeds":
        return house.moved_records(_house({key}), weed=key)
    return house.moved_records(_house(), active=key) if kind == "actives" else ((), ())


@blueprint.post("/units")
def choose_units() -> BaseResponse:
    """Remember US or metric."""
    answered = redirect(own_path(request.form.get("back", "/")), code=303)
    chosen = units.system_named(request.form.get("units"))
    answered.set_cookie(units.COOKIE, chosen, max_age=31_536_000, samesite="Strict", httponly=True)
    return answered


@blueprint.app_errorhandler(UnknownId)
def not_known(error: UnknownId) -> tuple[str, int]:
    """An entry that is not there."""
    near = [(f"/knowledge/{kind}/{key}", key) for kind, key in _near(error)]
    return render_template("error.html", status=404, message=f"{error}.", near=near), 404


def _near(error: UnknownId) -> list[tuple[str, str]]:
    base = knowledge_service.knowledge_base()
    return [(kind, key) for key in error.near for kind in _KINDS if key in getattr(base, kind)]


@blueprint.app_errorhandler(StoreFault)
def store_away(error: StoreFault) -> tuple[str, int]:
    """What is kept cannot be read or written now."""
    return render_template("error.html", status=503, message=f"{error}.", near=[]), 503


@blueprint.app_errorhandler(HTTPException)
def refused(error: HTTPException) -> BaseResponse:
    """Everything the web server refuses, as a page; the API answers in its own shape."""
    status = error.code or 500
    if request.path.startswith("/api/"):
        return make_response(failure(status, error.description or error.name))
    if isinstance(error, CSRFError):
        error.description = STALE_FORM
    told = error.description if status in (400, 403) and type(error).description != error.description else None
    page = make_response(render_template("error.html", status=status, message=told, near=[]), status)
    page.headers.extend([pair for pair in error.get_headers() if pair[0] == "Allow"])
    return page
