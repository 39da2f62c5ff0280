"""Customers: found, read, added, changed and removed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import customers
from app.store.changed import Changed
from app.web.conflict import conflict
from app.web.property_fields import LABELS
from app.web.security import here

blueprint = Blueprint("customers", __name__)
Page = str | BaseResponse | tuple[str, int]
FIELDS = ("name", "address", "phone", "email", "notes")
_MOST_LETTERS = 120


@blueprint.get("/customers")
def listing() -> str:
    """Customers by name, a page at a time."""
    asked = request.args.get("q", "")[:_MOST_LETTERS].strip()
    found = customers.customers(here(), asked, _whole(request.args.get("page", "1")))
    return render_template("customers.html", found=found, asked=asked, told=request.args.get("told", ""))


@blueprint.get("/customers/new")
def new() -> str:
    """The form of a new customer."""
    return _form("", {})


@blueprint.post("/customers/new")
def add() -> Page:
    """Keep a new customer."""
    typed = _typed()
    try:
        kept = customers.add_customer(here(), _payload(typed))
    except InputError as error:
        return _form("", typed, faults=_by_field(error)), 422
    return redirect(f"/customers/{kept.slug}", code=303)


@blueprint.get("/customers/<slug>")
def one(slug: str) -> str:
    """A customer, to be read and changed, with what is served for them."""
    kept = customers.customer(here(), slug)
    return _form(slug, kept.customer.model_dump(mode="json"), version=kept.version, served=kept.properties)


@blueprint.post("/customers/<slug>")
def change(slug: str) -> Page:
    """Change or remove a customer, unless somebody else was quicker."""
    typed, version = _typed(), _whole(request.form.get("version", "0"))
    try:
        if request.form.get("remove"):
            customers.remove_customer(here(), slug, version)
            return redirect("/customers?told=removed", code=303)
        customers.change_customer(here(), slug, _payload(typed), version)
    except InputError as error:
        kept = customers.customer(here(), slug)
        shown = typed or kept.customer.model_dump(mode="json")
        return _form(slug, shown, faults=_by_field(error), version=version, served=kept.properties), 422
    except Changed as changed:
        if changed.stored is None:
            if not typed:
                return redirect("/customers?told=removed", code=303)
            return _form("", typed, conflict=conflict(changed, (), "/customers")), 409
        theirs = {key: str(changed.stored.get(key) or "") for key in FIELDS}
        rows = [(LABELS[key], typed.get(key, ""), theirs[key]) for key in FIELDS] if typed else None
        told = conflict(changed, rows, f"/customers/{slug}")
        served = customers.customer(here(), slug).properties
        return _form(slug, typed or theirs, conflict=told, version=changed.version or 0, served=served), 409
    return redirect(f"/customers/{slug}?told=changed", code=303)


def _typed() -> dict[str, str]:
    return {key: request.form[key].strip() for key in FIELDS if key in request.form}


def _payload(typed: Mapping[str, str]) -> dict[str, str]:
    if not typed.get("name"):
        raise InputError([customers.NAMELESS])
    return {key: told for key, told in typed.items() if told}


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def _by_field(error: InputError) -> dict[str, str]:
    return {
        field if (field := fault.path.split(".")[0]) in FIELDS else "name": fault.message
        for fault in reversed(error.faults)
    }


def _form(slug: str, typed: Mapping[str, Any], **more: Any) -> str:
    shown = {"faults": {}, "version": 0, "served": (), "conflict": None, **more}
    return render_template(
        "customer.html",
        slug=slug,
        typed=typed,
        against={},
        labels_of=LABELS,
        told=request.args.get("told", ""),
        **shown,
    )
