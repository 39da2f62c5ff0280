"""The page that tells when weeds come up, by temperatures that are pasted."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask import Blueprint, render_template, request

from app.engine.errors import InputError
from app.services import growth, knowledge_service
from app.services.forecast_csv import read_days
from app.web.choices import form_choices

blueprint = Blueprint("growth", __name__)

_MOST_LETTERS = 200_000
LABELS = {"daily": "Temperatures", "weeds": "Weeds", "zone": "Zone", "soil_depth_in": "Depth of the soil readings"}


@blueprint.get("/emergence")
def ask() -> str:
    """Where temperatures are pasted."""
    return _page({}, (), {}, None)


@blueprint.post("/emergence")
def told() -> str | tuple[str, int]:
    """What the temperatures say of each weed."""
    typed = {key: request.form.get(key, "").strip() for key in ("daily", "zone", "soil_depth_in")}
    weeds = tuple(request.form.getlist("weeds"))
    faults: dict[str, str] = {}
    payload: dict[str, Any] = {"weeds": weeds, "today": date.today().isoformat(), "zone": typed["zone"] or None}
    if typed["soil_depth_in"]:
        try:
            payload["soil_depth_in"] = float(typed["soil_depth_in"])
        except ValueError:
            faults["soil_depth_in"] = f"'{typed['soil_depth_in'][:20]}' is no depth; write inches, for example 2"
    try:
        if len(typed["daily"]) > _MOST_LETTERS:
            faults["daily"] = "is longer than two years of days; leave out what lies far back"
        elif not typed["daily"]:
            faults["daily"] = "paste one row a day under the headings date, min_f, max_f and, where measured, soil_f"
        else:
            payload["daily"] = read_days(typed["daily"]).days
        if not faults:
            return _page(typed, weeds, {}, growth.emergence(payload))
    except InputError as error:
        for fault in error.faults:
            field = fault.path.split(".")[0]
            faults.setdefault("daily" if field == "csv" else field, fault.message)
    return _page(typed, weeds, faults, None), 422


def _page(typed: dict[str, str], weeds: tuple[str, ...], faults: dict[str, str], found: Any) -> str:
    base = knowledge_service.knowledge_base()
    names = {key: weed.name for key, weed in base.weeds.items() if weed.emergence}
    return render_template(
        "emergence.html",
        typed=typed,
        chosen=weeds,
        faults=faults,
        found=found,
        labels=LABELS,
        weed_choices=dict(sorted(names.items(), key=lambda pair: pair[1].lower())),
        **form_choices(base),
    )
