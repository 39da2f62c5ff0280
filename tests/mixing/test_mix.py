"""Mixing: exact amounts, tanks, pours that never exceed the maximum, order, load. Invented products."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.mixing.output import Mix
from app.services import mixing
from app.services.knowledge_service import knowledge_base
from knowledge.quantities import AREA_UNITS, CARRIER_UNITS, MASS_RATE_UNITS, UNITS, VOLUME_RATE_UNITS, Quantity
from tests.mixing.made import amount, base_of, dry, granule, mixed, plan, product

SIZES = st.floats(0.5, 500)


def faults(payload: Any) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        mixing.mix(payload)
    return {fault.path: fault.message for fault in caught.value.faults}


def test_the_shape_is_the_agreed_one() -> None:
    told = mixed(adjuvant={"id": "nis", "rate": amount("0.25 % v/v")}).model_dump(mode="json")
    assert {"tanks", "totals", "per_1000_ft2", "order", "active_load", "warnings"} <= set(told)
    first = told["tanks"][0]
    assert {"number", "area", "water", "products", "adjuvant"} <= set(first)
    assert {"name", "amount", "pour", "error_pct"} <= set(first["products"][0])
    assert set(first["products"][0]["pour"]) == {"value", "unit"}
    assert told["order"][0] == "water to half"
    assert {"active", "rate"} <= set(told["active_load"][0])
    assert told["active_load"][0]["rate"]["unit"] == "lb ae/acre"


def test_by_hand() -> None:
    # 60,000 ft2 at 1 gal per 1000 ft2 are 60 gal: a tank of 50 and one of 10. A quart (32 fl oz) an acre
    # of 43,560 ft2 is 32 x 50 / 43.56 = 36.73 fl oz in the full tank; of 3 lb ae/gal it is 0.75 lb ae/acre.
    made = mixed()
    assert [(t.number, t.full) for t in made.tanks] == [(1, True), (2, False)]
    assert [t.spray.value for t in made.tanks if t.spray] == pytest.approx([50, 10])
    full, rest = (t.products[0] for t in made.tanks)
    assert full.amount.value == pytest.approx(32 * 50 / 43.56)
    assert rest.amount.value == pytest.approx(32 * 10 / 43.56)
    assert (full.pour.value, full.said) == (36.5, "1 qt 4.5 fl oz")
    assert full.error_pct == pytest.approx(100 * (36.5 / (1600 / 43.56) - 1), abs=0.005)
    water = made.tanks[0].water
    assert water is not None
    assert water.value == pytest.approx(50 - 36.5 / 128)
    (load,) = made.active_load
    assert load.rate is not None
    assert load.rate.value == pytest.approx(0.75)
    assert load.amount.value == pytest.approx(0.75 * 60 / 43.56)


@settings(max_examples=60, deadline=None)
@given(
    area=st.tuples(st.floats(0.05, 50), st.sampled_from(AREA_UNITS)),
    carrier=st.tuples(SIZES, st.sampled_from(CARRIER_UNITS)),
    rate=st.tuples(st.floats(0.05, 20), st.sampled_from(VOLUME_RATE_UNITS)),
    grams=st.tuples(st.floats(5, 5000), st.sampled_from(MASS_RATE_UNITS)),
    share=st.floats(0.02, 3),
    units=st.sampled_from(["us", "metric"]),
)
def test_tanks_add_up_to_the_load(
    area: tuple[float, str],
    carrier: tuple[float, str],
    rate: tuple[float, str],
    grams: tuple[float, str],
    share: float,
    units: str,
) -> None:
    # Litres and grams a hectare that somebody might spray, in every unit.
    rate = (rate[0] / UNITS[rate[1]][1], rate[1])
    grams = (grams[0] / UNITS[grams[1]][1], grams[1])
    spray = Quantity(*area).base / 1e4 * Quantity(*carrier).base
    told = {
        "area": {"value": area[0], "unit": area[1]},
        "carrier": {"value": carrier[0], "unit": carrier[1]},
        "tank": {"value": spray / share, "unit": "L"},
        "units": units,
    }
    made = mixed(
        product(rate=f"{rate[0]:.12f} {rate[1]}"),
        dry(rate=f"{grams[0]:.12f} {grams[1]}"),
        turf=None,
        site_use=None,
        **told,
    )
    assert sum(base_of(t.spray) for t in made.tanks) == pytest.approx(spray, rel=1e-9)
    assert sum(base_of(t.area) for t in made.tanks) == pytest.approx(Quantity(*area).base, rel=1e-9)
    for place, total in enumerate(made.totals):
        assert sum(base_of(t.products[place].amount) for t in made.tanks) == pytest.approx(
            base_of(total.amount), rel=1e-9
        )
    for tank in made.tanks:
        liquids = sum(base_of(p.pour) for p in tank.products if p.pour.unit in ("fl oz", "mL"))
        assert base_of(tank.water) + liquids == pytest.approx(max(base_of(tank.spray), liquids), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(factor=st.floats(0.1, 20), rate=st.floats(0.1, 2))
def test_amounts_scale_with_area_and_rate(factor: float, rate: float) -> None:
    def total(area: float, at: float) -> float:
        made = mixed(product(rate=f"{at:.9f} qt/acre"), area={"value": area, "unit": "acre"}, tank=None)
        return base_of(made.totals[0].amount)

    once = total(1, rate)
    assert total(factor, rate) == pytest.approx(factor * once, rel=1e-9)
    assert total(1, 3 * rate) == pytest.approx(3 * once, rel=1e-6)


def test_us_and_metric_hold_the_same() -> None:
    told = {"adjuvant": {"id": "nis", "rate": amount("0.25 % v/v")}}
    one, other = mixed(product(), dry(), units="us", **told), mixed(product(), dry(), units="metric", **told)
    for a, b in zip(one.totals, other.totals, strict=True):
        assert base_of(a.amount) == pytest.approx(base_of(b.amount), rel=1e-9)
    assert {p.pour.unit for t in other.tanks for p in t.products} == {"mL", "g"}


@settings(max_examples=80, deadline=None)
@given(
    area=st.floats(0.01, 20),
    rate=st.floats(0.1, 3),
    most=st.floats(0.1, 3),
    units=st.sampled_from(["us", "metric"]),
    weighed=st.booleans(),
)
def test_no_pour_exceeds_the_maximum(area: float, rate: float, most: float, units: str, weighed: bool) -> None:
    unit = "oz/acre" if weighed else "qt/acre"
    make = dry if weighed else product
    told = make(rate=f"{rate:.6f} {unit}", max_per_application=amount(f"{most:.6f} {unit}"))
    made = mixed(told, area={"value": area, "unit": "acre"}, tank=None, units=units, turf=None)
    (poured,) = made.tanks[0].products
    # Product for the area at the label's most, by the exact units.
    allowed = Quantity(most, unit).base * Quantity(area, "acre").base / 1e4
    assert base_of(poured.pour) <= allowed * (1 + 1e-6)
    assert bool([s for s in made.stops if s.code == "label-rate"]) == (rate > most * (1 + 1e-9))


@settings(max_examples=60, deadline=None)
@given(area=st.floats(0.01, 20), rate=st.floats(0.05, 3))
def test_without_a_known_maximum_it_is_rounded_down(area: float, rate: float) -> None:
    told = product(rate=f"{rate:.6f} qt/acre", active="2-4-d as 2-4-d-dma 1 lb ae/gal")
    made = mixed(told, area={"value": area, "unit": "acre"}, tank=None, turf=None)
    (poured,) = made.tanks[0].products
    assert poured.pour.value <= poured.amount.value * (1 + 1e-9)


def test_the_recorded_single_maximum_cuts_what_is_poured() -> None:
    # Triclopyr is recorded at no more than 1.0 lb ae/acre on tall fescue; two quarts of 3 lb ae/gal are 1.5 lb.
    limit = min(
        limit.single_max.base
        for limit in knowledge_base().actives["triclopyr"].limits
        if limit.single_max is not None and set(limit.turf) & {"all", "cool-season", "tall-fescue"}
    )
    made = mixed(product(rate="2 qt/acre"), area=amount("1 acre"), tank=None)
    assert "single-rate" in {stop.code for stop in made.stops}
    (poured,) = made.tanks[0].products
    grams = base_of(poured.pour) * Quantity(3, "lb ae/gal").base
    assert grams <= limit * 0.40468564224 * (1 + 1e-9)
    assert poured.error_pct < -30


def test_the_year_is_counted_and_passed() -> None:
    past = [{"date": "2027-04-01", "active": "triclopyr", "rate": amount("2.5 lb ae/acre")}]
    told = {"date": "2027-06-15", "applied_this_year": past}
    (load,) = mixed(**told).active_load
    assert load.used is not None
    assert load.used.value == pytest.approx(2.5)
    made = mixed(**told)
    assert "annual-rate" in {stop.code for stop in made.stops}
    assert load.remaining is not None
    assert load.remaining.value == 0
    earlier = mixed(date="2028-06-15", applied_this_year=past)
    assert earlier.stops == ()


def test_a_labels_yearly_maximum_binds_too() -> None:
    made = mixed(product(max_per_year=amount("0.9 qt/acre")), turf=None)
    assert "annual-rate" in {stop.code for stop in made.stops}
    assert mixed(product(max_per_year=amount("1 qt/acre")), turf=None).stops == ()


def test_unknown_turf_leaves_the_allowance_unknown() -> None:
    made = mixed(turf=None)
    (load,) = made.active_load
    assert (load.maximum, load.remaining) == (None, None)
    assert "tell the turf" in load.text
    assert [w.settled_by for w in made.warnings] == ["turf"]


@pytest.mark.parametrize(("told", "stops"), [("10 gal/acre", []), ("9.99 gal/acre", ["carrier-volume"])])
def test_too_little_water_is_a_stop(told: str, stops: list[str]) -> None:
    assert [stop.code for stop in mixed(carrier=amount(told)).stops] == stops


def test_the_labels_carrier_floor_is_a_stop() -> None:
    made = mixed(product(carrier_floor=amount("50 gal/acre")), carrier=amount("40 gal/acre"))
    assert [stop.code for stop in made.stops] == ["label-carrier"]


def test_the_order_is_dry_then_suspended_then_dissolved_then_oily_then_surfactant() -> None:
    # Order of the South Dakota and Manitoba lists (see the facts' sources): published, seen.
    made = mixed(
        product("Oily", "1 qt/acre", "triclopyr as triclopyr-bee 4 lb ae/gal", formulation="EC"),
        product("Dissolved"),
        product("Flowing", "6 fl oz/acre", "sulfentrazone 4 lb ai/gal", formulation="SC"),
        dry("Grains"),
        adjuvant={"id": "nis"},
        turf=None,
    )
    places = [
        next(i for i, step in enumerate(made.order) if word in step)
        for word in ("Grains", "Flowing", "Dissolved", "Oily", "surfactant")
    ]
    assert places == sorted(places)
    assert made.order[0] == "water to half"
    assert made.order.index("water to the full mark") > places[-1]
    assert mixed(adjuvant={"id": "ams"}).order[2].startswith("ammonium sulfate")


def test_spot_by_share_and_by_area() -> None:
    share = mixed(
        product(rate="1.5 fl oz/gal"), method="spot", spray=amount("2 gal"), area=None, carrier=None, tank=None
    )
    (poured,) = share.tanks[0].products
    assert poured.amount.value == pytest.approx(3.0)
    assert share.tanks[0].area is None
    assert (share.per_acre, share.active_load[0].rate) == ((), None)
    area = mixed(method="spot", spray=amount("2 gal"), carrier=amount("40 gal/acre"), area=None, tank=None)
    # Two gallons at 40 gal/acre cover a twentieth of an acre, which takes a twentieth of 32 fl oz.
    assert area.tanks[0].products[0].amount.value == pytest.approx(1.6)
    assert base_of(area.tanks[0].area) == pytest.approx(Quantity(0.05, "acre").base)


def test_a_backpack_is_filled_until_the_load_is_out() -> None:
    made = mixed(tank=amount("4 gal"))
    assert len(made.tanks) == 15
    assert made.headline.startswith("15 tanks of 4 gal")


def test_granules_are_weighed_caught_and_counted_in_bags() -> None:
    bags = granule(packs=[{"size": amount("50 lb"), "price": 40}])
    made = mixed(bags, method="granular", area=amount("10000 ft2"), carrier=None, tank=None)
    (tank,) = made.tanks
    assert (tank.spray, tank.water, made.order) == (None, None, ())
    assert tank.products[0].said == "30 lb"
    (spread,) = made.spreader
    # Three pounds per 1000 ft2 are 4.8 oz on 100 ft2.
    assert spread.catches[0].amount.value == pytest.approx(4.8)
    assert spread.bags == "0.60 bags of 50 lb"


def test_what_cannot_be_measured_closely_is_said() -> None:
    made = mixed(product(rate="1 fl oz/acre"), area=amount("1000 ft2"), tank=None, turf=None)
    assert "pour" in {w.code for w in made.warnings}
    assert made.tanks[0].products[0].pour.value == 0


def test_a_liquid_of_known_density_dosed_by_weight_is_poured() -> None:
    heavy = product(rate="2 lb/acre", active="2-4-d as 2-4-d-dma 46 % w/w", density=amount("10 lb/gal"))
    made = mixed(heavy, area=amount("1 acre"), tank=None, turf=None)
    assert made.tanks[0].products[0].amount.value == pytest.approx(25.6)
    light = product(rate="2 lb/acre", active="2-4-d as 2-4-d-dma 46 % w/w")
    assert mixed(light, area=amount("1 acre"), tank=None, turf=None).tanks[0].products[0].said == "2 lb"


@pytest.mark.parametrize(
    ("change", "path", "said"),
    [
        ({"area": None}, "area", "is required"),
        ({"carrier": None}, "carrier", "is required"),
        ({"area": {"value": 0, "unit": "ft2"}}, "area.value", "out of range"),
        ({"tank": {"value": 0, "unit": "gal"}}, "tank.value", "out of range"),
        ({"tank": {"value": 1, "unit": "fl oz"}}, "tank", "larger tank"),
        ({"carrier": {"value": 1, "unit": "lb/acre"}}, "carrier", "does not belong here"),
        ({"products": []}, "products", "at least"),
        ({"products": [product(), product("FENNICK amine")]}, "products", "twice"),
        ({"products": [product(rate="1 lb ae/acre")]}, "products.0.rate.unit", "rate of active"),
        ({"products": [product(rate="1 fl oz/gal")]}, "products.0.rate.unit", "method spot"),
        ({"products": [product(rate="1 oz/acre")]}, "products.0.rate", "which ounce"),
        ({"products": [granule()]}, "products.0.formulation", "granular"),
        ({"products": [{k: v for k, v in product().items() if k != "rate"}]}, "products.0.rate", "is required"),
        ({"products": [product(density={"value": -1, "unit": "lb/gal"})]}, "products.0.density.value", "out of range"),
        (
            {"products": [dry(actives=[{"active": "quinclorac", "content": {"value": 101, "unit": "% w/w"}}])]},
            "products.0.actives.0.content",
            "100",
        ),
        ({"products": [product(active="triclopyrr 3 lb ae/gal")]}, "products.0.actives.0.active", "nearest"),
        ({"products": [product(active="triclopyr as 2-4-d-dma 3 lb ae/gal")]}, "products.0.actives.0.form", "nearest"),
        ({"turf": ["tall-fescu"]}, "turf.0", "tall-fescue"),
        ({"method": "granular"}, "carrier", "dry"),
        ({"method": "spot", "carrier": None}, "spray", "is required"),
        ({"sprayer": "gone"}, "sprayer", "none are kept"),
        ({"products": [{"id": "gone", "rate": amount("1 qt/acre")}]}, "products.0.id", "no shelf"),
        ({"colour": "red"}, "colour", "not a known key"),
    ],
)
def test_what_cannot_be_mixed_is_named(change: dict[str, Any], path: str, said: str) -> None:
    made = {key: value for key, value in {**plan(), **change}.items() if value is not None}
    found = faults(made)
    assert path in found, found
    assert said in found[path]


def test_a_product_and_a_sprayer_may_be_named() -> None:
    from app.engine.product import Product

    line = {"low": amount("0.5 qt/acre"), "high": amount("1 qt/acre")}
    kept = Product.model_validate({**product(), "rate": None, "rates": [line], "id": "fennick-amine"})
    told = {
        "area": amount("1 acre"),
        "sprayer": "boom",
        "products": [{"id": "fennick-amine", "rate": amount("1 qt/acre")}],
    }
    boom = {"carrier": amount("40 gal/acre"), "tank": amount("50 gal"), "kind": "boom"}
    made: Mix = mixing.mix(told, lambda _: kept, lambda _: boom)
    assert made.tanks[0].products[0].said == "1 qt"
    assert base_of(made.tanks[0].spray) == pytest.approx(Quantity(40, "gal").base)
    own: Mix = mixing.mix({**told, "carrier": amount("20 gal/acre")}, lambda _: kept, lambda _: boom)
    assert base_of(own.tanks[0].spray) == pytest.approx(Quantity(20, "gal").base)


def test_equal_plans_give_equal_mixes() -> None:
    assert mixed(product(), dry()) == mixed(product(), dry())
