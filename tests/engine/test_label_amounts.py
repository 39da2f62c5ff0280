"""What a line of rates brings, held against a general unit library."""

from __future__ import annotations

import pint
import pytest

from app.engine.label_amounts import label_amounts
from app.engine.product import Product
from knowledge.base import KnowledgeBase

REGISTRY: pint.UnitRegistry = pint.UnitRegistry()


def test_each_active_is_reckoned_at_both_ends(base: KnowledgeBase) -> None:
    told = {
        "name": "Trial Two",
        "formulation": "SL",
        "density": {"value": 9.5, "unit": "lb/gal"},
        "actives": [
            {"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": 30, "unit": "% w/w"}},
            {"active": "triclopyr", "form": "triclopyr-tea", "content": {"value": 1.0, "unit": "lb ae/gal"}},
        ],
        "rates": [
            {"low": {"value": 1, "unit": "fl oz/1000 ft2"}, "high": {"value": 4, "unit": "pt/acre"}},
            {"purpose": "spot", "low": {"value": 1, "unit": "fl oz/gal"}, "high": {"value": 2, "unit": "fl oz/gal"}},
        ],
    }
    area, spot = label_amounts(base, Product.model_validate(told))
    low = REGISTRY.Quantity("1 fluid_ounce / (1000 foot ** 2)").to("gallon / acre").magnitude
    high = REGISTRY.Quantity("4 pint / acre").to("gallon / acre").magnitude
    # Salt by weight, of which 0.8306 is acid (molecular weights 221.04 and 266.12); acid by volume.
    salt, acid = area.actives
    factor = next(form.ae_factor for form in base.actives["2-4-d"].forms if form.id == "2-4-d-dma")
    assert factor == pytest.approx(221.04 / 266.12, rel=1e-3)
    assert (salt.low.value, salt.high.value) == (
        pytest.approx(low * 9.5 * 0.30 * factor, rel=1e-5),
        pytest.approx(high * 9.5 * 0.30 * factor, rel=1e-5),
    )
    assert (acid.low.value, acid.high.value) == (pytest.approx(low, rel=1e-5), pytest.approx(high, rel=1e-5))
    assert salt.low.unit == acid.high.unit == "lb ae/acre"
    assert spot.actives == ()
