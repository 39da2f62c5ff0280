"""What a rate of product delivers, against worked figures that handbooks and extension articles print.

Each row names its source and the basis of what is compared. Everything is reckoned by the one function
that the ranking and the mix card use. Printed figures are rounded; the tolerance is half of the last place
printed, or what the row says.
"""

from __future__ import annotations

from typing import Any

import pint
import pytest
from molmass import Formula

from app.engine.doses import active_amount, counted_rate
from app.engine.product import Product
from knowledge.base import KnowledgeBase
from knowledge.quantities import GRAM_PER_POUND, HECTARE_PER_ACRE, Quantity, parse_quantity

G_PER_HA_OF_A_POUND = GRAM_PER_POUND / HECTARE_PER_ACRE


def measure(text: str) -> dict[str, Any]:
    told = parse_quantity(text)
    return {"value": told.value, "unit": told.unit}


def made(active: str, content: str, rate: str, formulation: str = "SL", **more: Any) -> Product:
    """A product of one active at one rate."""
    part = {"active": active, "content": measure(content)}
    if "form" in more:
        part["form"] = more.pop("form")
    told = {"name": "a product", "formulation": formulation, "actives": [part], "rate": measure(rate), **more}
    return Product.model_validate(told)


def delivered(product: Product) -> Quantity:
    """The rate of the one active as it is written on the label: acid equivalent or active ingredient."""
    assert product.rate is not None
    return active_amount(product, 0, product.rate.quantity, "catalog.0").quantity


def pounds(product: Product) -> float:
    """Pounds of the active an acre."""
    rate = delivered(product)
    return rate.base / G_PER_HA_OF_A_POUND


# Pacific Northwest Pest Management Handbooks, Weights and measures: pints of liquid an acre by the pounds of
# active in a gallon and wanted on an acre. Published.
PINTS = [
    ("1 lb ai/gal", 0.5, 4.0),
    ("1 lb ai/gal", 1.0, 8.0),
    ("2 lb ai/gal", 0.5, 2.0),
    ("2 lb ai/gal", 1.0, 4.0),
    ("3 lb ai/gal", 1.0, 2.7),
    ("4 lb ai/gal", 1.0, 2.0),
    ("4 lb ai/gal", 1.5, 3.0),
    ("8 lb ai/gal", 1.0, 1.0),
]


@pytest.mark.parametrize(("content", "wanted", "pints"), PINTS)
def test_the_pints_a_handbook_prints_deliver_the_pounds_wanted(content: str, wanted: float, pints: float) -> None:
    # Printed to a tenth of a pint, so the pounds are right to a twentieth of a pint's worth.
    half_place = 0.05 / pints * wanted
    assert pounds(made("simazine", content, f"{pints} pt/acre", "SC")) == pytest.approx(wanted, abs=half_place)


# The same page: millilitres on 1,000 ft2 that bring 1 lb an acre, printed whole. Published.
MILLILITRES = [("1 lb ai/gal", 87), ("2 lb ai/gal", 43), ("4 lb ai/gal", 22)]


@pytest.mark.parametrize(("content", "millilitres"), MILLILITRES)
def test_the_millilitres_a_handbook_prints_deliver_a_pound(content: str, millilitres: int) -> None:
    # 1,000 ft2 are 92.90304 m2 exactly (international foot).
    per_100_m2 = millilitres * 100 / 92.90304
    product = made("simazine", content, f"{per_100_m2:.9f} mL/100 m2", "SC")
    assert pounds(product) == pytest.approx(1.0, abs=0.5 / millilitres)


# Pacific Northwest Weed Management Handbook, Chemical control of broadleaf weeds in turf: 2 to 4 pints an acre of
# a 4 lb/gal amine are 1 to 2 lb ae an acre. Published range; its pounds are arithmetic on it.
@pytest.mark.parametrize(("rate", "pounds_ae"), [("2 pt/acre", 1.0), ("4 pt/acre", 2.0)])
def test_pints_of_an_amine_in_acid_equivalent(base: KnowledgeBase, rate: str, pounds_ae: float) -> None:
    product = made("2-4-d", "4 lb ae/gal", rate, form="2-4-d-dma")
    assert delivered(product).dimension == "ae-rate"
    assert pounds(product) == pytest.approx(pounds_ae, rel=1e-9)
    # Counted as the acid already, so the salt's factor must not be taken off once more.
    active = base.actives["2-4-d"]
    form = next(form for form in active.forms if form.id == "2-4-d-dma")
    counted = counted_rate(delivered(product), active, form)
    assert counted is not None
    assert counted.to("lb ae/acre").value == pytest.approx(pounds_ae, rel=1e-9)


# Golf Course Management research article on seeded bermudagrass: 2.0 quarts of 4 lb/gal an acre (atrazine).
# Published rate; the 2 lb ai an acre are arithmetic.
def test_quarts_of_a_flowable() -> None:
    assert pounds(made("atrazine", "4 lb ai/gal", "2 qt/acre", "SC")) == pytest.approx(2.0, rel=1e-9)


# Recalled bensulide ceilings (US EPA 2000, from memory): a handbook's 6.25 gal/acre of a 4 lb/gal liquid is the
# year's 25 lb ai/acre.
def test_gallons_an_acre() -> None:
    assert pounds(made("bensulide", "4 lb ai/gal", "6.25 gal/acre", "EC")) == pytest.approx(25.0, rel=1e-9)


