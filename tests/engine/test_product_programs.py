"""Ranking products: every tank of them, whole label rates, stops, cost and what is turned down. Invented products."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from app.engine.catalog import MAX_PARTS, NO_DOSE, ProductChoice, active_bits, enumerate_product_tanks
from app.engine.doses import product_doses
from app.engine.errors import InputError
from app.engine.output import Recommendation, as_json
from app.engine.product import Product
from app.engine.recommend import recommend
from app.engine.screening import screen
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase, rate_for
from knowledge.quantities import Quantity, parse_quantity

Make = Callable[..., Situation]


def amount(text: str) -> dict[str, Any]:
    found = parse_quantity(text)
    return {"value": found.value, "unit": found.unit}


def made(
    name: str, *actives: str, rates: str = "1 to 2 qt/acre", price: float | None = 50, **told: Any
) -> dict[str, Any]:
    """A product as data; actives are written ``2-4-d as 2-4-d-dma 4 lb ae/gal``."""
    parts = []
    for active in actives:
        words = active.split()
        form = words[2] if words[1] == "as" else None
        content = " ".join(words[3:] if form else words[1:])
        parts.append({"active": words[0], "form": form, "content": amount(content)})
    low, _, high = rates.partition(" to ")
    unit = high.split(" ", 1)[1]
    line = {"turf": ["all"], "low": amount(f"{low} {unit}"), "high": amount(high)}
    packs = [{"size": amount("1 gal"), "price": price}]
    return {"name": name, "formulation": "SL", "actives": parts, "rates": [line], "packs": packs, **told}


AMINE = "triclopyr as triclopyr-tea 3 lb ae/gal"
TRIAD = (
    "2-4-d as 2-4-d-dma 3 lb ae/gal",
    "mecoprop-p as mecoprop-p-dma 0.8 lb ae/gal",
    "dicamba as dicamba-dma 0.3 lb ae/gal",
)
SHELF = [
    made("Fennick Amine", AMINE, rates="0.5 to 1 qt/acre", price=150),
    made("Fennick Ester", "triclopyr as triclopyr-bee 4 lb ae/gal", rates="0.5 to 1 qt/acre", max_air_f=80),
    made("Larkmere Triad", *TRIAD, rates="1 to 1.25 qt/acre"),
    made("Marl Sulf", "sulfentrazone 4 lb ai/gal", rates="4 to 8 fl oz/acre", price=400, formulation="SC"),
    made("Marl Fluro", "fluroxypyr as fluroxypyr-meptyl 1.5 lb ae/gal", rates="0.5 to 1.3 pt/acre", formulation="EC"),
]


def ranked(base: KnowledgeBase, situation: Make, products: list[dict[str, Any]], **told: Any) -> Recommendation:
    return recommend(base, situation(catalog="shelf", **told), [Product.model_validate(p) for p in products])


def test_tanks_are_those_of_brute_force(base: KnowledgeBase, situation: Make) -> None:
    products = [Product.model_validate(p) for p in SHELF]
    offers = product_doses(base, understand(situation(), base), products)
    doses, choices, start = [], [], 0
    for offer in offers:
        parts = tuple(range(start, start + len(offer.doses)))
        doses += offer.doses
        choices.append(ProductChoice(offer.product.name, parts, parts))
        start += len(parts)
    sharing = [dose.product is not None and dose.product.product.name != "Marl Sulf" for dose in doses]
    wanted = set()
    for size in (1, 2, 3):
        for chosen in combinations(choices, size):
            parts = tuple(d for c in chosen for d in c.alone)
            actives = [doses[d].active.id for d in parts]
            if len(set(actives)) < len(actives) or len(parts) > MAX_PARTS:
                continue
            if size == 1 or all(sharing[d] for d in parts):
                wanted.add((frozenset(parts), size))
    tanks = enumerate_product_tanks(doses, choices, 3, sharing)
    found = [
        (frozenset(int(d) for d in row if d != NO_DOSE), int(n))
        for row, n in zip(tanks.doses, tanks.products, strict=True)
    ]
    assert len(found) == len(set(found))
    assert set(found) == wanted


def test_bits_tell_shared_actives_beyond_one_word(base: KnowledgeBase, situation: Make) -> None:
    parts = [Product.model_validate(made(f"Larkmere {key}", f"{key} 1 lb ai/gal")) for key in sorted(base.actives)]
    offers = product_doses(base, understand(situation(), base), parts)
    doses = [offer.doses[0] for offer in offers] * 2
    rows = np.full((len(doses), MAX_PARTS), NO_DOSE)
    rows[:, 0] = np.arange(len(doses))
    bits = active_bits(doses, rows)
    for i in range(0, len(doses), 17):
        for j in range(0, len(doses), 13):
            same = doses[i].active.id == doses[j].active.id
            assert bool((bits[i] & bits[j]).any()) == same


def test_rates_are_those_of_the_label(base: KnowledgeBase, situation: Make) -> None:
    answer = ranked(base, situation, SHELF)
    assert answer.ranked
    for program in answer.ranked:
        for application in program.applications:
            for product in application.products:
                assert product.rate is not None
                told = next(p for p in SHELF if p["name"] == product.product)
                (line,) = told["rates"]
                low, high = (Quantity(line[end]["value"], line[end]["unit"]) for end in ("low", "high"))
                given = Quantity(product.rate.value, product.rate.unit).to(low.unit).value
                middle = (low.value + high.value) / 2
                assert min(abs(given - x) for x in (low.value, middle, high.value)) < 1e-9


def test_a_products_actives_stay_together(base: KnowledgeBase, situation: Make) -> None:
    answer = ranked(base, situation, SHELF, targets=[{"weed": "dandelion", "stage": "vegetative"}], options={"top": 20})
    triads = [p for a in answer.ranked for x in a.applications for p in x.products if p.product == "Larkmere Triad"]
    assert triads
    for product in triads:
        assert [a.active for a in product.actives] == ["2-4-d", "mecoprop-p", "dicamba"]
        assert product.rate is not None
        quarts = Quantity(product.rate.value, product.rate.unit).to("qt/acre").value
        # Pounds an acre are quarts times content by four.
        for active, content in zip(product.actives, (3, 0.8, 0.3), strict=True):
            assert active.rate.value == pytest.approx(quarts * content / 4, rel=1e-3)


def test_a_line_before_emergence_is_held_against_the_rates_of_that_use(base: KnowledgeBase, situation: Make) -> None:
    turf = base.turf["tall-fescue"]
    both = next(a for a in base.actives.values() if len(a.timing) == 2 and all(rate_for(a, turf, t) for t in a.timing))
    told = made("Marl Both", f"{both.id} 1 lb {both.rate_basis}/gal")
    for purpose in both.timing:
        line = {**told["rates"][0], "purpose": purpose}
        product = Product.model_validate({**told, "rates": [line]})
        doses = [d for o in product_doses(base, understand(situation(), base), [product]) for d in o.doses]
        assert {dose.timing for dose in doses} == {purpose}
        assert {dose.usual.timing for dose in doses if dose.usual is not None} == {purpose}


def test_two_mixtures_may_share_a_tank(base: KnowledgeBase, situation: Make) -> None:
    pair = made("Fennick Pair", AMINE, "fluroxypyr as fluroxypyr-meptyl 0.5 lb ae/gal", rates="0.5 to 0.8 qt/acre")
    products = tuple(Product.model_validate(p) for p in (SHELF[2], pair))
    understood = understand(
        situation(catalog="shelf", targets=[{"weed": "dandelion", "stage": "vegetative"}]), base, products
    )
    found = screen(base, understood)
    sets = {found.actives_of(place) for place in range(len(found.programs))}
    assert frozenset({"2-4-d", "mecoprop-p", "dicamba", "triclopyr", "fluroxypyr"}) in sets


def test_a_label_stop_turns_the_product_down_by_name(base: KnowledgeBase, situation: Make) -> None:
    hot = {"forecast": {"max_temp_f": 82, "max_temp_next_3_days_f": 82, "rain_free_hours": 24}}
    answer = ranked(base, situation, SHELF, **hot)
    (down,) = [item for item in answer.turned_down if item.product == "Fennick Ester"]
    assert down.actives == ("triclopyr",)
    assert "label-temperature" in {stop.code for stop in down.stops}
    assert all("Fennick Ester" not in program.name for program in answer.ranked)
    cool = {"forecast": {"max_temp_f": 70, "max_temp_next_3_days_f": 75, "rain_free_hours": 24}}
    assert "Fennick Ester" not in {item.product for item in ranked(base, situation, SHELF, **cool).turned_down}


@pytest.mark.parametrize(
    "told",
    [
        {"site_uses": ["golf-rough"]},
        {"turf": ["warm-season"]},
        {"max_per_application": amount("0.1 qt/acre")},
        {"max_per_year": amount("0.1 qt/acre")},
        {"max_air_f": 50},
        {"adjuvants": [{"id": key, "use": "forbidden"} for key in ("none", "nis", "mso", "coc")]},
    ],
)
def test_what_the_label_bars_is_never_ranked(base: KnowledgeBase, situation: Make, told: dict[str, Any]) -> None:
    answer = ranked(base, situation, [{**SHELF[0], **told}])
    assert answer.ranked == ()
    (down,) = answer.turned_down
    assert down.product == "Fennick Amine"
    assert any(stop.code.startswith("label-") for stop in down.stops)


def test_a_stricter_label_never_adds_a_program(base: KnowledgeBase, situation: Make) -> None:
    def names(products: list[dict[str, Any]]) -> set[str]:
        shelf = tuple(Product.model_validate(p) for p in products)
        found = screen(base, understand(situation(catalog="shelf"), base, shelf))
        return {
            str(
                sorted(
                    (d.product.product.name, str(d.product.rate))
                    for d in map(found.catalog.doses.__getitem__, row)
                    if d.product
                )
            )
            for row in [[int(d) for d in r if d != NO_DOSE] for r in found.programs.first]
        }

    before = names(SHELF)
    for place in range(len(SHELF)):
        stricter = [*SHELF]
        stricter[place] = {**SHELF[place], "turf": ["warm-season"]}
        assert names(stricter) <= before
        assert not any(SHELF[place]["name"] in name for name in names(stricter))


def test_the_label_is_stricter_than_the_facts_or_the_facts_than_it(base: KnowledgeBase, situation: Make) -> None:
    lax = {**SHELF[1], "max_air_f": 110}
    hot = {"forecast": {"max_temp_f": 95, "max_temp_next_3_days_f": 95, "rain_free_hours": 24}}
    (down,) = ranked(base, situation, [lax], **hot).turned_down
    assert "volatility" in {stop.code for stop in down.stops}
    assert "label-temperature" not in {stop.code for stop in down.stops}


def test_a_required_adjuvant_goes_in(base: KnowledgeBase, situation: Make) -> None:
    wants = {**SHELF[0], "adjuvants": [{"id": "ams", "use": "required"}]}
    answer = ranked(base, situation, [wants])
    assert {a.adjuvant.id for p in answer.ranked for a in p.applications if a.adjuvant} == {"ams"}


def test_a_granule_stands_alone(base: KnowledgeBase, situation: Make) -> None:
    content = {"active": "penoxsulam", "form": None, "content": amount("0.02 % w/w")}
    grains = made("Marl Grains", formulation="G", rates="2 to 3 lb/1000 ft2", packs=[])
    answer = ranked(
        base,
        situation,
        [{**grains, "actives": [content]}, *SHELF],
        targets=[{"weed": "white-clover", "stage": "vegetative"}],
        carrier=amount("40 gal/acre"),
        options={"top": 50},
    )
    applications = [application for program in answer.ranked for application in program.applications]
    dry = [item for item in applications if "Marl Grains" in {product.product for product in item.products}]
    assert dry
    assert all(len(item.products) == 1 and item.adjuvant is None and item.carrier is None for item in dry)
    assert any(item.carrier is not None and len(item.products) > 1 for item in applications)


def test_the_cheaper_of_equals_stands_first(base: KnowledgeBase, situation: Make) -> None:
    dear, cheap = {**SHELF[0], "name": "Alder"}, {**SHELF[0], "name": "Zelkova"}
    dear["packs"], cheap["packs"] = ([{"size": amount("1 gal"), "price": price}] for price in (150, 100))
    answer = ranked(base, situation, [dear, cheap])
    assert answer.ranked[0].name.startswith("Zelkova")
    assert answer.ranked[0].cost.per_acre is not None
    no_price = {**cheap, "packs": []}
    assert ranked(base, situation, [dear, no_price]).ranked[0].name.startswith("Alder")


def test_an_empty_or_absent_shelf_is_said(base: KnowledgeBase, situation: Make) -> None:
    for shelf in (None, []):
        with pytest.raises(InputError) as caught:
            recommend(base, situation(catalog="shelf"), shelf)
        assert [fault.path for fault in caught.value.faults] == ["catalog"]


def test_equal_shelves_give_equal_answers(base: KnowledgeBase, situation: Make) -> None:
    assert as_json(ranked(base, situation, SHELF)) == as_json(ranked(base, situation, [*SHELF]))
