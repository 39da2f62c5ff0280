"""The year of a whole branch: begun, watched, cancelled, gone on with, and what it adds up to."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError, UnknownId
from app.services import properties
from app.services import year_job_answers as answers
from app.services.year_job_answers import BranchYearTold
from app.services.year_job_csv import load_csv, order_csv
from app.store.changed import Changed
from app.web.branch_year_show import shown_load, shown_order
from app.web.files import csv_answer
from app.web.security import here
from app.web.shelf import system

blueprint = Blueprint("branch_year", __name__)
Page = str | BaseResponse | tuple[str, int]
LABELS = {
    "season": "Season",
    "count": "Visits",
    "dates": "Dates of the visits",
    "from": "Not before",
    "technician": "Whose properties",
    "search": "Only properties with these words",
    "catalog": "Plan with",
    "budget": "Most for products",
    "products": "Most products on a visit",
    "job": "The plan of the branch",
}
CATALOGS = {"shelf": "products of the shelf", "actives": "actives, without products"}
SAID = {
    "begun": "Begun. It goes on when this page is closed.",
    "cancelled": "It stops once what is being planned is done.",
    "resumed": "It goes on.",
    "used": "The plan stands in the year of the property now.",
    "removed": "Removed; plans in the years of properties stay.",
}
_OF_FIELD = {
    "visits": "count",
    "visits.count": "count",
    "visits.dates": "dates",
    "limits.budget_per_1000_ft2": "budget",
    "limits.max_products_per_visit": "products",
}
# From autumn on a branch plans the next season.
_AUTUMN = 8


@blueprint.get("/branch/year")
def listing() -> str:
    """What was begun, and the form that begins another."""
    today = date.today()
    usual = {"season": str(today.year + (today.month >= _AUTUMN)), "count": "5", "catalog": "shelf"}
    return _listing(usual, {})


@blueprint.post("/branch/year")
def begin() -> Page:
    """Begin to plan the year of the branch."""
    typed = {key: value.strip() for key, value in request.form.items() if key != "csrf_token"}
    try:
        told, _ = answers.start(here(), _asked(typed))
    except InputError as error:
        return _listing(typed, _by_field(error.faults)), 422
    return redirect(f"/branch/year/{told.id}?told=begun", code=303)


@blueprint.get("/branch/year/<key>")
def one(key: str) -> str:
    """How far a job is, and what it adds up to once it rests."""
    return _one(key)


@blueprint.post("/branch/year/<key>/cancel")
def cancel(key: str) -> Page:
    """Have a job stop."""
    return _done(key, "cancelled", lambda: answers.cancel(here(), key))


@blueprint.post("/branch/year/<key>/resume")
def resume(key: str) -> Page:
    """Go on with a job."""
    return _done(key, "resumed", lambda: answers.resume(here(), key))


@blueprint.post("/branch/year/<key>/remove")
def remove(key: str) -> Page:
    """Forget a job."""
    try:
        answers.remove(here(), key)
    except InputError as error:
        return _one(key, error.faults[0].message), 422
    return redirect("/branch/year?told=removed", code=303)


@blueprint.post("/branch/year/<key>/use")
def use(key: str) -> Page:
    """Take the plan of one property, or of all, over into its year."""
    slug = request.form.get("property", "")
    try:
        done = answers.use(here(), key, {"property": slug} if slug else {})
    except InputError as error:
        return (_place(key, slug, error.faults[0].message) if slug else _one(key, error.faults[0].message)), 422
    except Changed as changed:
        return _place(key, slug, str(changed)), 409
    if slug:
        return redirect(f"/branch/year/{key}/properties/{slug}?told=used", code=303)
    return _one(key, used=done)


@blueprint.get("/branch/year/<key>/properties/<slug>")
def place(key: str, slug: str) -> str:
    """What was planned for a property."""
    return _place(key, slug)


@blueprint.get("/branch/year/<key>/order")
def order(key: str) -> str:
    """The season's order by month."""
    found = answers.order(here(), key)
    job = answers.one(here(), key)
    return render_template("branch_year_order.html", job=job, found=found, months=shown_order(found, system()))


@blueprint.get("/branch/year/<key>/order.csv")
def order_file(key: str) -> Response:
    """The season's order as a file."""
    return csv_answer(order_csv(answers.order(here(), key)), f"order-{key}.csv")


