"""The load sheet: amounts that add up, fills that run out where it says, and what stands at each stop."""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Literal

import pytest

from app.season.load_output import LoadSheet, SheetStop
from app.services.load_sheet import load_sheet
from app.services.load_tank import Sprayer
from knowledge.quantities import Quantity
from tests.season import planned

GUN = Sprayer("Truck gun", None, {"value": 25, "unit": "gal"})
SYSTEMS: tuple[Literal["us", "metric"], ...] = ("us", "metric")


def made(**told: Any) -> LoadSheet:
    return load_sheet(planned.planned(**told), planned.shelf(), GUN)


def at(sheet: LoadSheet, key: str) -> SheetStop:
    return next(stop for stop in sheet.stops if stop.property == key)


def base_of(amount: Any) -> float:
    return Quantity(amount.value, amount.unit).base


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_stops_and_what_is_over_add_up_to_the_tanks(system: Literal["us", "metric"]) -> None:
    sheet = load_sheet(planned.planned(), planned.shelf(), GUN, system)
    for tank in sheet.tanks:
        mine = [stop for stop in sheet.stops if stop.tank == tank.label]
        assert tank.spray is not None
        assert tank.needed is not None
        assert tank.left_over is not None
        taken = sum(base_of(stop.spray) for stop in mine)
        assert taken == pytest.approx(base_of(tank.needed))
        assert taken + base_of(tank.left_over) == pytest.approx(base_of(tank.spray))
        assert sum(base_of(fill.spray) * fill.count for fill in tank.fills) == pytest.approx(base_of(tank.spray))
        share = base_of(tank.left_over) / base_of(tank.spray)
        for total in tank.totals:
            whole = base_of(total.amount)
            at_stops = sum(base_of(a.amount) for stop in mine for a in stop.amounts if a.name == total.name)
            assert at_stops + share * whole == pytest.approx(whole)
            poured = [(fill.count, p.amount) for fill in tank.fills for p in fill.pours if p.name == total.name]
            assert sum(count * base_of(amount) for count, amount in poured) == pytest.approx(whole)


def test_amounts_are_those_of_a_reckoning_by_hand() -> None:
    # By hand: 14,000 ft2 at 0.8 fl oz/1000 ft2 are 11.2 fl oz; 14 oz/acre on 14,000 ft2 are 14 * 14000/43560 oz;
    # 1 % of 14 gal (1 gal/1000 ft2) are 17.92 fl oz.
    amounts = {a.name: a.amount for a in at(made(), "hill-house").amounts}
    assert amounts["Wrenhollow Creeper"].value == pytest.approx(11.2)
    assert amounts["Mistlewick Crabgrass"].value == pytest.approx(14 * 14000 / 43560)
    assert amounts["Mistlewick Seed Oil"].value == pytest.approx(0.01 * 14 * 128)
    assert amounts["Mistlewick Seed Oil"].unit == "fl oz"


def test_spots_take_what_their_treated_area_takes() -> None:
    spot = at(made(), "rose-cottage")
    assert spot.method == "spot"
    assert spot.spray is not None
    assert spot.spray.value == pytest.approx(0.9)


def test_a_stop_over_two_fills_says_so() -> None:
    sheet = made()
    assert at(sheet, "hill-house").fills_text == "Fill 1"
    assert at(sheet, "pond-house").fills_text == "Over 2 fills: 11 gal from fill 1, then 11 gal from fill 2"
    assert at(sheet, "rose-cottage").fills_text == "Fill 2"


def test_a_last_fill_too_small_to_measure_makes_the_fills_equal() -> None:
    tank = made().tanks[1]
    assert [(fill.count, fill.spray.value) for fill in tank.fills] == [(2, pytest.approx(15.5))]
    assert "equal" in tank.fills_text
    assert not any(abs(pour.off_pct) > 10 for fill in tank.fills for pour in fill.pours)


def test_a_part_fill_is_made_up_to_the_mark_and_what_is_over_is_said() -> None:
    tank = made().tanks[0]
    assert [fill.spray.value for fill in tank.fills] == [pytest.approx(25), pytest.approx(12)]
    assert tank.left_over is not None
    assert tank.left_over.value == pytest.approx(0.1)
    assert "never twice" in tank.left_text


def test_the_pours_stand_in_the_order_of_adding() -> None:
    tank = made().tanks[0]
    # Published: dry products before solutions, oils after every product (lists of adding cited in the steps).
    names = [pour.name for pour in tank.fills[0].pours]
    assert names == ["Mistlewick Crabgrass", "Wrenhollow Creeper", "Mistlewick Seed Oil"]
    steps = [step.text for step in tank.order]
    assert steps.index(next(s for s in steps if "Crabgrass" in s)) < steps.index(next(s for s in steps if "Creep" in s))


def test_actives_without_a_product_have_rates_alone_and_say_so() -> None:
    sheet = load_sheet(planned.generic(), planned.shelf(), GUN)
    tank = sheet.tanks[0]
    assert tank.fills == ()
    assert tank.totals == ()
    assert "nothing can be poured" in tank.unpoured
    assert {rate.name.split(" (")[0] for rate in tank.rates} == {"triclopyr", "quinclorac", "methylated seed oil"}
    assert all(stop.amounts == () and stop.spray is None for stop in sheet.stops)
    assert "rates only" in sheet.headline


