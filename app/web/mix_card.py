"""The mix card: what goes into the tank, and the sprayers it is measured for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError
from app.engine.product import Product
from app.services import knowledge_service, mixing
from app.services.shelf import product_named, shelf_products
from app.services.sprayers import list_sprayers, sprayer_named
from app.web import mix_show, units
from app.web.choices import form_choices
from app.web.mix_form import mix_choices, read_mix, rows_shown
from app.web.security import here

blueprint = Blueprint("mix_card", __name__)

PATH = "/mix"


def _system() -> units.System:
    return units.system_named(request.cookies.get(units.COOKIE) or request.args.get("units"))


def _held(slug: str) -> Product:
    return product_named(here(), slug)[0]


def _form(typed: dict[str, str], products: Sequence[Product], faults: dict[str, str] | None = None) -> dict[str, Any]:
    """What the form needs: choices, what was typed, and faults by field."""
    base = knowledge_service.knowledge_base()
    return {
        "typed": typed,
        "faults": faults or {},
        "near": {},
        "against": {},
        "ticked": {},
        "sprayer_choices": {item.slug: mix_show.sprayer_words(item) for item in list_sprayers(here())},
        "rows": rows_shown(base, products, typed, _system()),
        **form_choices(base),
        **mix_choices(base, products, _system()),
    }


@blueprint.get(PATH)
def mix_card() -> str | tuple[str, int] | BaseResponse:
    """The mix of what is chosen, at an address that can be sent; the form alone where nothing is."""
    typed = {key: value for key, value in request.args.items() if key not in ("units", "look")}
    products = shelf_products(here())
    asked_for = any(key.startswith("p") and key.endswith((".rate", ".at")) for key in typed)
    if "look" in request.args or not asked_for:
        return render_template("mix.html", mix=None, **_form(typed, products))
    if any(not value for value in request.args.values()):
        kept = [(key, value) for key, value in request.args.items() if value]
        return redirect(f"{PATH}?{urlencode(kept)}")
    base = knowledge_service.knowledge_base()
    asked = read_mix(typed, base, products, _system())
    try:
        found = mixing.mix(asked.checked(), _held, lambda slug: sprayer_named(here(), slug).document)
    except InputError as error:
        return render_template("mix.html", mix=None, **_form(typed, products, asked.by_field(error.faults))), 422
    return render_template(
        "mix.html",
        mix=found,
        where=mix_show.where_words(asked.payload, base),
        batches=mix_show.batches(found),
        amount_exact=mix_show.amount_words,
        allowance_of=mix_show.allowance,
        numbers={key: number for number, key in enumerate(found.sources, start=1)},
        **_form(typed, products),
    )