@blueprint.get("/branch/year/<key>/load")
def load(key: str) -> str:
    """The load by week and technician."""
    found = answers.load(here(), key)
    job = answers.one(here(), key)
    return render_template("branch_year_load.html", job=job, found=found, weeks=shown_load(found, system()))


@blueprint.get("/branch/year/<key>/load.csv")
def load_file(key: str) -> Response:
    """The load by week as a file."""
    return csv_answer(load_csv(answers.load(here(), key)), f"load-{key}.csv")


def _done(key: str, told: str, act: Callable[[], object]) -> Page:
    try:
        act()
    except InputError as error:
        return _one(key, error.faults[0].message), 422
    return redirect(f"/branch/year/{key}?told={told}", code=303)


def _listing(typed: Mapping[str, str], faults: Mapping[str, str]) -> str:
    store = here()
    return render_template(
        "branch_years.html",
        found=answers.listing(store),
        typed=typed,
        faults=faults,
        labels_of=LABELS,
        catalogs=CATALOGS,
        key=typed.get("key") or secrets.token_hex(8),
        technicians=properties.technicians(store),
        kept=properties.listing(store).kept,
        told=SAID.get(request.args.get("told", ""), ""),
    )


def _one(key: str, fault: str = "", used: answers.PlansUsed | None = None) -> str:
    store = here()
    told = request.args.get("page", "1")
    page = int(told) if told.isascii() and told.isdecimal() and len(told) < 10 else 1
    try:
        job = answers.one(store, key)
        # What is still being planned adds up to nothing that could be relied on, and the page is asked for often.
        summary = answers.summary(store, key) if not job.going and job.planned else None
        places = answers.places(store, key, page) if not job.going and job.properties else None
    except InputError as error:
        return render_template("branch_year_damaged.html", key=key, fault=error.faults[0].message)
    return render_template(
        "branch_year.html",
        job=job,
        summary=summary,
        places=places,
        fault=fault,
        used=used,
        told=SAID.get(request.args.get("told", ""), ""),
        whose=whose(job),
        catalogs=CATALOGS,
    )


def _place(key: str, slug: str, fault: str = "") -> str:
    try:
        found = answers.plans(here(), key, slug)
    except InputError as error:
        raise UnknownId("plan", slug, (), f"here: {error.faults[0].message}") from error
    return render_template(
        "branch_year_place.html",
        job=answers.one(here(), key),
        found=found,
        fault=fault,
        told=SAID.get(request.args.get("told", ""), ""),
    )


def whose(job: BranchYearTold) -> str:
    """Which properties a job is of, in words."""
    asked = job.asked
    parts = [f"of {asked.technician}"] if asked.technician else []
    parts += [f"with “{asked.search}”"] if asked.search else []
    return f"Properties {' and '.join(parts)}" if parts else "All properties"


def _asked(typed: Mapping[str, str]) -> dict[str, Any]:
    """What was typed, as plain data; a figure that is none stays as it was typed, and is refused as such."""
    limits = {"budget_per_1000_ft2": typed.get("budget"), "max_products_per_visit": typed.get("products")}
    dates = [day.strip() for day in typed.get("dates", "").replace("\n", ",").split(",") if day.strip()]
    visits: dict[str, Any] = {"dates": dates} if dates else {"count": _figure(typed.get("count", ""))}
    return {
        "key": typed.get("key") or None,
        "season": _figure(typed.get("season", "")),
        "technician": typed.get("technician", ""),
        "search": typed.get("search", ""),
        "visits": visits,
        "from": typed.get("from") or None,
        "catalog": typed.get("catalog") or "actives",
        "limits": {name: _figure(text) for name, text in limits.items() if text},
    }


def _figure(text: str) -> Any:
    if text.isascii() and text.isdecimal() and len(text) < 10:
        return int(text)
    try:
        return float(text)
    except ValueError:
        return text or None


def _by_field(faults: tuple[FieldFault, ...]) -> dict[str, str]:
    found: dict[str, str] = {}
    for fault in faults:
        path = ".".join(part for part in fault.path.split(".") if not part.isdecimal())
        field = _OF_FIELD.get(path, path)
        found.setdefault(field if field in LABELS else "job", fault.message)
    return found
