"""Doses: acid equivalent and active ingredient, usual rates by turf, stated rates and inline products."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.engine.doses import (
    active_amount,
    counted_rate,
    delivered,
    form_named,
    mixture_doses,
    product_doses,
    single_doses,
    stated_dose,
)
from app.engine.errors import InputError
from app.engine.measures import Rate
from app.engine.product import Product
from app.engine.rules import Question, ask
from app.engine.situation import Situation
from app.engine.understood import Understood, understand
from knowledge.base import KnowledgeBase, rate_for
from knowledge.quantities import Quantity, parse_quantity
from tests.engine.made import fact, with_active

Make = Callable[..., Situation]
GRAMS = 1120.8511561


def _understood(base: KnowledgeBase, make: Make, **changes: Any) -> Understood:
    return understand(make(**changes), base)


def test_a_salt_is_counted_as_its_acid(base: KnowledgeBase) -> None:
    active = base.actives["2-4-d"]
    for form in active.forms:
        assert form.ae_factor is not None
        counted = counted_rate(parse_quantity("2.0 lb ai/acre"), active, form)
        assert counted is not None
        assert counted.unit == "lb ae/acre"
        assert counted.value == pytest.approx(2.0 * form.ae_factor, rel=1e-9)


def test_a_rate_in_the_own_counting_stays_as_it_is(base: KnowledgeBase) -> None:
    active = base.actives["2-4-d"]
    told = parse_quantity("1.0 kg ae/ha")
    assert counted_rate(told, active, active.forms[0]) == told


def test_an_active_without_salts_weighs_the_same_in_both(base: KnowledgeBase) -> None:
    active = base.actives["prodiamine"]
    assert active.rate_basis == "ai"
    counted = counted_rate(parse_quantity("0.65 lb ae/acre"), active, active.forms[0])
    assert counted is not None
    assert counted.base == pytest.approx(0.65 * GRAMS)
    assert counted.unit == "lb ai/acre"


def test_a_form_without_a_factor_is_not_guessed_at(base: KnowledgeBase) -> None:
    made = with_active(base, rate_basis="ai")
    salt = made.actives["2-4-d"].forms[0]
    assert salt.ae_factor is not None
    back = counted_rate(parse_quantity("1.0 lb ae/acre"), made.actives["2-4-d"], salt)
    assert back is not None
    # A rate that counts active ingredient of something sold as a salt means the acid: common practice, no source.
    assert back.value == pytest.approx(1.0)
    blank = salt.model_copy(update={"ae_factor": None})
    assert counted_rate(parse_quantity("1.0 lb ae/acre"), made.actives["2-4-d"], blank) is None


def test_the_salt_of_an_active_counted_as_ingredient_is_counted_as_its_acid(base: KnowledgeBase) -> None:
    # 64 fl oz (half a gallon) of 1.5 lb ae/gal bring 0.75 lb: arithmetic, and so does the same weight of salt.
    active = base.actives["quinclorac"]
    form = form_named(active, "quinclorac-dma")
    assert form is not None
    assert form.ae_factor is not None
    told = _product((64, "fl oz/acre"), (1.5, "lb ae/gal"))
    part = told.actives[0].model_copy(update={"active": "quinclorac", "form": "quinclorac-dma"})
    liquid = told.model_copy(update={"actives": (part,)})
    brought = delivered(liquid, 0, parse_quantity("64 fl oz/acre"), active, form)
    assert brought is not None
    assert brought.to("lb ai/acre").value == pytest.approx(0.75)
    weighed = _product((1.0, "lb/acre"), (100 * 0.75 / form.ae_factor, "% w/w"), formulation="SG")
    part = weighed.actives[0].model_copy(update={"active": "quinclorac", "form": "quinclorac-dma"})
    brought = delivered(weighed.model_copy(update={"actives": (part,)}), 0, parse_quantity("1 lb/acre"), active, form)
    assert brought is not None
    assert brought.to("lb ai/acre").value == pytest.approx(0.75)


@pytest.mark.parametrize("text", ["1 qt/acre", "1 lb/acre", "1 gal"])
def test_a_rate_of_product_is_no_rate_of_active(base: KnowledgeBase, text: str) -> None:
    active = base.actives["2-4-d"]
    assert counted_rate(parse_quantity(text), active, active.forms[0]) is None


def test_forms_by_name(base: KnowledgeBase) -> None:
    active = base.actives["triclopyr"]
    assert form_named(active, None) is active.forms[0]
    assert form_named(active, "triclopyr-bee") is next(f for f in active.forms if f.id == "triclopyr-bee")
    assert form_named(active, "2-4-d-dma") is None


def test_single_doses_are_at_the_rates_of_the_turf(base: KnowledgeBase, situation: Make) -> None:
    understood = _understood(base, situation)
    doses = list(single_doses(base, understood))
    assert {dose.active.id for dose in doses} == {key for key, active in base.actives.items() if active.rates}
    for dose in doses:
        rate = rate_for(dose.active, understood.turf[0], str(dose.timing))
        assert dose.usual == rate
        if rate is None:
            assert dose.rate.base == min(r.usual.base for r in dose.active.rates if r.timing == dose.timing)
        elif dose.level == "partner":
            assert dose.rate == rate.partner
        else:
            assert dose.rate in (rate.usual, rate.high)
            assert dose.level != "alone" or dose.rate == rate.usual
    for active in base.actives.values():
        offered = {dose.form.id for dose in doses if dose.active.id == active.id}
        assert offered == ({form.id for form in active.forms} if active.rates else set())


def test_two_turfs_get_the_lower_rate(base: KnowledgeBase, situation: Make) -> None:
    pair = ["tall-fescue", "common-bermudagrass"]
    for turf in (pair, pair[::-1]):
        understood = _understood(base, situation, turf=turf, zone="transition")
        (dose,) = [
            d
            for d in single_doses(base, understood)
            if d.active.id == "2-4-d" and d.form.id == "2-4-d-dma" and d.level == "alone"
        ]
        each = [rate_for(base.actives["2-4-d"], base.turf[t], "postemergence") for t in pair]
        assert dose.rate.base == min(r.usual.base for r in each if r is not None)


def test_a_turf_without_a_rate_leaves_none(base: KnowledgeBase, situation: Make) -> None:
    here = fact(
        turf=["tall-fescue"],
        timing="postemergence",
        low="0.5 lb ae/acre",
        usual="1.0 lb ae/acre",
        high="1.5 lb ae/acre",
    )
    made = with_active(base, rates=[here])
    for turf, known in ((["tall-fescue"], True), (["fine-fescue"], False), (["tall-fescue", "fine-fescue"], False)):
        doses = [d for d in single_doses(made, _understood(made, situation, turf=turf)) if d.active.id == "2-4-d"]
        assert doses
        assert all((dose.usual is not None) == known for dose in doses)


@pytest.mark.parametrize("turf", [["tall-fescue", "common-bermudagrass"], ["common-bermudagrass", "tall-fescue"]])
@pytest.mark.parametrize("usual", ["0.75 lb ae/acre", "0.5 lb ae/acre"])
@pytest.mark.parametrize(("rate", "stopped"), [(1.0, False), (1.01, True)])
def test_a_stated_rate_is_bound_by_every_turf(
    base: KnowledgeBase, situation: Make, turf: list[str], usual: str, rate: float, stopped: bool
) -> None:
    """The ceiling is the lowest of the turfs' ceilings, whichever is named first or has the lower usual rate."""
    rates = [
        fact(turf=[name], timing="postemergence", low="0.25 lb ae/acre", usual=mean, high=high)
        for name, mean, high in (
            ("common-bermudagrass", "0.5 lb ae/acre", "1.5 lb ae/acre"),
            ("tall-fescue", usual, "1.0 lb ae/acre"),
        )
    ]
    made = with_active(base, rates=rates)
    understood = _understood(made, situation, turf=turf, zone="transition")
    dose = stated_dose(made, understood, "2-4-d", None, Rate(value=rate, unit="lb ae/acre"), "here")
    found = ask(Question(made, understood, dose), "dose")
    assert ("single-rate" in {f.code for f in found if f.outcome == "stop"}) == stopped


