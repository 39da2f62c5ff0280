"""The shelf: the user's own products, as read from their labels."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError, UnknownId
from app.engine.measures import Measure
from app.engine.product import Product
from app.services import knowledge_service, label_text, shelf
from app.services.shelf_csv import COLUMNS
from app.store.changed import Changed
from app.web import units
from app.web.conflict import Conflict, conflict
from app.web.label_fields import MOST_ROWS, in_page_order, label_choices, label_of
from app.web.label_form import Typed, read_label, shown_label
from app.web.security import here
from app.web.shelf_list import listed
from knowledge.quantities import Quantity

blueprint = Blueprint("shelf", __name__)
Page = str | BaseResponse | tuple[str, int]


@dataclass(frozen=True)
class Named:
    """The product that a form is about."""

    id: str
    name: str


def system() -> units.System:
    """The system of units in which figures are shown."""
    return units.system_named(request.cookies.get(units.COOKIE) or request.args.get("units"))


def between(low: Measure | Quantity, high: Measure | Quantity) -> str:
    """Two rates with their unit said once where it is the same."""
    first, last = units.rate(low, system()), units.rate(high, system())
    if first == last:
        return first
    figure, _, unit = first.partition(" ")
    return f"{figure} to {last}" if last.endswith(f" {unit}") else f"{first} to {last}"


def held(told: Measure) -> str:
    """A content or density as typed, or in the system asked for where it was typed in the other."""
    pairs = {"lb ae/gal": "g ae/L", "lb ai/gal": "g ai/L", "lb/gal": "kg/L"}
    other = pairs if system() == "metric" else {metric: american for american, metric in pairs.items()}
    if told.unit not in other:
        return label_text.measure_text(told)
    shown = told.quantity.to(other[told.unit])
    return f"{units.figure(shown.value)} {shown.unit}"


@blueprint.get("/shelf")
def shelf_page() -> str:
    """Everything on the shelf."""
    asked, order = request.args.get("q", "")[:80].strip(), request.args.get("sort", "name")
    found = listed(
        shelf.shelf_products(here()), knowledge_service.knowledge_base(), asked, order, date.today(), system()
    )
    return render_template("shelf.html", found=found, asked=asked, sort=order, told=request.args.get("told", ""))


@blueprint.get("/shelf/new")
def new_product() -> str:
    """An empty label."""
    return _form(Typed())


@blueprint.post("/shelf/new")
def add_product() -> Page:
    """Put a product on the shelf, or add a line to the form, or hold what is typed against the facts."""
    typed = read_label(request.form, request.form.getlist)
    if (shown := _not_saved(typed)) is not None:
        return shown
    try:
        kept, _ = shelf.add_product(here(), typed.payload)
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed), 422
    return redirect(f"/shelf/{kept.id}", code=303)


@blueprint.get("/shelf/<slug>")
def product_page(slug: str) -> str:
    """A product as it is read."""
    reading = shelf.read_product(here(), slug)
    typed = shown_label(reading.product)
    keys = dict.fromkeys(citation.id for item in reading.contradictions for citation in item.sources)
    return render_template(
        "product.html",
        reading=reading,
        product=reading.product,
        between=between,
        held=held,
        hours=lambda told: f"{label_text.written(told)} hour{'' if told == 1 else 's'}",
        label_of=lambda path: label_of(typed.field_of(path)),
        field_of=typed.field_of,
        price_text=label_text.price_text,
        today=date.today(),
        written=label_text.written,
        numbers={key: number for number, key in enumerate(keys, start=1)},
    )


@blueprint.get("/shelf/<slug>/edit")
def edit_product(slug: str) -> str:
    """The label of a product, to be changed."""
    reading = shelf.read_product(here(), slug)
    typed = shown_label(reading.product)
    named = Named(slug, reading.product.name)
    return _form(typed, product=named, version=reading.version, against=typed.against(reading.contradictions))


@blueprint.post("/shelf/<slug>/edit")
def change_product(slug: str) -> Page:
    """Change a product, unless somebody else was quicker."""
    version = _version()
    try:
        stored: Product | None = shelf.product_named(here(), slug)[0]
    except UnknownId:
        stored = None
    typed = read_label(request.form, request.form.getlist, stored)
    named = Named(slug, stored.name if stored is not None else typed.fields.get("name", slug))
    if (shown := _not_saved(typed, product=named, version=version)) is not None:
        return shown
    try:
        shelf.change_product(here(), slug, typed.payload, version)
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed, product=named, version=version), 422
    except Changed as changed:
        return _form(typed, product=named, version=changed.version or version, conflict=_conflict(typed, changed)), 409
    return redirect(f"/shelf/{slug}", code=303)


@blueprint.post("/shelf/<slug>/stock")
def change_stock(slug: str) -> Page:
    """Change what is at hand."""
    told = request.form.get("stock", "").strip()
    try:
        payload = label_text.measure(told, request.form.get("stock.unit", "")) if told else None
        shelf.change_stock(here(), slug, payload, _version())
    except (label_text.Unreadable, InputError) as error:
        words = error.faults[0].message if isinstance(error, InputError) else str(error)
        return _stock_form(slug, told, fault=words), 422
    except Changed as changed:
        return _stock_form(slug, told, changed=changed), 409
    return redirect(f"/shelf/{slug}", code=303)


@blueprint.get("/shelf/<slug>/stock")
def stock_form(slug: str) -> str:
    """The form for what is at hand."""
    return _stock_form(slug)


def _stock_form(slug: str, told: str | None = None, *, fault: str = "", changed: Changed | None = None) -> str:
    product, version = shelf.product_named(here(), slug)
    stored = "" if product.stock is None else label_text.measure_text(product.stock)
    return render_template(
        "product_stock.html",
        product=product,
        version=version,
        fault=fault,
        told=stored if told is None else told,
        conflict=conflict(changed, [("Stock", told or "", stored)], f"/shelf/{slug}") if changed is not None else None,
        unit_choices=_units(),
    )


@blueprint.get("/shelf/<slug>/remove")
def ask_to_remove(slug: str) -> str:
    """Ask whether to take a product off the shelf."""
    product, version = shelf.product_named(here(), slug)
    return render_template("product_remove.html", product=product, version=version, changed=False)


@blueprint.post("/shelf/<slug>/remove")
def remove_product(slug: str) -> Page:
    """Take a product off the shelf, unless somebody else changed it meanwhile."""
    try:
        shelf.remove_product(here(), slug, _version())
    except Changed as changed:
        if changed.stored is not None:
            product, version = shelf.product_named(here(), slug)
            return render_template("product_remove.html", product=product, version=version, changed=True), 409
    return redirect("/shelf?told=removed", code=303)


def _version() -> int:
    told = request.form.get("version", "")
    return int(told) if told.isdecimal() and len(told) < 10 else 0


def _units() -> dict[str, Any]:
    units_of: dict[str, Any] = label_choices(knowledge_service.knowledge_base(), system())["unit_choices"]
    return units_of


def _not_saved(typed: Typed, product: Named | None = None, version: int = 0) -> Page | None:
    """The form again, where a line is to be added, something cannot be read, or it is only to be looked over."""
    act = request.form.get("act", "save")
    group = act.removeprefix("add-")
    if group in MOST_ROWS:
        typed.rows[group] = min(typed.rows[group] + 1, MOST_ROWS[group])
        typed.faults = {}
        return _form(typed, product=product, version=version, added=group)
    try:
        against = typed.against(shelf.look_over(typed.payload))
    except InputError as error:
        typed.blame(error.faults)
        return _form(typed, product=product, version=version), 422
    if typed.faults:
        return _form(typed, product=product, version=version), 422
    if act == "check":
        return _form(typed, product=product, version=version, against=against, looked_over=True)
    return None


def _conflict(typed: Typed, changed: Changed) -> Conflict:
    """What differs between what was typed and what is stored now."""
    if changed.stored is None:
        return conflict(changed, (), "/shelf")
    mine, theirs = shelf.checked_product(typed.payload), Product.model_validate(changed.stored)
    words = (
        (
            column.name.capitalize(),
            column.write(getattr(mine, column.field)),
            column.write(getattr(theirs, column.field)),
        )
        for column in COLUMNS
        if column.field != "id"
    )
    return conflict(changed, words, f"/shelf/{changed.key}/edit")


def _form(typed: Typed, **shown: Any) -> str:
    told = {"product": None, "version": 0, "against": {}, "conflict": None, "looked_over": False, "added": "", **shown}
    keys = dict.fromkeys(c.id for items in told["against"].values() for item in items for c in item.sources)
    return render_template(
        "product_form.html",
        typed=typed.fields,
        ticked=typed.ticked,
        rows=typed.rows,
        most=MOST_ROWS,
        faults=in_page_order(typed.faults),
        label_of=label_of,
        numbers={key: number for number, key in enumerate(keys, start=1)},
        **label_choices(knowledge_service.knowledge_base(), system()),
        **told,
    )
