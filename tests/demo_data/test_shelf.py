"""The demo shelf: invented products that hold together, and stand within what is known of their actives."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest

from app.engine.contradictions import contradictions
from app.engine.doses import active_amount, counted_rate, form_named
from app.engine.label_faults import faults_of
from app.engine.product import LabelRate, Product, ProductActive
from app.services.shelf_csv import write_csv
from knowledge.base import KnowledgeBase, applies_to_turf, rate_for
from knowledge.models import Active, Form, Turf
from knowledge.quantities import FT2_PER_ACRE, HECTARE_PER_ACRE, Quantity
from tests.demo_data.demo_shelf import FILE, PLACES, demo_shelf

SHELF = demo_shelf()
HERBICIDES = tuple(product for product in SHELF if product.kind == "herbicide")
NAMES = [product.name for product in SHELF]
# What stands behind the place is plain words of the trade or of everyday speech.
WORDS = (
    "Amine Bright Clear Clover Cool Crabgrass Creeper Daisy Early Ester Even Fairway Feed Four Foxtail Goosegrass "
    "Granule Oil Pale Rough Season Sedge Seed Seedbed Simazine Softener South Southern Thistle Three Touch Triazine "
    "Two Wetter White Winter Woody"
)
CONTRADICTS, STRICTER = "Contradicts the knowledge base:", "tricter than the knowledge base:"
# Shares of a number may be off in the last bit.
ROUNDING = 1 + 1e-9
# What is left of a liquid for water, solvent and what keeps it together: common practice, no source.
MOST_ACTIVE_SHARE = 0.80


def by_name(name: str) -> Product:
    return next(product for product in SHELF if product.name == name)


def facts(base: KnowledgeBase, part: ProductActive) -> tuple[Active, Form]:
    """The active and the form that a product names."""
    active = base.actives[part.active]
    form = form_named(active, part.form)
    assert form is not None, f"{part.form} is no form of {part.active}"
    return active, form


def delivered(base: KnowledgeBase, product: Product, number: int, rate: Quantity) -> Quantity:
    """Rate of one active at a rate of product, in the active's own counting."""
    active, form = facts(base, product.actives[number])
    counted = counted_rate(active_amount(product, number, rate, "catalog.0").quantity, active, form)
    assert counted is not None, f"{product.name}: {active.id}"
    return counted


def broadcast(product: Product, base: KnowledgeBase) -> Iterator[tuple[LabelRate, Turf]]:
    """Each broadcast line with each turf that it names."""
    for line in product.rates:
        if line.purpose != "spot":
            yield from ((line, base.turf[turf]) for turf in line.turf)


def test_the_shelf_is_long_enough() -> None:
    assert len(HERBICIDES) >= 28
    assert all(product.basis == "invented" for product in SHELF)


def test_names_and_numbers_belong_to_the_invented_county() -> None:
    assert len({name.casefold() for name in NAMES}) == len(NAMES)
    for name in NAMES:
        place, *words = name.split()
        assert place in PLACES, name
        assert words, name
        assert set(words) <= set(WORDS.split()), name
    numbers = [product.registration for product in SHELF]
    assert len(set(numbers)) == len(numbers)
    # No registration scheme has such numbers: letters of the county, then a running number.
    assert all(number.startswith("LKM-") and number[4:].isdigit() for number in numbers)


def test_the_file_is_written_as_the_shelf_writes_it() -> None:
    assert FILE.read_bytes().decode("utf-8") == write_csv(SHELF)


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_every_id_exists(base: KnowledgeBase, product: Product) -> None:
    assert not faults_of(base, product)
    for part in product.actives:
        facts(base, part)
        assert part.form is not None
    assert set(product.site_uses or ()) <= set(base.sites)
    assert product.turf
    assert set(product.turf) <= set(base.turf)
    for line in product.rates:
        assert line.turf == ("all",) or set(line.turf) <= set(base.turf)
    assert {said.id for said in product.adjuvants} <= set(base.adjuvants)


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_a_label_names_a_rate_for_each_turf_it_allows_and_for_no_other(product: Product) -> None:
    named = {turf for line in product.rates if line.purpose != "spot" for turf in line.turf}
    assert named == set(product.turf or ())


def kinds_of(product: Product) -> set[str]:
    """Kinds that a demo shelf must show, by what the label says."""
    actives = {part.active for part in product.actives}
    purposes = {line.purpose for line in product.rates}
    found = {f"{len(actives)}-way" if len(actives) > 1 else "single"}
    found |= {f"{len(actives)}-way with {active}" for active in ("sulfentrazone", "quinclorac") if active in actives}
    if not actives & {"sulfentrazone", "quinclorac"}:
        found.add(f"{len(actives)}-way without")
    if "preemergence" in purposes:
        found.add("preemergence granule" if product.granular else "preemergence spray")
    if product.granular and "fertilizer" in product.granule_carrier:
        found.add("on fertilizer")
    if "spot" in purposes:
        found.add("spot")
    return found


def test_every_kind_is_there(base: KnowledgeBase) -> None:
    kinds = set().union(*(kinds_of(product) for product in HERBICIDES))
    assert kinds >= {
        "single",
        "2-way without",
        "3-way without",
        "4-way without",
        "3-way with quinclorac",
        "4-way with quinclorac",
        "4-way with sulfentrazone",
        "preemergence spray",
        "preemergence granule",
        "on fertilizer",
        "spot",
    }
    warm = [p for p in HERBICIDES if all(base.turf[turf].season == "warm-season" for turf in p.turf or ())]
    assert len(warm) >= 4
    sedge = {"sulfentrazone", "halosulfuron-methyl"}
    assert sum(len(p.actives) == 1 and p.actives[0].active in sedge for p in HERBICIDES) >= 2
    assert any(not base.actives[part.active].selective for p in HERBICIDES for part in p.actives)
    assert {product.adjuvant for product in SHELF if product.kind == "adjuvant"} >= {"nis", "mso", "coc", "ams"}


