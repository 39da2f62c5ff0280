"""The papers of a planned year: the proposal for the customer, the sheet for the branch, calendar and table."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, Response, render_template

from app.services.year_calendar import calendar as calendar_of
from app.services.year_papers import YearPapers, papers, proposal_of
from app.services.year_visits_csv import visits_csv
from app.web.files import csv_answer
from app.web.security import here
from app.web.shelf import system
from app.web.year_show import has_room, proposal_words, sheet_words

blueprint = Blueprint("year_papers", __name__)


@blueprint.get("/year/<property>/<int:season>/proposal")
def proposal(property: str, season: int) -> str:
    """The proposal, to be printed for the customer."""
    found = papers(here(), property, season)
    today = datetime.now(UTC).date()
    made = proposal_of(found, today)
    if not has_room(made):
        made = proposal_of(found, today, brief=True)
    return render_template(
        "year_proposal.html", papers=found, proposal=made, **_ways(found), **proposal_words(found, made, system())
    )


@blueprint.get("/year/<property>/<int:season>/sheet")
def sheet(property: str, season: int) -> str:
    """The year sheet, to be printed for the branch."""
    found = papers(here(), property, season)
    return render_template("year_sheet.html", papers=found, **_ways(found), **sheet_words(found, system()))


@blueprint.get("/year/<property>/<int:season>/calendar.ics")
def calendar(property: str, season: int) -> Response:
    """The visits as a calendar."""
    found = papers(here(), property, season)
    answered = Response(calendar_of(found, datetime.now(UTC)).encode("utf-8"), mimetype="text/calendar")
    answered.headers["Content-Disposition"] = f'attachment; filename="{_stem(found)}.ics"'
    return answered


@blueprint.get("/year/<property>/<int:season>/visits.csv")
def visits(property: str, season: int) -> Response:
    """The visits as a table, with what they cost."""
    found = papers(here(), property, season)
    return csv_answer(visits_csv(found), f"{_stem(found)}.csv")


def _stem(found: YearPapers) -> str:
    return f"visits-{found.place.slug}-{found.season}"


def _ways(found: YearPapers) -> dict[str, str]:
    """Where the paper leads back to, and where it stands itself."""
    here_at = f"/year/{found.place.slug}/{found.season}"
    return {"back": here_at, "here_at": here_at}