# Pacific Northwest Weed Management Handbook, Turfgrass: annual grass weeds: 80 lb an acre of a 12 percent granule at
# a time, at most 4.6 lb on 1,000 ft2 a year. Published; 9.6 and 24 lb ai an acre are arithmetic on it.
@pytest.mark.parametrize(("rate", "pounds_ai", "half_place"), [("80 lb/acre", 9.6, 1e-9), ("4.6 lb/1000 ft2", 24, 0.5)])
def test_pounds_of_a_granule(rate: str, pounds_ai: float, half_place: float) -> None:
    product = made("bensulide", "12 % w/w", rate, "G")
    assert pounds(product) == pytest.approx(pounds_ai, abs=half_place)


# Runsick 2020, University of Arkansas Baxter County Extension column: 0.25 to 0.5 oz of a 60 percent dry product are
# 0.15 to 0.30 oz ai an acre. Published.
@pytest.mark.parametrize(("product_oz", "active_oz"), [(0.25, 0.15), (0.5, 0.30)])
def test_ounces_of_a_dry_product(product_oz: float, active_oz: float) -> None:
    product = made("metsulfuron-methyl", "60 % w/w", f"{product_oz} oz/acre", "WG")
    assert delivered(product).to("oz ai/acre").value == pytest.approx(active_oz, rel=1e-9)


# Waltz and Murphy, Calibrate sprayer, University of Georgia extension news: 1.5 fl oz on 1,000 ft2 and 4.0 pt an acre
# stand side by side for one three-way mixture. Published; the round figure is 2 percent low, and so is its active.
def test_fluid_ounces_on_a_thousand_square_feet_beside_pints_an_acre() -> None:
    small, large = (made("2-4-d", "2 lb ae/gal", rate) for rate in ("1.5 fl oz/1000 ft2", "4 pt/acre"))
    assert pounds(small) / pounds(large) == pytest.approx(1.0, abs=0.025)
    assert pounds(small) > pounds(large)


# Rates and contents as labels write them, against pint, a general-purpose units library.
@pytest.mark.parametrize(
    ("content", "rate", "theirs"),
    [
        ("3.6 lb ae/gal", "1.1 fl oz/1000 ft2", "3.6 lb/US_liquid_gallon * 1.1 US_fluid_ounce / (1000 foot**2)"),
        ("431 g ae/L", "3.5 L/ha", "431 g/L * 3.5 L/hectare"),
        ("431 g ae/L", "35 mL/100 m2", "431 g/L * 35 mL / (100 m**2)"),
        ("3.6 lb ae/gal", "1.5 qt/acre", "3.6 lb/US_liquid_gallon * 1.5 US_liquid_quart / (43560 foot**2)"),
    ],
)
def test_a_rate_is_what_a_units_library_makes_of_it(content: str, rate: str, theirs: str) -> None:
    expected = pint.UnitRegistry().parse_expression(theirs).to("gram / hectare").magnitude
    assert delivered(made("2-4-d", content, rate)).base == pytest.approx(expected, rel=1e-9)


# A label may print the salt in % w/w; figures of our own: 46.5 % of the dimethylamine salt at 9.7 lb/gal.
# Molecular weights by molmass from the formulas of Tomlin (c. 2003), as in test_acid_equivalents.
def test_percent_of_salt_and_density_give_the_acid(base: KnowledgeBase) -> None:
    product = made("2-4-d", "46.5 % w/w", "1 gal/acre", form="2-4-d-dma", density=measure("9.7 lb/gal"))
    active = base.actives["2-4-d"]
    counted = counted_rate(delivered(product), active, active.forms[0])
    assert counted is not None
    acid, salt = Formula("C8H6Cl2O3").mass, Formula("C10H13Cl2NO3").mass
    assert counted.to("lb ae/acre").value == pytest.approx(9.7 * 0.465 * acid / salt, rel=1e-3)


# Each active of a mixture is measured by its own content: 3 pints of 2 + 1 + 0.4 lb ae a gallon, by hand.
@pytest.mark.parametrize(("number", "pounds_ae"), [(0, 0.75), (1, 0.375), (2, 0.15)])
def test_each_part_of_a_three_way_mixture(number: int, pounds_ae: float) -> None:
    contents = [("2-4-d", 2.0), ("mecoprop-p", 1.0), ("dicamba", 0.4)]
    actives = [{"active": active, "content": measure(f"{value} lb ae/gal")} for active, value in contents]
    told = {"name": "a mixture", "formulation": "SL", "actives": actives, "rate": measure("3 pt/acre")}
    product = Product.model_validate(told)
    amount = active_amount(product, number, parse_quantity("3 pt/acre"), "catalog.0")
    assert amount.quantity.to("lb ae/acre").value == pytest.approx(pounds_ae, rel=1e-9)


# A liquid rated by weight and a content by volume meet through the density: 10 lb/gal makes a gallon ten pounds.
def test_a_weight_of_a_liquid_needs_its_density() -> None:
    product = made("2-4-d", "4 lb ae/gal", "5 lb/acre", density=measure("10 lb/gal"))
    assert pounds(product) == pytest.approx(2.0, rel=1e-9)
