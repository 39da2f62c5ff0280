"""The papers of a year: its visits as the customer counts them, its amounts, and whose it is."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.engine.errors import UnknownId
from app.engine.measures import Area
from app.season.year_output import VisitWindow
from app.services.sprayers import add_sprayer
from app.services.year_amounts import taken
from app.services.year_papers import papers
from app.store.opening import Store, open_in_memory
from tests.season.planned import CARRIER, shelf
from tests.season.planned_year import FRONT, resting, visit
from tests.services.test_round_papers import GUN
from tests.services.year_place import BRANCH, keep_place, keep_plan, year_papers

HELD = {product.name: product for product in shelf()}


def test_visits_are_counted_as_the_customer_meets_them() -> None:
    found = year_papers([resting(1), resting(1, "back"), visit(2), resting(3), visit(5, "front"), visit(5, "back")])
    assert [(call.order, call.number, len(call.parts)) for call in found.calls] == [(1, 2, 1), (2, 5, 2)]
    assert [found.where(call) for call in found.calls] == ["Front lawn", ""]


def test_the_window_of_a_visit_is_what_its_areas_share() -> None:
    day = visit(1).date

    def window(before: int, after: int) -> VisitWindow:
        return VisitWindow(start=day - timedelta(days=before), end=day + timedelta(days=after), trigger="x")

    both = [visit(1, "front", window=window(9, 3)), visit(1, "back", window=window(2, 8))]
    (call,) = year_papers(both).calls
    assert (call.window.start, call.window.end) == (day - timedelta(days=2), day + timedelta(days=3))


def test_papers_without_prices_of_the_branch_have_none() -> None:
    found = year_papers(branch=BRANCH.model_copy(update={"pricing": None}))
    assert found.price is None
    assert {call.price for call in found.calls} == {None}


def test_amounts_of_a_visit_are_those_of_the_mixing() -> None:
    # By hand: 6000 ft2 at 0.41 fl oz/1000 ft2, and at 1 gal/1000 ft2.
    found = taken(visit(1).applications[0], FRONT, "residential-lawn", HELD, "us")
    assert [(total.name, pytest.approx(total.amount.value)) for total in found.totals] == [("Pellmere Early", 2.46)]
    assert found.spray is not None
    assert (found.spray.value, found.spray.unit, found.why) == (pytest.approx(6), "gal", "")


def test_an_adjuvant_is_counted_with_the_spray_and_dry_product_by_weight() -> None:
    # By hand: 14 oz/acre on 6000 of 43560 ft2; 1 % of 6 gal of spray, 128 fl oz each.
    found = taken(visit(5).applications[0], FRONT, "residential-lawn", HELD, "us")
    told = {total.name: (pytest.approx(total.amount.value, rel=1e-3), total.amount.unit) for total in found.totals}
    assert told["Mistlewick Crabgrass"] == (14 * 6000 / 43560, "oz")
    assert told["Mistlewick Seed Oil"] == (7.68, "fl oz")


def test_actives_without_a_product_are_weighed_as_they_are_counted() -> None:
    bare = visit(2).applications[0]
    nameless = tuple(p.model_copy(update={"product": None, "id": None, "rate": None}) for p in bare.products)
    loose = bare.model_copy(update={"products": nameless})
    found = taken(loose, FRONT, "residential-lawn", HELD, "us")
    # By hand: 1 lb ae/acre is 16 oz on 43560 ft2.
    assert found.totals[0].name == "2 4 d (ae)"
    assert (found.totals[0].amount.value, found.totals[0].amount.unit) == (pytest.approx(16 * 6000 / 43560), "oz")
    metric = taken(loose, FRONT, "residential-lawn", HELD, "metric")
    assert metric.totals[0].amount.unit == "g"
    assert metric.spray is not None
    assert metric.spray.value == pytest.approx(6 * 3.785411784)


def test_what_is_not_told_or_gone_leaves_no_amount_and_says_so() -> None:
    tank = visit(1).applications[0]
    unsized = taken(tank, FRONT.model_copy(update={"area": None}), "residential-lawn", HELD, "us")
    assert (unsized.totals, unsized.why) == ((), "The size of the area is not told.")
    gone = taken(tank, FRONT, "residential-lawn", {}, "us")
    assert (gone.totals, gone.why) == ((), "Pellmere Early is not on the shelf any more.")


def test_without_a_carrier_product_is_told_and_what_depends_on_the_spray_is_not() -> None:
    tank = visit(5).applications[0].model_copy(update={"carrier": None})
    found = taken(tank, FRONT, "residential-lawn", HELD, "us")
    assert [(total.name, total.amount.unit) for total in found.totals] == [("Mistlewick Crabgrass", "oz")]
    assert found.totals[0].amount.value == pytest.approx(14 * 6000 / 43560, rel=1e-3)
    assert (found.spray, found.why) == (None, "")
    by_sprayer = taken(tank, FRONT, "residential-lawn", HELD, "us", CARRIER)
    assert by_sprayer == taken(visit(5).applications[0], FRONT, "residential-lawn", HELD, "us")


def test_spray_is_reckoned_by_the_first_sprayer_that_has_a_carrier(store: Store) -> None:
    keep_plan(store)
    assert papers(store, "12-mill-lane", 2027).sprayer is None
    add_sprayer(store, {**GUN, "name": "Truck gun"})
    add_sprayer(store, {**GUN, "name": "Old gun", "carrier": None})
    assert papers(store, "12-mill-lane", 2027).sprayer == ("Truck gun", CARRIER)


def test_a_whole_acre_takes_what_its_rate_says() -> None:
    acre = FRONT.model_copy(update={"area": Area(value=1, unit="acre")})
    told = taken(visit(6).applications[0].model_copy(update={"carrier": CARRIER}), acre, "residential-lawn", HELD, "us")
    amine = next(total for total in told.totals if total.name == "Larkmere Amine")
    assert amine.amount.value == pytest.approx(36)


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    keep_place(opened)
    yield opened
    opened.close()


def test_the_papers_are_those_of_the_chosen_plan_and_its_place(store: Store) -> None:
    keep_plan(store, 4, number=1, chosen=False)
    keep_plan(store, 6, number=2, chosen=True)
    found = papers(store, "12-mill-lane", 2027)
    assert (found.number, len(found.calls), found.season) == (2, 6, 2027)
    assert (found.place.customer, found.place.customer_address) == ("Ada Fenn", "PO Box 7")
    assert found.price is not None
    assert found.price.price is not None
    assert len(found.catalog) > 20


def test_a_year_without_a_plan_is_said_to_have_none(store: Store) -> None:
    with pytest.raises(UnknownId, match="12-mill-lane, 2027"):
        papers(store, "12-mill-lane", 2027)
    with pytest.raises(UnknownId):
        papers(store, "12-mill-lan", 2027)