@pytest.mark.parametrize("turf", [["tall-fescue", "common-bermudagrass"], ["common-bermudagrass", "tall-fescue"]])
def test_no_proposed_dose_is_above_the_rates_of_any_turf(base: KnowledgeBase, situation: Make, turf: list[str]) -> None:
    understood = _understood(base, situation, turf=turf, zone="transition")
    for dose in single_doses(base, understood):
        each = [rate_for(dose.active, grass, str(dose.timing)) for grass in understood.turf]
        highs = [rate.high.base for rate in each if rate is not None]
        if len(highs) == len(turf):
            assert dose.rate.base <= min(highs) * (1 + 1e-9), (dose.active.id, dose.level)


def test_a_turf_that_takes_an_active_up_to_a_rate_is_offered_it_at_that_rate(
    base: KnowledgeBase, situation: Make
) -> None:
    """A ceiling of the turf lowers the rate that is proposed; it does not take the active away."""
    lost = []
    for turf in base.turf.values():
        understood = _understood(base, situation, turf=[turf.id], targets=[{"weed": "dandelion"}])
        doses = list(single_doses(base, understood))
        for record in turf.tolerance:
            if record.max_rate is None or record.tolerance not in ("T", "I"):
                continue
            offered = [d for d in doses if d.active.id == record.active and d.level == "alone" and d.usual is not None]
            if offered and not record.site_uses and min(d.rate.base for d in offered) > record.max_rate.base * 1.001:
                lost.append((turf.id, record.active, str(record.max_rate), str(offered[0].rate)))
    assert lost == []


def test_mixtures_have_a_composition_on_every_turf(base: KnowledgeBase, situation: Make) -> None:
    seen = 0
    for turf in (["tall-fescue"], ["tall-fescue", "st-augustinegrass"], ["creeping-bentgrass"]):
        understood = _understood(base, situation, turf=turf, zone="transition")
        for key, doses in mixture_doses(base, understood):
            seen += 1
            rates = base.mixtures[key].rates
            assert tuple((d.active.id, d.rate) for d in doses) in [
                tuple((p.active, p.rate) for p in r.parts) for r in rates
            ]
            assert {dose.level for dose in doses} == {"mixture"}
    assert seen


