"""Rounds: listed, made, planned, changed, and each stop done."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import properties, round_done, round_plan, rounds
from app.services.sprayers import list_sprayers
from app.store.changed import Changed
from app.web.conflict import conflict
from app.web.round_form import LABELS, by_field, document, field_words, form, typed_in, typed_of
from app.web.round_page import page_of, row_of
from app.web.security import here
from app.web.shelf import system

blueprint = Blueprint("rounds", __name__)
Page = str | BaseResponse | tuple[str, int]


@blueprint.get("/round")
def listing() -> str:
    """Every round, the latest first."""
    return render_template(
        "rounds.html",
        rows=[row_of(kept) for kept in rounds.listing(here())],
        properties=properties.listing(here()).kept,
        told=request.args.get("told", ""),
    )


@blueprint.get("/round/new")
def new() -> str:
    """The form of a new round: for tomorrow, with one sprayer chosen where there is but one."""
    tomorrow = date.today() + timedelta(days=1)
    sprayers = list_sprayers(here())
    only = {"sprayer": sprayers[0].slug} if len(sprayers) == 1 else {}
    if told := request.args.get("forecast", ""):
        only["forecast"] = told
    return form(
        None, {**only, "date": tomorrow.isoformat(), "tanks": "2", "max_applications": "2", "catalog": "shelf"}, []
    )


@blueprint.post("/round/new")
def add() -> Page:
    """Make a round, or show other properties to choose from."""
    typed, stops = typed_in()
    if typed.get("act") != "save":
        return form(None, typed, stops)
    try:
        kept = rounds.make(here(), document(typed, stops), datetime.now(UTC))
    except InputError as error:
        return form(None, typed, stops, faults=by_field(error.faults)), 422
    return redirect(f"/round/{kept.slug}?told=made", code=303)


@blueprint.get("/round/<slug>")
def one(slug: str) -> str:
    """A round with its plan."""
    return _page(slug)


@blueprint.post("/round/<slug>/plan")
def plan(slug: str) -> Page:
    """Plan a round that stands at a version, and keep the plan."""
    try:
        round_plan.plan(here(), slug, _version(), datetime.now(UTC))
    except InputError as error:
        return _page(slug, fault=error.faults[0].message), 422
    except Changed as changed:
        return _page(slug, fault=f"{changed}. Below it stands as it is now; plan it again if it is right."), 409
    return redirect(f"/round/{slug}?told=planned", code=303)


@blueprint.post("/round/<slug>/done")
def done(slug: str) -> Page:
    """Write the record of a stop that was sprayed as planned."""
    key, area = request.form.get("property", ""), request.form.get("area", "")
    try:
        kept = round_done.done(here(), slug, key, area, datetime.now(UTC))
    except InputError as error:
        return _page(slug, fault=error.faults[0].message), 422
    return redirect(f"/round/{slug}?told={'gaps' if kept.unfinished else 'done'}&record={kept.key}", code=303)


@blueprint.get("/round/<slug>/change")
def change_form(slug: str) -> str:
    """The form of a kept round."""
    kept = rounds.one(here(), slug)
    typed, stops = typed_of(kept.round)
    return form(slug, typed, stops, kept.version)


@blueprint.post("/round/<slug>/change")
def change(slug: str) -> Page:
    """Change a round, or show what somebody else made of it."""
    typed, stops = typed_in()
    version = _version()
    if typed.get("act") != "save":
        return form(slug, typed, stops, version)
    try:
        rounds.change(here(), slug, document(typed, stops), version, datetime.now(UTC))
    except InputError as error:
        return form(slug, typed, stops, version, by_field(error.faults)), 422
    except Changed as changed:
        theirs = typed_of(rounds.one(here(), slug).round) if changed.stored is not None else ({}, [])
        mine, other = field_words(typed, stops), field_words(*theirs)
        told = conflict(changed, [(LABELS[key], mine[key], other[key]) for key in mine], f"/round/{slug}")
        gone = changed.stored is None
        return form(None if gone else slug, typed, stops, changed.version or 0, told=told), 409
    return redirect(f"/round/{slug}?told=changed", code=303)


@blueprint.post("/round/<slug>/remove")
def remove(slug: str) -> Page:
    """Forget a round, or say why it stays."""
    try:
        rounds.remove(here(), slug, _version())
    except InputError as error:
        return _page(slug, fault=error.faults[0].message), 422
    except Changed as changed:
        if changed.stored is None:
            return redirect("/round?told=removed", code=303)
        return _page(slug, fault=f"{changed}. It is not removed; below it stands as it is now."), 409
    return redirect("/round?told=removed", code=303)


def _page(slug: str, fault: str = "") -> str:
    return render_template(
        "round.html",
        fault=fault,
        told=request.args.get("told", ""),
        record=request.args.get("record", ""),
        **page_of(here(), rounds.one(here(), slug), system()),
    )


def _version() -> int:
    told = request.form.get("version", "0")
    return int(told) if told.isascii() and told.isdigit() else 0
