"""The price of a year: cost, margin and rounding, and nothing priced that is not known."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.engine.measures import Area
from app.season.pricing import Pricing
from app.season.year_price import YearPrice, year_price
from tests.season.planned import shelf
from tests.season.planned_year import AREAS, BACK, FRONT, planned_year, resting, visit

PLAIN: dict[str, Any] = {
    "labour_per_hour": 42,
    "minutes_per_visit": 12,
    "minutes_per_1000_ft2": 1.5,
    "travel_minutes": 10,
    "overhead_pct": 30,
    "margin_pct": 25,
    "round_to": 1,
}


def pricing(**told: Any) -> Pricing:
    return Pricing(**{**PLAIN, **told})


def test_a_visit_is_reckoned_as_by_hand() -> None:
    # By hand: products 6 x 0.62 = 3.72; labour (12 + 6 x 1.5) min = 21 min at 0.70 a minute = 14.70; travel 7.00;
    # direct 25.42; overhead 30 % = 7.626, to the cent 7.63; cost 33.05; of a margin of 25 % of the price 44.0666,
    # rounded up 45.
    (found,) = year_price(planned_year([visit(1)]), AREAS, pricing()).visits
    told = (found.products, found.labour, found.travel, found.overhead, found.cost, found.price, found.margin)
    assert told == tuple(Decimal(text) for text in ("3.72", "14.70", "7.00", "7.63", "33.05", "45.00", "11.95"))
    assert (found.minutes, found.margin_pct, found.least, found.unknown) == (21.0, 26.6, False, ())


def test_what_is_treated_on_one_day_is_one_visit_driven_to_once() -> None:
    both = planned_year([visit(1, "front"), visit(1, "back")])
    (found,) = year_price(both, AREAS, pricing()).visits
    assert (found.areas, found.treated_1000_ft2, found.travel) == (("front", "back"), 10.5, Decimal("7.00"))
    # By hand: 6 x 0.62 + 4.5 x 0.62.
    assert found.products == Decimal("6.51")


def test_metric_areas_cost_the_same() -> None:
    metric = FRONT.model_copy(update={"area": Area(value=6000 * 0.09290304, unit="m2")})
    plan = planned_year([visit(1)])
    assert year_price(plan, [metric], pricing()).visits == year_price(plan, [FRONT], pricing()).visits


def test_the_least_price_of_a_visit_holds_on_both_sides_of_it() -> None:
    plan = planned_year([visit(1)])
    above = year_price(plan, AREAS, pricing(least_per_visit=45)).visits[0]
    below = year_price(plan, AREAS, pricing(least_per_visit=44)).visits[0]
    assert (above.price, above.least) == (Decimal("45.00"), True)
    assert (below.price, below.least) == (Decimal("45.00"), False)
    assert year_price(plan, AREAS, pricing(least_per_visit=60)).visits[0].price == Decimal("60.00")


def test_a_day_on_which_nothing_is_applied_is_no_visit() -> None:
    found = year_price(planned_year([visit(1), resting(2), resting(2, "back"), visit(5)]), AREAS, pricing())
    assert [one.number for one in found.visits] == [1, 5]


def test_a_year_without_visits_costs_nothing_and_has_no_margin() -> None:
    found = year_price(planned_year([], frontier=()), AREAS, pricing())
    assert (found.price, found.cost, found.margin_pct, found.unknown) == (Decimal(0), Decimal(0), None, ())


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    rates=st.lists(st.floats(0, 30), min_size=1, max_size=8),
    labour=st.floats(1, 200),
    margin=st.floats(0, 80),
    overhead=st.floats(0, 200),
    least=st.floats(0, 200),
    step=st.sampled_from([0.01, 0.05, 0.5, 1, 5, 12.5]),
)
def test_visits_add_up_to_the_cent_and_the_margin_is_never_less_than_asked(
    rates: list[float], labour: float, margin: float, overhead: float, least: float, step: float
) -> None:
    told = pricing(
        labour_per_hour=labour, margin_pct=margin, overhead_pct=overhead, least_per_visit=least, round_to=step
    )
    plan = planned_year([visit(n, cost_per_1000_ft2=rate) for n, rate in enumerate(rates, 1)])
    found = year_price(plan, AREAS, told)
    assert found.price is not None
    assert found.cost is not None
    for field in ("products", "labour", "travel", "overhead", "cost", "price", "margin"):
        parts = [getattr(one, field) for one in found.visits]
        assert all(part == part.quantize(Decimal("0.01")) for part in parts)
        assert sum(parts) == getattr(found, field), field
    for one in found.visits:
        assert one.price is not None
        assert one.cost is not None
        assert one.price >= Decimal(str(least))
        assert one.price - one.cost >= one.price * Decimal(str(margin)) / 100 - Decimal("0.000001")
        assert one.price % Decimal(str(step)) == 0
        # Never more than a step above what is asked.
        wanted = max(float(one.cost) / (1 - margin / 100), least)
        assert float(one.price) < wanted + step + 1e-6


def unpriced(**told: Any) -> YearPrice:
    plan = planned_year([visit(1), visit(2, cost_per_1000_ft2=None)])
    return year_price(plan, AREAS, pricing(**told), [p for p in shelf() if p.name != "Wrenhollow Creeper"])


def test_a_product_without_a_price_makes_the_year_unknown_and_is_named() -> None:
    found = unpriced()
    assert (found.price, found.cost, found.margin, found.products) == (None, None, None, None)
    assert found.unknown == ("Wrenhollow Creeper has no price.",)
    # What is known stays known.
    assert found.visits[0].price == Decimal("45.00")
    assert found.labour == Decimal("29.40")


def test_a_stand_in_takes_its_place_and_is_told() -> None:
    found = unpriced(stand_in_per_1000_ft2=2)
    # By hand: 36 fl oz/acre of a jug of 2.5 gal or a drum of 30 gal for 870: 36/128 gal x 29.00 = 8.156 an acre,
    # 0.18724 per 1000 ft2; with 2.00 for the other product 2.18724, times 6.
    assert found.visits[1].products == Decimal("13.12")
    assert found.unknown == ()
    assert found.assumed == ("Wrenhollow Creeper has no price: 2.00 USD per 1000 ft2 stands in for it.",)
    assert found.price is not None


def test_generic_actives_are_priced_by_the_stand_in_alone() -> None:
    bare = visit(2).applications[0]
    nameless = tuple(p.model_copy(update={"product": None, "id": None, "rate": None}) for p in bare.products)
    generic = visit(2, applications=(bare.model_copy(update={"products": nameless}),), cost_per_1000_ft2=None)
    found = year_price(planned_year([generic]), AREAS, pricing(stand_in_per_1000_ft2=1.5))
    assert found.products == Decimal("18.00")
    assert len(found.assumed) == 2
    without = year_price(planned_year([generic]), AREAS, pricing())
    assert without.unknown == ("2 4 d has no price.", "triclopyr has no price.")


def test_an_area_without_a_size_makes_the_price_unknown() -> None:
    found = year_price(planned_year(), [FRONT, BACK.model_copy(update={"area": None})], pricing())
    assert found.price is None
    assert found.unknown == ("The size of Back lawn is not told.",)


def test_products_in_another_currency_are_not_added_to_labour() -> None:
    found = year_price(planned_year(currency="EUR"), AREAS, pricing())
    assert found.price is None
    assert found.unknown == ("The products are priced in EUR, the branch prices in USD.",)


def test_an_adjuvant_that_is_no_product_is_said_to_be_left_out() -> None:
    assert year_price(planned_year(), AREAS, pricing()).notes == ()
    bare = visit(5).applications[0]
    assert bare.adjuvant is not None
    loose = bare.model_copy(update={"adjuvant": bare.adjuvant.model_copy(update={"product": None})})
    found = year_price(planned_year([visit(5, applications=(loose,))]), AREAS, pricing())
    assert found.notes == ("Without methylated seed oil, whose cost is not known here.",)


def test_points_of_control_against_cost_have_a_price() -> None:
    found = year_price(planned_year(6), AREAS, pricing(round_to=0.01))
    nothing, two, six = found.frontier
    assert (nothing.price, nothing.cost, nothing.visits) == (Decimal(0), Decimal(0), 0)
    # By hand for two visits: products 1.80 x 10.5 = 18.90, labour 2 x 27.75 min at 0.70 = 2 x 19.43 (to the cent),
    # travel 14.00, direct 71.76, overhead 30 %, together 93.29 (to the cent each visit); price 93.29 / 0.75.
    assert float(two.cost or 0) == pytest.approx(93.29, abs=0.02)
    assert float(two.price or 0) == pytest.approx(93.29 / 0.75, abs=0.03)
    # The point of the plan itself comes to what its visits come to, but for the rounding of each.
    assert float(six.price or 0) == pytest.approx(float(found.price or 0), abs=0.1)
    assert [point.knee for point in found.frontier] == [False, True, False]


def test_a_point_without_a_cost_has_no_price() -> None:
    plan = planned_year()
    loose = plan.model_copy(update={"frontier": tuple(p.model_copy(update={"cost": None}) for p in plan.frontier)})
    assert {point.price for point in year_price(loose, AREAS, pricing()).frontier} == {None}


def test_json_holds_plain_numbers() -> None:
    told = json.loads(year_price(planned_year(), AREAS, pricing()).model_dump_json())
    assert isinstance(told["price"], float)
    assert math.isclose(sum(one["price"] for one in told["visits"]), told["price"])


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"margin_pct": 96}, "margin_pct"),
        ({"round_to": 0.005}, "round_to"),
        ({"round_to": 0.125}, "round_to"),
        ({"labour_per_hour": 0}, "labour_per_hour"),
        ({"currency": "usd"}, "currency"),
        ({"minutes_per_visit": -1}, "minutes_per_visit"),
        ({"valid_days": 0}, "valid_days"),
    ],
)
def test_what_no_branch_can_mean_is_refused_at_its_field(told: dict[str, Any], field: str) -> None:
    with pytest.raises(ValidationError) as caught:
        pricing(**told)
    assert [error["loc"][0] for error in caught.value.errors()] == [field]