def test_a_mixture_barred_from_the_site_is_not_offered(base: KnowledgeBase, situation: Make) -> None:
    understood = _understood(base, situation)
    offered = [key for key, _ in mixture_doses(base, understood)]
    first = base.mixtures[offered[0]].model_copy(update={"sites_barred": ("residential-lawn",)})
    made = replace(base, mixtures={**base.mixtures, first.id: first})
    assert [key for key, _ in mixture_doses(made, understood)] == offered[1:]


@pytest.mark.parametrize(
    ("active", "form", "unit", "path"),
    [
        ("2-4-dd", None, "lb ae/acre", "here.active"),
        ("2-4-d", "mcpa-dma", "lb ae/acre", "here.form"),
        ("2-4-d", None, "qt/acre", "here.rate.unit"),
    ],
)
def test_a_stated_dose_names_its_fault(
    base: KnowledgeBase, situation: Make, active: str, form: str | None, unit: str, path: str
) -> None:
    with pytest.raises(InputError) as caught:
        stated_dose(base, _understood(base, situation), active, form, Rate(value=1, unit=unit), "here")
    assert [fault.path for fault in caught.value.faults] == [path]


def _product(rate: tuple[float, str], content: tuple[float, str], **more: Any) -> Product:
    part = {"active": "2-4-d", "form": "2-4-d-dma", "content": {"value": content[0], "unit": content[1]}}
    told = {"name": "Larkmere Plain", "formulation": "SL", "actives": [part], **more}
    return Product.model_validate({**told, "rate": {"value": rate[0], "unit": rate[1]}})


@pytest.mark.parametrize(
    ("product", "pounds"),
    [
        (_product((1, "qt/acre"), (3.8, "lb ae/gal")), 0.95),
        (_product((1.1, "fl oz/1000 ft2"), (3.8, "lb ae/gal")), 1.1 * 43.56 / 128 * 3.8),
        (_product((2, "L/ha"), (480, "g ae/L")), 960 / GRAMS),
        (_product((1, "qt/acre"), (4.0, "lb ai/gal")), 0.8306),
        (_product((2.0, "lb/acre"), (50, "% w/w")), 0.8306),
        (_product((1.0, "gal/acre"), (20, "% w/w"), density={"value": 9.5, "unit": "lb/gal"}), 1.9 * 0.8306),
    ],
)
def test_what_a_product_delivers(base: KnowledgeBase, situation: Make, product: Product, pounds: float) -> None:
    ((dose,),) = (offer.doses for offer in product_doses(base, _understood(base, situation), [product]))
    factor = base.actives["2-4-d"].forms[0].ae_factor
    assert factor == pytest.approx(0.8306)
    assert dose.rate.base / GRAMS == pytest.approx(pounds, rel=1e-6)
    # Sentences set it beside a ceiling in pounds an acre.
    assert dose.rate.unit == "lb ae/acre"
    assert dose.level == "product"


@pytest.mark.parametrize(
    ("product", "path"),
    [
        (_product((2, "lb/acre"), (3.8, "lb ae/gal")), "catalog.0.rate.unit"),
        (_product((1, "qt/acre"), (46, "% w/w")), "catalog.0.density"),
        (_product((1, "lb ae/acre"), (46, "% w/w")), "catalog.0.rate.unit"),
    ],
)
def test_units_that_do_not_fit_are_named(base: KnowledgeBase, situation: Make, product: Product, path: str) -> None:
    with pytest.raises(InputError) as caught:
        product_doses(base, _understood(base, situation), [product])
    assert [fault.path for fault in caught.value.faults] == [path]


def test_an_unknown_active_of_a_product_is_named_with_its_place(base: KnowledgeBase, situation: Make) -> None:
    good = _product((1, "qt/acre"), (3.8, "lb ae/gal"))
    part = good.actives[0].model_copy(update={"active": "2-4-t"})
    bad = good.model_copy(update={"actives": (part,)})
    with pytest.raises(InputError) as caught:
        product_doses(base, _understood(base, situation), [good, bad])
    assert [fault.path for fault in caught.value.faults] == ["catalog.1.actives.0.active"]


@pytest.mark.parametrize("rate", [1e6, 1e-323])
def test_an_amount_that_nobody_sprays_is_a_fault_and_no_crash(rate: float) -> None:
    content = {"value": 4 if rate > 1 else 1e-9, "unit": "lb ae/gal"}
    told = {"name": "Slip", "formulation": "SL", "actives": [{"active": "2-4-d", "content": content}]}
    product = Product.model_validate({**told, "rate": {"value": 1, "unit": "gal/acre"}})
    with pytest.raises(InputError, match="nobody sprays"):
        active_amount(product, 0, Quantity(rate, "gal/acre"), "catalog.0")
