"""The papers of a round: the load sheet, the same as one file for the phone, and the slip for the customer."""

from __future__ import annotations

from importlib import resources

from flask import Blueprint, Response, render_template
from markupsafe import Markup

from app.engine.errors import UnknownId
from app.services import records, rounds
from app.services.round_papers import Head, Papers, papers, slip
from app.web.round_show import paper_words, rinse_of
from app.web.security import here
from app.web.shelf import system

blueprint = Blueprint("round_sheets", __name__)


def _papers(slug: str) -> Papers:
    """The papers of a planned round.

    Raises
    ------
    UnknownId
        Where there is no such round, or it has no plan yet.
    """
    kept = rounds.one(here(), slug)
    if kept.plan is None:
        raise UnknownId("planned round", slug, (), "yet: plan it first")
    told = kept.round
    head = Head(slug, told.name, kept.version, told.technician, told.sprayer or "")
    return papers(here(), head, kept.plan, system())


@blueprint.get("/round/<slug>/sheet")
def sheet(slug: str) -> str:
    """The load sheet, to be printed."""
    found = _papers(slug)
    return render_template("round_sheet.html", papers=found, rinse=rinse_of(found.sheet), **paper_words(system()))


@blueprint.get("/round/<slug>/sheet.html")
def phone(slug: str) -> Response:
    """The load sheet as one file that needs nothing else."""
    found = _papers(slug)
    static = resources.files("app.web").joinpath("static")
    # Both are files of this app; the template would otherwise write their signs as text.
    css = Markup(static.joinpath("papers.css").read_text(encoding="utf-8"))
    script = Markup(static.joinpath("phone.js").read_text(encoding="utf-8"))
    page = render_template(
        "round_phone.html",
        papers=found,
        rinse=rinse_of(found.sheet),
        css=css,
        script=script,
        **paper_words(system()),
    )
    answered = Response(page, mimetype="text/html")
    name = f"load-sheet-{slug}-{found.sheet.date.isoformat()}.html"
    answered.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answered


@blueprint.get("/round/<slug>/slip/<property>")
def customer_slip(slug: str, property: str) -> str:
    """The customer's slip for one property."""
    found, done = _papers(slug), rounds.one(here(), slug).done
    told = [records.one(here(), key).record for (place, _), key in sorted(done.items()) if place == property]
    return render_template("round_slip.html", papers=found, slip=slip(found, property, told), **paper_words(system()))