def test_a_product_that_left_the_shelf_is_not_poured() -> None:
    shelf = [product for product in planned.shelf() if product.id != "wrenhollow-creeper"]
    tank = load_sheet(planned.planned(), shelf, GUN).tanks[0]
    assert "Wrenhollow Creeper" in tank.unpoured
    assert tank.fills == ()


def test_without_a_carrier_volume_nothing_is_poured_and_a_sprayer_tells_it() -> None:
    alone = planned.tank("A", 36900, 3, carrier=None)
    plan = planned.planned(tanks=(alone,))
    assert "carrier volume is not told" in load_sheet(plan, planned.shelf()).tanks[0].unpoured
    told = Sprayer("Gun", {"value": 2, "unit": "gal/1000 ft2"}, None)
    tank = load_sheet(plan, planned.shelf(), told).tanks[0]
    assert tank.spray is not None
    assert tank.spray.value == pytest.approx(74)
    assert len(tank.fills) == 1


def test_a_granule_is_spread_and_its_stops_add_up_to_the_load() -> None:
    granule = planned.ProductInTank(
        product="Larkmere Early Feed",
        id="larkmere-early-feed",
        actives=(planned.active("dithiopyr", "dithiopyr", 0.25, "lb ai/acre", "3"),),
        rate=planned.Amount(value=4, unit="lb/1000 ft2"),
    )
    dry = planned.tank("A", 36900, 3, products=(granule,), adjuvant=None, carrier=None, rainfast_hours=None)
    sheet = load_sheet(planned.planned(tanks=(dry,)), planned.shelf(), GUN)
    (tank,) = sheet.tanks
    (load,) = tank.fills
    assert tank.unpoured == ""
    assert (load.spray, load.water, tank.spray) == (None, None, None)
    # By hand: 36,900 ft2 at 4 lb/1000 ft2 are 147.6 lb.
    assert base_of(load.pours[0].amount) == pytest.approx(147.6 * 453.59237)
    at_stops = [base_of(a.amount) for stop in sheet.stops for a in stop.amounts]
    assert sum(at_stops) == pytest.approx(147.6 * 453.59237)
    assert any("drops" in text for text in tank.spreader)
    assert "spread dry" in sheet.headline
    codes = {line.code for line in at(sheet, "hill-house").customer_lines}
    assert "water-in" in codes
    assert "no-mowing" not in codes


def test_what_every_stop_of_a_tank_must_mind_is_said_at_the_tank() -> None:
    sheet = made()
    wind = "12 mph: at the edge; coarse droplets, low boom."
    assert wind in {caution.text for caution in sheet.tanks[0].warnings}
    assert wind not in {caution.text for caution in at(sheet, "pond-house").cautions}
    # The one stop of the other tank keeps its own.
    assert wind in {caution.text for caution in at(sheet, "mill-works").cautions}
    # Nothing can be done on the spot about a resistance that is known somewhere: it was weighed in the plan.
    told = [*sheet.tanks[0].warnings, *(caution for stop in sheet.stops for caution in stop.cautions)]
    assert not any("resistant" in caution.text for caution in told)


def test_what_lies_around_a_stop_is_said_there() -> None:
    texts = " ".join(caution.text for caution in at(made(), "pond-house").cautions)
    for word in ("root zone", "water's edge", "Keep them off until the spray has dried"):
        assert word in texts
    assert not any(caution.code.startswith("surroundings") for caution in at(made(), "hill-house").cautions)


def test_a_tank_says_when_it_gets_too_warm_for_it() -> None:
    assert made().tanks[0].heat_text == "Not above 85 F; open 7 to 11 am."


def test_stops_keep_their_order_and_the_others_say_why_they_wait() -> None:
    sheet = made()
    assert [(stop.number, stop.property) for stop in sheet.stops] == [
        (1, "hill-house"),
        (2, "pond-house"),
        (3, "rose-cottage"),
        (4, "mill-works"),
    ]
    waits, untold = sheet.waiting
    assert (waits.status, waits.until) == ("wait", planned.SEEDED_UNTIL)
    assert (untold.status, untold.why[0].code) == ("unknown", "turf-untold")


def test_the_customer_of_each_stop_is_told_of_its_own() -> None:
    sheet = made()
    codes: dict[str, set[str]] = defaultdict(set)
    for stop in sheet.stops:
        codes[stop.property] = {line.code for line in stop.customer_lines}
    assert "again" in codes["hill-house"]
    assert "toys" in codes["pond-house"]
    assert {"spot", "flowers"} <= codes["rose-cottage"]
    assert not codes["mill-works"] & {"again", "toys", "spot", "flowers"}


def test_every_source_that_is_cited_is_given() -> None:
    sheet = made()
    told = [s for tank in sheet.tanks for s in (*tank.order, *tank.rinse, *tank.warnings, *tank.stops)]
    told += [s for stop in sheet.stops for s in (*stop.cautions, *stop.customer_lines)]
    assert {key for item in told for key in item.sources} <= set(sheet.sources)
