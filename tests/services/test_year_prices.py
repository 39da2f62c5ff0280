"""A year that is planned and priced in one go."""

from __future__ import annotations

from typing import Any

import pytest

from app.engine.errors import InputError
from app.season.pricing import Pricing
from app.season.year import YearAsked
from app.season.year_price import year_price
from app.services.year import plan
from app.services.year_prices import priced
from tests.season.asked_year import SMALL
from tests.season.planned import shelf
from tests.season.test_year_price import PLAIN

SHELF = {**SMALL, "catalog": "shelf"}


def test_the_price_is_that_of_the_plan() -> None:
    found = priced({"year": SHELF, "pricing": PLAIN}, shelf)
    assert found.plan == plan(SHELF, shelf)
    assert found.price == year_price(found.plan, YearAsked.model_validate(SHELF).areas, Pricing(**PLAIN), shelf())
    assert found.price.price is not None
    # By hand: what its products cost per 1000 ft2, on 6000 ft2.
    assert found.plan.cost is not None
    assert float(found.price.products or 0) == pytest.approx(6 * found.plan.cost, abs=0.02)


def test_generic_actives_have_no_price_but_the_stand_in() -> None:
    without = priced({"year": SMALL, "pricing": PLAIN})
    assert without.price.price is None
    assert all(text.endswith("has no price.") for text in without.price.unknown)
    assert priced({"year": SMALL, "pricing": {**PLAIN, "stand_in_per_1000_ft2": 1}}).price.price is not None


@pytest.mark.parametrize(
    ("payload", "paths"),
    [
        ({"year": SMALL}, ["pricing"]),
        ({"year": {**SMALL, "zone": "nowhere"}, "pricing": PLAIN}, ["year.zone"]),
        ({"year": {**SMALL, "weeds": [{"weed": "dandelyon"}]}, "pricing": PLAIN}, ["year.weeds.0.weed"]),
        ({"year": SMALL, "pricing": {**PLAIN, "margin_pct": 99}}, ["pricing.margin_pct"]),
        ({"year": SHELF, "pricing": PLAIN}, ["year.catalog"]),
    ],
)
def test_a_fault_names_its_field(payload: dict[str, Any], paths: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        priced(payload)
    assert [fault.path for fault in caught.value.faults] == paths
