"""The year of a property: listed, planned, shown, and its versions beside each other."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError, UnknownId
from app.services import properties, year_compare, year_papers, year_question, years
from app.services.scouting import weed_name
from app.services.year_question import HOW_WORDS
from app.services.years import KeptYear
from app.store.changed import Changed
from app.web.security import here
from app.web.year_view import page_of, seasons_near, signed

blueprint = Blueprint("year", __name__)
Page = str | BaseResponse | tuple[str, int]
_MOST_LETTERS = 120
SAID = {
    "planned": "Planned, and the plan is kept.",
    "kept": "Kept, and chosen.",
    "beside": "Kept beside the others; the chosen plan stays as it was.",
    "chosen": "Chosen.",
}


@blueprint.get("/year")
def listing() -> str:
    """Properties by name, each with its plan of a season or none."""
    season = _season(request.args.get("season", ""))
    asked, technician = request.args.get("q", "")[:_MOST_LETTERS].strip(), request.args.get("technician", "")
    found = years.listing(here(), season, asked, technician or None, whole(request.args.get("page", "1")))
    missing = {item.slug: properties.what_is_missing(item.property, date.today()) for item, _ in found.items}
    return render_template(
        "years.html",
        found=found,
        season=season,
        seasons=seasons_near(found.seasons, season, date.today()),
        asked=asked,
        technician=technician,
        technicians=properties.technicians(here()),
        missing=missing,
    )


@blueprint.get("/year/<slug>/<int:season>")
def one(slug: str, season: int) -> str:
    """The chosen plan of a property's year, or how to make one."""
    return shown(slug, season)


@blueprint.post("/year/<slug>/<int:season>/plan")
def plan_at_once(slug: str, season: int) -> Page:
    """Plan the year by what is kept of the property, and keep the plan."""
    try:
        wish: dict[str, Any] = {"from": first_day(season), "catalog": year_question.usual_catalog(here())}
        if told := request.form.get("count", "").strip():
            wish["visits"] = {"count": int(told) if told.isdecimal() else told}
        years.plan(here(), slug, season, year_question.read_wish(wish), whole(request.form.get("at", "0")))
    except InputError as error:
        return shown(slug, season, faults=error.faults), 422
    except Changed as changed:
        return shown(slug, season, fault=f"{changed}. Below it stands as it is now."), 409
    return redirect(f"/year/{slug}/{season}?told=planned", code=303)


@blueprint.get("/year/<slug>/<int:season>/versions")
def versions(slug: str, season: int) -> str:
    """Every version of a property's year, and two of them beside each other."""
    return _versions(slug, season)


@blueprint.get("/year/<slug>/<int:season>/versions/<int:number>")
def version(slug: str, season: int, number: int) -> str:
    """One version of a property's year, chosen or not."""
    return shown(slug, season, kept=years.version(here(), slug, season, number))


@blueprint.post("/year/<slug>/<int:season>/choose")
def choose(slug: str, season: int) -> Page:
    """Choose a version that is kept."""
    try:
        years.choose(here(), slug, season, whole(request.form.get("number", "0")), whole(request.form.get("at", "0")))
    except Changed as changed:
        return _versions(slug, season, f"{changed}. Below the versions stand as they are now."), 409
    return redirect(f"/year/{slug}/{season}?told=chosen", code=303)


def shown(
    slug: str, season: int, *, kept: KeptYear | None = None, fault: str = "", faults: tuple[FieldFault, ...] = ()
) -> str:
    """The page of a property's year."""
    _in_range(season)
    reading = properties.one(here(), slug)
    held = kept or years.chosen(here(), slug, season)
    told = {
        "reading": reading,
        "place": reading.property,
        "slug": slug,
        "season": season,
        "kept": held,
        "said_words": SAID,
        "how_words": HOW_WORDS,
        "told": request.args.get("told", ""),
        "fault": fault,
        "faults": [item.message if item.path == "" else f"{item.path}: {item.message}" for item in faults],
        "weed_name": weed_name,
    }
    if held is None:
        return render_template("year_none.html", **told, **_ahead(slug, season))
    others = years.versions(here(), slug, season)
    price = year_papers.price_of(here(), held.asked, held.plan)
    return render_template("year.html", **told, versions=others, price=price, **page_of(held, reading.property))


def _ahead(slug: str, season: int) -> dict[str, Any]:
    """What is known of a year that is not planned yet."""
    try:
        found = year_question.known(here(), slug, season, _first(season))
    except InputError as error:
        return {"known": None, "missing": [item.message for item in error.faults], "usual": 0}
    usual = year_question.usual_visits().count
    return {"known": found, "missing": [], "usual": usual, "weeds": year_question.first_weeds(found)}


def _versions(slug: str, season: int, fault: str = "") -> str:
    every = years.versions(here(), slug, season)
    if not every:
        raise UnknownId("plan", str(season), (), "of this property")
    numbers = [item.number for item in every]
    before = numbers[-2] if len(numbers) > 1 else numbers[0]
    first, second = (whole(request.args.get(key, "")) or usual for key, usual in (("a", before), ("b", numbers[-1])))
    pair = [years.version(here(), slug, season, number) for number in (first, second)] if len(every) > 1 else []
    return render_template(
        "year_versions.html",
        place=properties.one(here(), slug).property,
        slug=slug,
        season=season,
        versions=every,
        pair=pair,
        beside=year_compare.beside(pair[0].plan, pair[1].plan, pair[1].asked.start) if pair else None,
        at=years.mark(here(), slug, season),
        how_words=HOW_WORDS,
        signed=signed,
        area_names={area.id: area.name for kept in pair for area in kept.asked.areas},
        fault=fault,
    )


def whole(text: str) -> int:
    """A whole number, 0 where it is none."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def first_day(season: int) -> str | None:
    """The first day that is planned of a season that runs, as plain data."""
    told = _first(season)
    return told.isoformat() if told is not None else None


def _first(season: int) -> date | None:
    today = date.today()
    return today if today.year == season else None


def now() -> datetime:
    """This moment."""
    return datetime.now(UTC)


def _season(text: str) -> int:
    told = whole(text)
    return _in_range(told) if told else years.season_meant(here(), date.today())


def _in_range(season: int) -> int:
    try:
        return years.checked_season(season)
    except InputError as error:
        raise UnknownId("season", str(season), (), f"that can be planned: {error.faults[0].message}") from error
