"""Several trials of one question, weighed together."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, abort, render_template, request

from app.engine.errors import FieldFault, InputError
from app.services import trials
from app.services.trial_choices import pooling
from app.trials import pictures
from app.trials.output import Synthesis
from app.trials.pictures import Picture
from app.web import trial_show
from app.web.security import here
from app.web.trials import MOST_DIGITS, pictured, told_alpha

blueprint = Blueprint("trial_synthesis", __name__)
_FIELDS = ("weed", "treatment", "against", "days_after")
_LABELS = {
    "weed": "Weed",
    "treatment": "Treatment",
    "against": "Against",
    "days_after": "Rated about",
    "alpha": "Error",
}
_ALPHAS = {"0.05": "5 %", "0.10": "10 %", "0.01": "1 %"}


@blueprint.get("/trials/synthesis")
def synthesis_page() -> str | tuple[str, int]:
    """The question, and what the kept trials say of it together."""
    asked = _asked()
    if not asked["treatment"]:
        return _page(asked)
    try:
        found = trials.synthesis(here(), **_question(asked))
    except InputError as error:
        return _page(asked, faults={_field(fault.path): fault.message for fault in reversed(error.faults)}), 422
    return _page(asked, found)


@blueprint.get("/trials/synthesis/forest.<kind>")
def forest(kind: str) -> Response:
    """The picture of the synthesis."""
    if kind not in ("svg", "png"):
        abort(404)

    def found() -> Picture:
        try:
            return trials.synthesis_picture(here(), **_question(_asked()))
        except InputError as error:
            abort(404, description=str(error))

    return pictured(found, kind, "trials-weighed-together")


def _asked() -> dict[str, str]:
    return {name: request.args.get(name, "")[:120].strip() for name in _FIELDS}


def _question(asked: dict[str, str]) -> dict[str, Any]:
    days = asked["days_after"]
    if days and not (days.isascii() and days.isdecimal() and len(days) <= MOST_DIGITS):
        raise InputError([FieldFault("days_after", f"'{days[:20]}' is no whole number of days")])
    return {
        "weed": asked["weed"],
        "treatment": asked["treatment"],
        "against": asked["against"] or None,
        "days_after": int(days) if days else None,
        "alpha": float(told_alpha()),
    }


def _field(path: str) -> str:
    return path if path in _LABELS else "treatment"


def _page(asked: dict[str, str], found: Synthesis | None = None, faults: dict[str, str] | None = None) -> str:
    held = pooling(here())
    # Once a weed is chosen, its treatments alone are offered.
    weeds = [asked["weed"]] if asked["weed"] in held.weeds else list(held.weeds)
    return render_template(
        "trial_synthesis.html",
        typed={**asked, "alpha": told_alpha()},
        faults=faults or {},
        found=found,
        weed_choices=held.weeds,
        treatment_choices={held.weeds[weed]: {name: name for name in held.treatments[weed]} for weed in weeds},
        alpha_choices=_ALPHAS,
        labels_of_form=_LABELS,
        query=request.query_string.decode("ascii", "replace"),
        agreement=_agreement(found) if found is not None else "",
        alt=pictures.forest(found).alt if found is not None else "",
        effect_name="Difference, points" if found is not None and found.difference else "Control, %",
        **trial_show.WORDS,
    )


def _agreement(found: Synthesis) -> str:
    """How far the trials agree, in words."""
    if not found.i2_pct:
        return "The trials differ no more than the scatter of their plots explains."
    share = f"About {found.i2_pct:.0f} % of the variation between the trials"
    return f"{share} is more than the scatter of their plots explains: place, season or plants made a difference."
