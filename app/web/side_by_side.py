"""Side by side: what sets two to four products or mixtures apart."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, current_app, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.services import knowledge_service
from app.services.house import evidence_of
from app.services.shelf import shelf_products
from app.services.side_by_side import side_by_side as compare
from app.web import side_show, units
from app.web.choices import form_choices
from app.web.fields import KIND_OF_FIELD, WEED_ROWS_COMPARED
from app.web.security import here
from app.web.side_form import (
    ACTIVE_ROWS,
    ENDS,
    SIDE_FIELDS,
    SIDE_LABELS,
    TIMES,
    AskedSides,
    adjuvant_choices,
    read_sides,
    side_choices,
)

blueprint = Blueprint("side_by_side", __name__)

PATH = "/side-by-side"
_DEMO = {
    "weed": "ground ivy",
    "weed_2": "prostrate knotweed",
    "turf": "tall-fescue",
    "zone": "cool-humid",
    "date": "2027-05-20",
    "stand": "established",
    "side_1": "mixture:2-4-d-mecoprop-p-dicamba",
    "side_2": "mixture:2-4-d-triclopyr",
}
# Fields of the form that are seen without unfolding anything.
_SEEN = ("weed", "turf", "zone", "month")


def _typed_in() -> units.System:
    return units.system_named(request.args.get("units"))


def _system() -> units.System:
    return units.system_named(request.cookies.get(units.COOKIE) or request.args.get("units"))


def _typed() -> dict[str, str]:
    return {key: value for key, value in request.args.items() if key not in ("surroundings", "units")}


def _address(changes: dict[str, str] | None = None) -> str:
    """The query of this comparison, for a link that asks it again."""
    changed = changes or {}
    kept = [(k, v) for k, v in request.args.items(multi=True) if v and k not in changed]
    return urlencode([*kept, *changed.items()])


def _kind(field: str) -> str:
    return "past_rate" if field.startswith("rate_") else KIND_OF_FIELD.get(field, "")


def _form(
    typed: dict[str, str], asked: AskedSides | None = None, faults: dict[str, str] | None = None
) -> dict[str, Any]:
    """What the form needs: choices, what was typed, and faults by field."""
    base = knowledge_service.knowledge_base()
    shown = {key: units.retyped(_kind(key), value, _typed_in(), _system()) for key, value in typed.items()}
    sides = side_choices(base, shelf_products(current_app.extensions["store"]))
    seen = (*_SEEN, *SIDE_FIELDS)
    return {
        "typed": shown,
        "told": sum(1 for key, value in typed.items() if value and key not in seen),
        "unfolded": bool((faults or {}).keys() - set(seen)),
        "chosen_surroundings": request.args.getlist("surroundings"),
        "faults": faults or {},
        "near": asked.asked.near if asked is not None else {},
        "asked_under": PATH,
        "address": _address,
        "field_labels": SIDE_LABELS,
        "weed_rows": range(2, WEED_ROWS_COMPARED + 1),
        "active_rows": range(1, ACTIVE_ROWS + 1),
        "sides_offered": sides,
        "shelf_held": len(sides) > 1,
        "ends": ENDS,
        "times": TIMES,
        "adjuvant_choices": adjuvant_choices(base),
        **form_choices(base),
    }


@blueprint.get(PATH)
def side_by_side() -> str | tuple[str, int] | BaseResponse:
    """Compare what is chosen, at an address that can be sent; the form alone where nothing is."""
    typed = _typed()
    if not typed:
        demo = dict(_DEMO) if current_app.config["SETTING"].demo else {}
        return render_template("side_by_side.html", compared=None, **_form(demo))
    if any(not value for values in request.args.listvalues() for value in values):
        return redirect(f"{PATH}?{_address()}")
    base = knowledge_service.knowledge_base()
    asked = read_sides(typed, request.args.getlist("surroundings"), base, date.today(), _typed_in())
    try:
        found = compare(asked.checked(), lambda: shelf_products(here()), lambda weeds: evidence_of(here(), weeds))
    except InputError as error:
        faults = asked.by_field(error.faults, _system())
        return render_template("side_by_side.html", compared=None, **_form(typed, asked, faults)), 422
    return render_template(
        "side_by_side.html",
        compared=found,
        bands=side_show.bands_of(found),
        cautions=side_show.cautions_said(found),
        rows=side_show.rows_of(found, base),
        density=side_show.density(found, base),
        alone=side_show.alone_of(found),
        repeated=side_show.repeated_in(found),
        settle_at="",
        field_of=asked.asked.rows.field_of,
        numbers={key: number for number, key in enumerate(found.sources, start=1)},
        **_form(typed, asked),
    )