def test_every_state_of_a_shelf_is_there() -> None:
    expired = [p for p in SHELF if p.expiry is not None and p.expiry.isoformat() < "2026-11-25"]
    untold = [p for p in SHELF if p.stock is None]
    empty = [p for p in SHELF if p.stock is not None and p.stock.value == 0]
    unpriced = [p for p in SHELF if any(pack.price is None for pack in p.packs)]
    for state in (expired, untold, empty, unpriced):
        assert len(state) == 1
        assert "on purpose" in state[0].notes or "so that this state is seen" in state[0].notes


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_the_content_fits_into_the_liquid(base: KnowledgeBase, product: Product) -> None:
    if not product.liquid:
        assert all(part.content.unit == "% w/w" for part in product.actives)
        return
    assert product.density is not None
    held = 0.0
    for part in product.actives:
        _, form = facts(base, part)
        # The acid weighs less than the salt or ester that carries it.
        held += part.content.quantity.base / (form.ae_factor or 1.0)
    assert held <= MOST_ACTIVE_SHARE * product.density.quantity.base


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_rates_stay_within_the_label_and_what_is_known(base: KnowledgeBase, product: Product) -> None:
    declared = CONTRADICTS in product.notes
    assert product.max_per_application is not None
    for line, turf in broadcast(product, base):
        assert line.high.quantity.base <= product.max_per_application.quantity.base * ROUNDING
        for number, part in enumerate(product.actives):
            active, _ = facts(base, part)
            low = delivered(base, product, number, line.low.quantity)
            for limit, site in itertools.product(active.limits, product.site_uses or ()):
                speaks = applies_to_turf(limit.turf, turf) >= 0 and (not limit.site_uses or site in limit.site_uses)
                if speaks and limit.single_max is not None:
                    assert low.base <= limit.single_max.base * ROUNDING, f"{active.id} on {turf.id}, {site}"
            usual = rate_for(active, turf, line.purpose)
            if usual is None:
                assert declared
            else:
                assert usual.low.base <= low.base * ROUNDING, f"{active.id} on {turf.id}"
                high = delivered(base, product, number, line.high.quantity)
                assert high.base <= usual.high.base * ROUNDING, f"{active.id} on {turf.id}"


@pytest.mark.parametrize("product", SHELF, ids=lambda product: product.name)
def test_a_contradiction_stands_only_where_it_is_declared(base: KnowledgeBase, product: Product) -> None:
    found = contradictions(base, product)
    assert bool(found) == (CONTRADICTS in product.notes), [item.text for item in found]


@pytest.mark.parametrize(("name", "field"), [("Mistlewick Thistle", "site_uses"), ("Linnetby Bright", "turf")])
def test_what_a_label_contradicts(base: KnowledgeBase, name: str, field: str) -> None:
    assert {item.path for item in contradictions(base, by_name(name))} == {field}


def test_two_labels_contradict_and_three_are_stricter() -> None:
    assert sum(CONTRADICTS in product.notes for product in SHELF) == 2
    assert sum(STRICTER in product.notes for product in SHELF) == 3


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_a_stricter_label_is_stricter(base: KnowledgeBase, product: Product) -> None:
    if STRICTER not in product.notes:
        return
    ceilings, waits = [], []
    for part in product.actives:
        active, form = facts(base, part)
        turf = [base.turf[name] for name in product.turf or ()]
        ceilings += [
            rule.max_f
            for rule in active.air_temperature
            if rule.outcome == "stop"
            and rule.max_f is not None
            and any(applies_to_turf(rule.turf, item) >= 0 for item in turf)
        ]
        ceilings += [form.max_air_f] if form.max_air_f is not None else []
        waits += [
            rule.days
            for rule in active.seeding_interval
            if rule.days is not None and any(applies_to_turf(rule.turf, item) >= 0 for item in turf)
        ]
    assert product.max_air_f is not None
    assert product.max_air_f < min(ceilings)
    if product.seeding_interval_days is not None and "before seeding" in product.notes:
        assert product.seeding_interval_days > max(waits)


def test_strong_oil_never_meets_sulfentrazone_and_goes_with_crabgrass_specialists() -> None:
    # Common practice, no source: oil beside sulfentrazone burns turf; quinclorac and topramezone alone want it.
    for product in HERBICIDES:
        uses = {said.id: said.use for said in product.adjuvants}
        actives = {part.active for part in product.actives}
        if "sulfentrazone" in actives:
            assert uses["mso"] == uses["coc"] == "forbidden", product.name
        if actives in ({"quinclorac"}, {"topramezone"}):
            assert uses["mso"] == "required", product.name


@pytest.mark.parametrize("product", HERBICIDES, ids=lambda product: product.name)
def test_a_thousand_square_feet_cost_what_a_trade_may_pay(product: Product) -> None:
    # From a nickel to fifteen dollars of product on 1,000 ft2 at the highest rate: common practice, no source.
    most = max((line.high.quantity for line in product.rates if line.purpose != "spot"), key=lambda rate: rate.base)
    per_1000_ft2 = most.base * HECTARE_PER_ACRE * 1000 / FT2_PER_ACRE
    for pack in product.packs:
        if pack.price is not None:
            assert 0.05 <= pack.price * per_1000_ft2 / pack.size.quantity.base <= 15.0
