"""What makes a product unusable beside the knowledge base, so that it is refused before it is kept."""

from __future__ import annotations

from collections.abc import Iterator

from app.engine.doses import delivered, form_named
from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.engine.understood import unknown_id
from knowledge.base import KnowledgeBase
from knowledge.models import Active

TURF_SCOPES = ("all", "cool-season", "warm-season")


def faults_of(base: KnowledgeBase, product: Product) -> list[FieldFault]:
    """What makes a product unusable beside the knowledge base: unknown ids, and amounts that cannot be reckoned."""
    faults = []
    scopes = (*base.turf, *TURF_SCOPES)
    for index, scope in enumerate(product.turf or ()):
        if scope not in scopes:
            faults.append(unknown_id(f"turf.{index}", "turf", scope, scopes))
    for row, line in enumerate(product.rates):
        for index, scope in enumerate(line.turf):
            if scope not in scopes:
                faults.append(unknown_id(f"rates.{row}.turf.{index}", "turf", scope, scopes))
    for number, part in enumerate(product.actives):
        if part.active not in base.actives:
            faults.append(unknown_id(f"actives.{number}.active", "active", part.active, base.actives))
            continue
        active = base.actives[part.active]
        if form_named(active, part.form) is None:
            forms = [form.id for form in active.forms]
            faults.append(unknown_id(f"actives.{number}.form", f"form of {active.name}", str(part.form), forms))
            continue
        faults += _uncounted(active, product, number)
    kept: dict[str, FieldFault] = {}
    for fault in faults:
        kept.setdefault(fault.path, fault)
    return list(kept.values())


def _uncounted(active: Active, product: Product, number: int) -> Iterator[FieldFault]:
    """Rates of the product from which the rate of an active cannot be reckoned."""
    form = form_named(active, product.actives[number].form)
    assert form is not None, "its form was found before"
    lines = [(f"rates.{row}.high", line.high) for row, line in enumerate(product.rates) if line.purpose != "spot"]
    caps = [(field, getattr(product, field)) for field in ("rate", "max_per_application", "max_per_year")]
    for path, told in (*lines, *((field, cap) for field, cap in caps if cap is not None)):
        try:
            brought = delivered(product, number, told.quantity, active, form)
        except InputError as error:
            fault = error.faults[0]
            yield FieldFault("density" if fault.path.endswith("density") else path, fault.message)
            continue
        if brought is None:
            basis = active.rate_basis
            what = f"cannot be counted as {basis} for {active.name} as {form.name}; give lb {basis}/gal or g {basis}/L"
            yield FieldFault(f"actives.{number}.content", what)
