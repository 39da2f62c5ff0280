"""Properties: found, read, added, changed and removed."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError, UnknownId
from app.season.property import Property
from app.services import customers, knowledge_service, properties, years
from app.services.branch import branch
from app.services.property_checks import checked_property
from app.store.changed import Changed
from app.web import property_show
from app.web.conflict import Conflict, conflict
from app.web.property_fields import MOST_ROWS, choices, label_of
from app.web.property_form import Typed, read_property, shown_property
from app.web.security import here
from app.web.shelf import system

blueprint = Blueprint("properties", __name__)
Page = str | BaseResponse | tuple[str, int]
_MOST_LETTERS = 120


@blueprint.get("/properties")
def listing() -> str:
    """Properties by name, a page at a time."""
    asked, technician = request.args.get("q", "")[:_MOST_LETTERS].strip(), request.args.get("technician", "")
    page = _whole(request.args.get("page", "1"))
    found = properties.listing(here(), asked, technician or None, page)
    missing = {item.slug: properties.what_is_missing(item.property, date.today()) for item in found.items}
    return render_template(
        "properties.html",
        found=found,
        asked=asked,
        technician=technician,
        missing=missing,
        told=request.args.get("told", ""),
        today=date.today(),
    )


@blueprint.get("/properties/<slug>")
def one(slug: str) -> str:
    """A property with its areas, its notes and what is missing."""
    base, today = knowledge_service.knowledge_base(), date.today()
    reading = properties.one(here(), slug, today)
    told = reading.property
    open_notes = [note for note in reading.notes if note.open]
    return render_template(
        "property.html",
        reading=reading,
        told=told,
        fields={item.path: shown_property(told, "", system()).field_of(item.path) for item in reading.missing},
        facts={area.id: property_show.area_facts(area, base, system(), untold=True) for area in told.areas},
        ask={area.id: property_show.ask_address(told, area, open_notes, today, base, system()) for area in told.areas},
        open_notes=open_notes,
        closed_notes=[note for note in reading.notes if not note.open],
        weed_names={key: weed.name for key, weed in base.weed_names.items()},
        area_names={area.id: area.name for area in told.areas},
        plans=property_show.plan_words(told),
        rules=property_show.rule_words(told, base),
        age_words=lambda day: property_show.age_words(day, today),
        seen_words=property_show.seen_words,
        today=today,
        year_at=years.season_meant(here(), today),
        done=request.args.get("told", ""),
    )


@blueprint.get("/properties/new")
def new() -> str:
    """An empty form; the zone of the branch is filled in."""
    zone = branch(here())[0].zone
    fields = {"zone": zone or "", "customer": request.args.get("customer", "")[:_MOST_LETTERS]}
    return _form(Typed(fields=fields))


@blueprint.post("/properties/new")
def add() -> Page:
    """Keep a property, or add a line to the form."""
    typed = read_property(request.form, request.form.getlist)
    if (shown := _not_kept(typed)) is not None:
        return shown
    try:
        kept = properties.add(here(), typed.payload, customer=typed.customer, new_customer=typed.new_customer)
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed), 422
    return redirect(f"/properties/{kept.slug}?told=kept", code=303)


@blueprint.get("/properties/<slug>/edit")
def edit(slug: str) -> str:
    """The form of a property, to be changed."""
    reading = properties.one(here(), slug)
    typed = shown_property(reading.property, reading.customer[1] if reading.customer else "", system())
    return _form(typed, slug=slug, name=reading.property.name, version=reading.version)


@blueprint.post("/properties/<slug>/edit")
def change(slug: str) -> Page:
    """Change a property, unless somebody else was quicker."""
    typed, version = read_property(request.form, request.form.getlist), _whole(request.form.get("version", "0"))
    named: dict[str, Any] = {"slug": slug, "name": typed.fields.get("name", ""), "version": version}
    if (shown := _not_kept(typed, **named)) is not None:
        return shown
    try:
        properties.change(
            here(), slug, typed.payload, version, customer=typed.customer, new_customer=typed.new_customer
        )
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed, **named), 422
    except Changed as changed:
        told = {**named, "version": changed.version or 0, "conflict": _conflict(typed, changed)}
        return _form(typed, **told), 409
    return redirect(f"/properties/{slug}?told=changed", code=303)


@blueprint.get("/properties/<slug>/remove")
def ask_to_remove(slug: str) -> str:
    """Ask whether to remove a property."""
    return render_template("property_remove.html", reading=properties.one(here(), slug), changed=False, fault="")


@blueprint.post("/properties/<slug>/remove")
def remove(slug: str) -> Page:
    """Remove a property, unless somebody else changed it meanwhile or records name it."""
    try:
        properties.remove(here(), slug, _whole(request.form.get("version", "0")))
    except InputError as error:
        reading = properties.one(here(), slug)
        said = error.faults[0].message
        return render_template("property_remove.html", reading=reading, changed=False, fault=said), 422
    except Changed as changed:
        if changed.stored is not None:
            reading = properties.one(here(), slug)
            return render_template("property_remove.html", reading=reading, changed=True, fault=""), 409
    return redirect("/properties?told=removed", code=303)


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def _not_kept(typed: Typed, **named: Any) -> Page | None:
    """The form again, where a line is to be added or something cannot be read."""
    group = request.form.get("act", "save").removeprefix("add-")
    if group in MOST_ROWS:
        typed.rows[group] = min(typed.rows[group] + 1, MOST_ROWS[group])
        typed.faults = {}
        return _form(typed, added=group, **named)
    if typed.faults:
        try:
            checked_property(typed.payload)
        except InputError as error:
            typed.blame(error.faults)
        return _form(typed, **named), 422
    return None


def _conflict(typed: Typed, changed: Changed) -> Conflict:
    """What differs between what was typed and what is kept now."""
    if changed.stored is None:
        return conflict(changed, (), "/properties")
    mine, theirs = checked_property(typed.payload), Property.model_validate(changed.stored)
    named = ""
    if theirs.customer is not None:
        try:
            named = customers.customer(here(), theirs.customer).customer.name
        except UnknownId:
            named = theirs.customer
    rows = property_show.differing(mine, typed.customer, theirs, named, knowledge_service.knowledge_base(), system())
    return conflict(changed, rows, f"/properties/{changed.key}/edit")


def _form(typed: Typed, **shown: Any) -> str:
    told = {"slug": "", "name": "", "version": 0, "conflict": None, "added": "", **shown}
    return render_template(
        "property_form.html",
        typed=typed.fields,
        ticked=typed.ticked,
        rows=typed.rows,
        turf_rows=[typed.turf_rows(row) for row in range(typed.rows["areas"])],
        most=MOST_ROWS,
        faults=in_page_order(typed.faults),
        against={},
        label_of=label_of,
        technician_names=properties.technicians(here()),
        customer_names=[item.customer.name for item in customers.customers(here()).items],
        ask_new=bool(typed.new_customer or "customer" in typed.faults),
        **choices(knowledge_service.knowledge_base(), system()),
        **told,
    )


_ORDER = ("name", "customer", "address", "zone", "technician", "areas", "plans", "rules", "latitude", "longitude")


def in_page_order(faults: dict[str, str]) -> dict[str, str]:
    """Faults as their fields follow each other on the page."""

    def place(field: str) -> tuple[int, int]:
        head, *rest = field.split(".")
        return _ORDER.index(head) if head in _ORDER else len(_ORDER), int(rest[0]) if rest else 0

    return dict(sorted(faults.items(), key=lambda item: place(item[0])))
