"""Ratings of treated lawns: weaker evidence than plots, and said to be so."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import knowledge_service, trials
from app.store.changed import Changed
from app.web.lawn_form import LAWN_ACTIVES, MOST_LAWNS, STARTING_LAWNS, TypedLawns, empty_lawns, lawn_label, read_lawns
from app.web.security import here
from app.web.shelf import system
from app.web.trial_form import choices

blueprint = Blueprint("trial_rate", __name__)
Page = str | BaseResponse | tuple[str, int]


@blueprint.get("/trials/rate")
def ask_rating() -> str:
    """The form for ratings of treated lawns."""
    return _form(empty_lawns())


@blueprint.post("/trials/rate")
def add_rating() -> Page:
    """Keep ratings of treated lawns."""
    typed = read_lawns(request.form, knowledge_service.knowledge_base())
    if request.form.get("act") == "add":
        typed.faults, typed.rows = {}, min(typed.rows + STARTING_LAWNS, MOST_LAWNS)
        return _form(typed)
    if typed.faults:
        return _form(typed), 422
    try:
        kept = trials.add_ratings(here(), typed.payloads)
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed), 422
    except Changed as changed:
        typed.faults["trial"] = f"{changed}; send it once more to add yours to it"
        return _form(typed), 409
    return redirect(f"/trials/{kept.slug}?told=kept", code=303)


def _form(typed: TypedLawns) -> str:
    return render_template(
        "trial_rate.html",
        typed=typed.fields,
        faults=typed.faults,
        rows=typed.rows,
        most_lawns=MOST_LAWNS,
        active_rows=LAWN_ACTIVES,
        label_of=lawn_label,
        **choices(knowledge_service.knowledge_base(), system()),
    )
