"""Sides compared: the figures are those of a stated program, and no sentence says more than they do."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.engine.errors import InputError
from app.engine.expect import expect
from app.engine.output import Control, as_json
from app.engine.side_by_side import side_by_side
from app.engine.sides import ComparedSide, SideBySide, SideBySideRequest
from app.engine.situation import ExpectRequest
from app.engine.standing import standing_of
from app.engine.wording import listed
from knowledge.base import KnowledgeBase
from tests.conftest import plain

TARGETS = [
    {"weed": "ground-ivy", "stage": "vegetative"},
    {"weed": "dandelion", "stage": "vegetative"},
    {"weed": "prostrate-knotweed", "stage": "vegetative"},
    {"weed": "wild-violet", "stage": "vegetative"},
]


def active(key: str, value: float, unit: str = "lb ae/acre", form: str | None = None) -> dict[str, Any]:
    return {"active": key, "form": form, "rate": {"value": value, "unit": unit}}


DICAMBA = {"name": "Dicamba alone", "actives": [active("dicamba", 0.25, form="dicamba-dma")]}
TRICLOPYR = {"name": "Triclopyr alone", "actives": [active("triclopyr", 0.75, form="triclopyr-tea")]}
QUINCLORAC = {"name": "Quinclorac alone", "actives": [active("quinclorac", 0.75)]}
SULFENTRAZONE = {"name": "Sulfentrazone alone", "actives": [active("sulfentrazone", 0.25, "lb ai/acre")]}
THREE_WAY = {"name": "Three-way", "mixture": "2-4-d-mecoprop-p-dicamba"}
TWO_WAY = {"name": "Two-way", "mixture": "2-4-d-triclopyr"}


def product(name: str, *parts: tuple[str, str, float], **label: Any) -> dict[str, Any]:
    actives = [{"active": a, "form": f, "content": {"value": v, "unit": "lb ae/gal"}} for a, f, v in parts]
    return {"name": name, "formulation": "SL", "actives": actives, "basis": "invented", **label}


def rates(low: float, high: float, *turf: str, purpose: str = "postemergence") -> dict[str, Any]:
    ends = {key: {"value": value, "unit": "pt/acre"} for key, value in (("low", low), ("high", high))}
    return {"turf": list(turf) or ["all"], "purpose": purpose, **ends}


IVY = product(
    "Larkmere Ivy",
    ("2-4-d", "2-4-d-dma", 2.0),
    ("triclopyr", "triclopyr-tea", 1.0),
    rates=[rates(3.0, 4.0, "cool-season")],
    packs=[{"size": {"value": 2.5, "unit": "gal"}, "price": 150.0}],
)
OLD = product(
    "Larkmere Old",
    ("2-4-d", "2-4-d-dma", 2.0),
    ("dicamba", "dicamba-dma", 0.4),
    rates=[rates(3.0, 4.0, "cool-season")],
    packs=[{"size": {"value": 2.5, "unit": "gal"}, "price": 100.0}],
)


def compared(base: KnowledgeBase, *sides: dict[str, Any], days: int | None = None, **changes: Any) -> SideBySide:
    told = {"situation": plain(**{"targets": TARGETS, **changes}), "sides": list(sides), "days_after": days}
    return side_by_side(base, SideBySideRequest.model_validate(told))


def codes(answer: SideBySide) -> list[str]:
    return [difference.code for difference in answer.differences]


def texts(answer: SideBySide, code: str) -> list[str]:
    return [difference.text for difference in answer.differences if difference.code == code]


@pytest.mark.parametrize(
    ("side", "tank"),
    [
        (DICAMBA, DICAMBA["actives"]),
        ({**TRICLOPYR, "adjuvant": {"id": "nis"}}, TRICLOPYR["actives"]),
        ({**TRICLOPYR, "applications": 2, "interval_days": 35}, TRICLOPYR["actives"]),
        (
            {"products": [{"product": OLD, "rate": {"value": 4.0, "unit": "pt/acre"}}]},
            [active("2-4-d", 1.0, form="2-4-d-dma"), active("dicamba", 0.2, form="dicamba-dma")],
        ),
    ],
)
@pytest.mark.parametrize("days", [None, 21])
def test_the_figures_are_those_of_the_stated_program(
    base: KnowledgeBase, side: dict[str, Any], tank: Any, days: int | None
) -> None:
    answer = compared(base, side, QUINCLORAC, days=days)
    passes = [0, side["interval_days"]] if side.get("applications") == 2 else [0]
    applications = [{"day": day, "actives": tank, "adjuvant": side.get("adjuvant")} for day in passes]
    request = {"situation": plain(targets=TARGETS), "program": {"applications": applications}, "days_after": days}
    alone = expect(base, ExpectRequest.model_validate(request))
    shown = answer.sides[0]
    assert [c.likely for c in shown.control] == pytest.approx([c.likely for c in alone.control], abs=0.1)
    assert [c.low for c in shown.control] == pytest.approx([c.low for c in alone.control], abs=0.1)
    assert [c.days_after for c in shown.control] == [c.days_after for c in alone.control]
    assert [t.likely_pct for t in shown.turf_injury] == pytest.approx(
        [t.likely_pct for t in alone.turf_injury], abs=0.1
    )
    assert [stop.code for stop in shown.stops] == [stop.code for stop in alone.stops]
    if "products" not in side:
        assert shown.control == alone.control
        assert (shown.stops, shown.cautions) == (alone.stops, alone.cautions)


def test_a_standard_mixture_is_compared_as_it_is_ranked(base: KnowledgeBase) -> None:
    side = compared(base, THREE_WAY, TWO_WAY).sides[0]
    told = [(part.active, part.rate.value, part.rate.unit) for part in side.parts()]
    assert told == [
        ("2-4-d", 1.0, "lb ae/acre"),
        ("mecoprop-p", 0.27, "lb ae/acre"),
        ("dicamba", 0.1, "lb ae/acre"),
    ]
    assert side.groups == (4,)


def test_overlap_is_true_of_the_bands(base: KnowledgeBase) -> None:
    answer = compared(base, DICAMBA, TRICLOPYR, QUINCLORAC, SULFENTRAZONE)
    sides = {side.number: side for side in answer.sides}
    assert len(answer.overlaps) == len(TARGETS) * 6
    seen = set()
    for item in answer.overlaps:
        t = [target["weed"] for target in TARGETS].index(item.weed)
        one, other = sides[item.first].control[t], sides[item.second].control[t]
        assert item.overlap == (max(one.low, other.low) <= min(one.high, other.high))  # type: ignore[type-var]
        assert item.difference == pytest.approx(one.likely - other.likely, abs=0.05)  # type: ignore[operator]
        assert (item.standing == "apart") == (not item.overlap)
        seen.add(item.standing)
    assert seen == {"apart", "likely", "equal"}


def _control(low: float | None, likely: float | None, high: float | None) -> Control:
    told: dict[str, Any] = {"weed": "w", "name": "w", "stage": "s", "days_after": 28, "basis": None}
    return Control(**told, low=low, likely=likely, high=high, parts=(), sources=(), text="")


@pytest.mark.parametrize(
    ("one", "other", "standing"),
    [
        ((10, 20, 30), (30.1, 50, 70), "apart"),
        ((10, 20, 30), (30.0, 50, 70), "likely"),
        ((40, 60, 80), (50, 70, 85), "equal"),
        ((40, 60, 80), (40, 60, 80), "equal"),
        ((None, None, None), (40, 60, 80), "unknown"),
    ],
)
def test_standing_by_bands(one: tuple[Any, ...], other: tuple[Any, ...], standing: str) -> None:
    assert standing_of(_control(*one), _control(*other)) == standing
    assert standing_of(_control(*other), _control(*one)) == standing


BANDS = st.tuples(*(st.floats(0.1, 99.9) for _ in range(3))).map(sorted)


@settings(deadline=None)
@given(BANDS, BANDS)
def test_bands_apart_are_never_called_equal(one: list[float], other: list[float]) -> None:
    apart = one[2] < other[0] or other[2] < one[0]
    assert (standing_of(_control(*one), _control(*other)) == "apart") == apart


def test_bands_that_overlap_little_differ_likely(base: KnowledgeBase) -> None:
    answer = compared(base, THREE_WAY, TWO_WAY)
    item = next(o for o in answer.overlaps if o.weed == "wild-violet")
    assert (item.overlap, item.standing) == (True, "likely")
    less, more = (side.control[3].likely for side in answer.sides)
    assert texts(answer, "control-likely") == [
        f"On wild violet Two-way likely does more than Three-way: likely {more:.0f} against {less:.0f} % control; "
        "the bands overlap, so some sites will show no difference."
    ]


def test_what_overlaps_is_told_as_equal(base: KnowledgeBase) -> None:
    answer = compared(base, DICAMBA, TRICLOPYR)
    equal = [o.weed for o in answer.overlaps if o.standing == "equal"]
    assert equal
    (told,) = [d for d in answer.differences if d.code == "no-clear-difference"]
    assert list(told.weeds) == equal
    assert "treat as equal" in told.text
    better = {weed for d in answer.differences if d.code in ("control", "control-likely") for weed in d.weeds}
    assert not better & set(equal)


def _renumbered(answer: SideBySide, of: dict[int, int]) -> set[tuple[str, str, tuple[int, ...]]]:
    return {(d.code, d.text, tuple(sorted(of[n] for n in d.sides))) for d in answer.differences}


@pytest.mark.parametrize(("one", "other"), list(combinations((DICAMBA, TRICLOPYR, THREE_WAY, SULFENTRAZONE), 2)))
def test_swapped_sides_mirror_figures_and_verdict(base: KnowledgeBase, one: Any, other: Any) -> None:
    answer, mirrored = compared(base, one, other), compared(base, other, one)
    assert codes(answer) == codes(mirrored)
    for mine, theirs in zip(answer.overlaps, mirrored.overlaps, strict=True):
        assert (mine.overlap, mine.standing) == (theirs.overlap, theirs.standing)
        assert mine.difference == pytest.approx(-theirs.difference)  # type: ignore[operator]
    for first, second in ((answer.sides[0], mirrored.sides[1]), (answer.sides[1], mirrored.sides[0])):
        assert first.model_dump(exclude={"number"}) == second.model_dump(exclude={"number"})
    # Who does better is said of the same side, whichever stands first.
    for code in ("control", "control-likely", "soil-movement", "symptoms", "vapour", "seeding", "injury"):
        assert texts(answer, code) == texts(mirrored, code)
    ours, theirs_ = (" ".join(texts(a, "carries")) for a in (answer, mirrored))
    assert _figures(ours) == _figures(theirs_)
    assert ("better on" in ours) == ("weaker on" in theirs_)


def _figures(text: str) -> list[str]:
    return sorted(re.findall(r"\d+ %|group \d+", text))


def test_the_order_of_four_sides_changes_no_figure(base: KnowledgeBase) -> None:
    sides = (DICAMBA, TRICLOPYR, QUINCLORAC, SULFENTRAZONE)
    plain_figures = None
    for order in list(permutations(sides))[::7]:
        answer = compared(base, *order)
        found = {side.name: side.model_dump(exclude={"number"}) for side in answer.sides}
        plain_figures = plain_figures or found
        assert found == plain_figures


def test_the_same_side_twice_differs_in_nothing(base: KnowledgeBase) -> None:
    answer = compared(base, {**DICAMBA, "name": "One"}, {**DICAMBA, "name": "Other"})
    assert codes(answer) == ["no-clear-difference"]
    assert "No difference that matters was found." in answer.verdict
    assert {o.difference for o in answer.overlaps} == {0.0}


def test_equal_input_gives_equal_bytes(base: KnowledgeBase) -> None:
    assert as_json(compared(base, DICAMBA, THREE_WAY)) == as_json(compared(base, DICAMBA, THREE_WAY))


@pytest.mark.parametrize("order", [(DICAMBA, QUINCLORAC), (QUINCLORAC, DICAMBA)])
def test_a_stopped_side_never_wins(base: KnowledgeBase, order: Any) -> None:
    # Dicamba does more on knotweed, but may not be sprayed over roots of trees.
    free = compared(base, *order)
    assert any("Dicamba alone does clearly more" in text for text in texts(free, "control"))
    answer = compared(base, *order, surroundings=["tree-roots"])
    stopped = next(side for side in answer.sides if side.label == "Dicamba alone")
    assert stopped.stops
    assert codes(answer)[0] == "stopped"
    assert answer.differences[0].text.startswith("Dicamba alone may not be used here: ")
    assert "Dicamba alone may not be used here: " in answer.verdict
    assert "Only Quinclorac alone passes every stop here" in answer.verdict
    assert not {"control", "control-likely", "no-clear-difference", "other-weeds", "symptoms"} & set(codes(answer))
    said = " ".join((*texts(answer, "carries"), *(o.text for o in answer.overlaps)))
    assert "better" not in said
    assert "above" not in said


def test_of_three_the_open_ones_are_compared(base: KnowledgeBase) -> None:
    answer = compared(base, DICAMBA, TRICLOPYR, QUINCLORAC, surroundings=["tree-roots"])
    winners = {d.text.split(" does ")[0].rpartition("Triclopyr")[1] for d in answer.differences if d.code == "control"}
    assert winners == {"Triclopyr"}
    assert all(1 not in d.sides for d in answer.differences if d.code in ("control", "no-clear-difference"))


def test_none_may_be_used(base: KnowledgeBase) -> None:
    answer = compared(base, DICAMBA, THREE_WAY, surroundings=["tree-roots"])
    assert "None of them may be used here." in answer.verdict


def test_unknown_control_is_said(base: KnowledgeBase) -> None:
    weed = base.weeds["ground-ivy"]
    records = tuple(r for r in weed.responses if r.active != "triclopyr")
    made = replace(base, weeds={**base.weeds, "ground-ivy": weed.model_copy(update={"responses": records})})
    answer = compared(made, DICAMBA, TRICLOPYR)
    assert answer.sides[1].control[0].likely is None
    (item,) = [o for o in answer.overlaps if o.weed == "ground-ivy"]
    assert (item.overlap, item.difference, item.standing) == (None, None, "unknown")
    assert "no figure for Triclopyr alone" in item.text
    (text,) = texts(answer, "unknown")
    assert "On ground ivy nothing is known of Triclopyr alone" in text
    assert text in answer.verdict
    assert any("no record of triclopyr on ground ivy" in said for said in texts(answer, "carries"))
    assert not any("ground ivy" in said for said in texts(answer, "control"))


@pytest.mark.parametrize(("field", "code"), [("soil", "soil-movement"), ("seeding_interval", "seeding")])
def test_an_unknown_property_is_never_the_better_one(base: KnowledgeBase, field: str, code: str) -> None:
    told = base.actives["triclopyr"].model_copy(update={field: None if field == "soil" else ()})
    answer = compared(replace(base, actives={**base.actives, "triclopyr": told}), DICAMBA, TRICLOPYR)
    (text,) = texts(answer, code)
    assert "not recorded for triclopyr, so unknown" in text
    assert "sooner" not in text
    assert "less" not in text.lower()


def test_symptoms_that_are_not_recorded_are_never_sooner(base: KnowledgeBase) -> None:
    told = base.actives["sulfentrazone"].model_copy(update={"symptoms": None})
    answer = compared(replace(base, actives={**base.actives, "sulfentrazone": told}), SULFENTRAZONE, QUINCLORAC)
    assert texts(answer, "symptoms") == []
    assert answer.sides[0].symptoms.unknown_of == ("sulfentrazone",)


def test_a_missing_ceiling_is_no_freedom(base: KnowledgeBase) -> None:
    changes = {
        "air_temperature": (),
        "forms": tuple(f.model_copy(update={"max_air_f": None}) for f in base.actives["triclopyr"].forms),
    }
    told = base.actives["triclopyr"].model_copy(update=changes)
    turf = base.turf["tall-fescue"]
    records = tuple(t.model_copy(update={"max_air_f": None}) if t.active == "triclopyr" else t for t in turf.tolerance)
    made = replace(
        base,
        actives={**base.actives, "triclopyr": told},
        turf={**base.turf, "tall-fescue": turf.model_copy(update={"tolerance": records})},
    )
    (text,) = texts(compared(made, DICAMBA, TRICLOPYR), "heat")
    assert "Triclopyr alone no ceiling on record, which does not make heat safe" in text


@pytest.mark.parametrize(("gap", "told"), [(9.0, False), (60.0, True)])
def test_thresholds_are_facts(base: KnowledgeBase, gap: float, told: bool) -> None:
    # Dicamba and triclopyr lie some 14 points apart on knotweed.
    fact = base.parameters["side-active-points"].model_copy(update={"value": gap})
    answer = compared(replace(base, parameters={**base.parameters, "side-active-points": fact}), DICAMBA, TRICLOPYR)
    assert ("much the same on ground ivy, dandelion, prostrate knotweed" in texts(answer, "carries")[0]) == told


def test_actives_are_paired_by_family_then_mechanism(base: KnowledgeBase) -> None:
    one = {
        "name": "One",
        "actives": [active("mcpa", 0.75), active("dicamba", 0.1), active("sulfentrazone", 0.2, "lb ai/acre")],
    }
    other = {"name": "Other", "actives": [active("2-4-d", 1.0), active("triclopyr", 0.5)]}
    answer = compared(base, one, other)
    first, second = texts(answer, "carries")
    # Both phenoxy-carboxylates; then both auxin mimics.
    assert first.startswith("One carries MCPA where Other carries 2,4-D")
    assert second.startswith("One carries dicamba where Other carries triclopyr")
    assert texts(answer, "also-carries")[0].startswith("One also carries sulfentrazone (group 14), Other nothing")
    assert any(
        text.startswith("Mechanisms: One two mechanisms (groups 4 and 14)") for text in texts(answer, "mechanisms")
    )


def test_rates_of_the_label_are_taken_at_their_ends(base: KnowledgeBase) -> None:
    found = [
        compared(base, {"products": [{"product": IVY, "at": at}]}, DICAMBA).sides[0].composition[0].rate
        for at in ("low", "middle", "high")
    ]
    assert [(amount.value, amount.unit) for amount in found if amount] == [
        (3.0, "pt/acre"),
        (3.5, "pt/acre"),
        (4.0, "pt/acre"),
    ]


def test_a_product_shows_content_and_rate_in_its_own_counting(base: KnowledgeBase) -> None:
    shown = compared(base, {"products": [{"product": IVY, "at": "high"}]}, DICAMBA).sides[0].composition[0]
    assert (shown.product, shown.formulation) == ("Larkmere Ivy", "SL")
    told = [(a.active, a.content.value, a.content.unit, a.rate.value, a.rate.unit) for a in shown.actives if a.content]
    # 4 pt is half a gallon.
    assert told == [
        ("2-4-d", 2.0, "lb ae/gal", 1.0, "lb ae/acre"),
        ("triclopyr", 1.0, "lb ae/gal", 0.5, "lb ae/acre"),
    ]
    assert [a.movement for a in shown.actives] == ["phloem", "phloem"]
    assert shown.actives[0].mechanism == "auxin mimic"


def test_cost_is_reckoned_from_the_cheapest_pack(base: KnowledgeBase) -> None:
    sides = [{"products": [{"product": p, "at": "high"}]} for p in (IVY, OLD)]
    answer = compared(base, *sides)
    # Half a gallon an acre at 60 and at 40 a gallon; 43.56 thousands of square feet an acre.
    assert [side.cost.per_acre for side in answer.sides] == [30.0, 20.0]
    assert [side.cost.per_1000_ft2 for side in answer.sides] == [round(30 / 43.56, 2), round(20 / 43.56, 2)]
    assert texts(answer, "cost")[0].startswith("Larkmere Old costs less: 0.46 USD per 1000 ft2 against 0.69")


def test_a_cost_that_is_not_known_is_said(base: KnowledgeBase) -> None:
    unpriced = {**IVY, "packs": []}
    answer = compared(
        base, {"products": [{"product": unpriced, "at": "low"}]}, {"products": [{"product": OLD, "at": "low"}]}
    )
    assert answer.sides[0].cost.per_1000_ft2 is None
    (text,) = texts(answer, "cost")
    assert text == "The cost cannot be compared: Larkmere Ivy (no price of Larkmere Ivy)."


def test_labels_bind_as_stops(base: KnowledgeBase) -> None:
    barred = {**IVY, "site_uses": ["sports-turf"], "rates": [rates(3.0, 4.0, "kentucky-bluegrass")], "max_air_f": 70}
    answer = compared(base, {"products": [{"product": barred, "at": "high"}]}, DICAMBA)
    assert {"label-site", "label-rate", "label-temperature"} <= {stop.code for stop in answer.sides[0].stops}
    assert answer.sides[0].warmest().by == "label"  # type: ignore[union-attr]
    assert any(bar.by == "label" for bar in answer.sides[0].sites_barred)


def test_a_mixture_barred_on_the_site_is_stopped(base: KnowledgeBase) -> None:
    granule = {"mixture": "bensulide-oxadiazon"}
    told = {"turf": ["creeping-bentgrass"], "targets": [{"weed": "goosegrass", "stage": "not-emerged"}]}
    answer = compared(base, granule, {"actives": [active("bensulide", 7.5, "lb ai/acre")]}, **told, date="2027-04-01")
    assert "site-use" in {stop.code for stop in answer.sides[0].stops}


def test_limits_are_the_strictest_of_the_parts(base: KnowledgeBase) -> None:
    side = compared(base, THREE_WAY, SULFENTRAZONE).sides[0]
    warmest = side.warmest()
    assert warmest is not None
    assert warmest.degrees_f == min(t.degrees_f for t in side.temperature if t.bound == "max" and t.outcome == "stop")
    assert warmest.of == "dicamba"
    assert (side.tree_root_risk.level, side.tree_root_risk.of) == ("high", ("dicamba",))
    waits = [record.days for a in side.actives for record in base.actives[a].seeding_interval if record.days]
    assert side.seeding_wait.amount is not None
    assert side.seeding_wait.amount.value <= max(waits)
    hours = [base.actives[a].rainfast_hours for a in side.actives]
    assert side.rainfast.amount is not None
    assert side.rainfast.amount.value == max(hour.value for hour in hours if hour is not None)


def test_every_source_named_is_listed(base: KnowledgeBase) -> None:
    answer = compared(base, THREE_WAY, TWO_WAY, SULFENTRAZONE)
    named = {source for d in answer.differences for source in d.sources}
    assert named
    assert named <= set(answer.sources)
    for side in answer.sides:
        assert {s for c in side.control for s in c.sources} <= set(answer.sources)


def test_letters_stand_where_names_are_missing(base: KnowledgeBase) -> None:
    answer = compared(base, {"actives": DICAMBA["actives"]}, {"actives": TRICLOPYR["actives"]})
    assert [side.label for side in answer.sides] == ["A", "B"]
    assert [side.name for side in answer.sides] == ["dicamba", "triclopyr"]
    products = [{"products": [{"product": p, "at": "low"}]} for p in (IVY, OLD)]
    assert [side.label for side in compared(base, *products).sides] == ["Larkmere Ivy", "Larkmere Old"]


def test_the_usual_interval_waits_as_long_as_the_label(base: KnowledgeBase) -> None:
    slow = {**IVY, "min_interval_days": 42}
    answer = compared(base, {"products": [{"product": slow, "at": "low"}], "applications": 2}, DICAMBA)
    assert (answer.sides[0].passes, answer.sides[0].interval_days) == (2, 42)
    assert texts(answer, "passes") == ["Passes: Larkmere Ivy twice, 42 days apart; Dicamba alone once."]


@pytest.mark.parametrize(
    ("side", "path"),
    [
        ({"products": [{"id": "larkmere-ivy", "at": "low"}]}, "sides.0.products.0.id"),
        ({"mixture": "2-4-d-nothing"}, "sides.0.mixture"),
        ({"mixture": "bensulide-oxadiazon"}, "sides.0.mixture"),
        ({"actives": [active("dicambo", 0.2)]}, "sides.0.actives.0.active"),
        ({"actives": [active("dicamba", 0.2, "fl oz/acre")]}, "sides.0.actives.0.rate.unit"),
        ({"products": [{"product": IVY, "at": "low"}, {"product": OLD, "at": "low"}]}, "sides.0.products"),
        (
            {"products": [{"product": {**IVY, "rates": [rates(3, 4, purpose="spot")]}, "at": "low"}]},
            "sides.0.products.0.at",
        ),
    ],
)
def test_what_cannot_be_compared_is_refused_by_its_field(base: KnowledgeBase, side: dict[str, Any], path: str) -> None:
    with pytest.raises(InputError) as refused:
        compared(base, side, DICAMBA)
    assert [fault.path for fault in refused.value.faults] == [path]


GRANULE = {
    "name": "Larkmere Feed",
    "formulation": "G",
    "actives": [{"active": "dithiopyr", "content": {"value": 0.1, "unit": "% w/w"}}],
    "rate": {"value": 150, "unit": "lb/acre"},
}


def test_a_granule_takes_no_adjuvant_and_no_tank(base: KnowledgeBase) -> None:
    for changes in ({"adjuvant": {"id": "nis"}}, {"products": [{"product": GRANULE}, {"product": IVY, "at": "low"}]}):
        with pytest.raises(InputError):
            compared(base, {"products": [{"product": GRANULE}], **changes}, DICAMBA)
    side = compared(base, {"products": [{"product": GRANULE}]}, DICAMBA).sides[0]
    assert side.carrier_floor.text == "spread dry, without water"


@pytest.mark.parametrize(
    "side",
    [
        {},
        {"mixture": "2-4-d-triclopyr", "actives": DICAMBA["actives"]},
        {"actives": [active("dicamba", 0.2), active("dicamba", 0.1)]},
        {"mixture": "2-4-d-triclopyr", "interval_days": 28},
        {"products": [{"product": IVY}]},
        {"products": [{"product": IVY, "at": "low", "rate": {"value": 3, "unit": "pt/acre"}}]},
        {"products": [{"product": IVY, "rate": {"value": 3, "unit": "oz/acre"}}]},
        {"products": [{"product": IVY, "id": "larkmere-ivy", "at": "low"}]},
        {"products": [{"id": "larkmere-ivy"}]},
        {"products": [{"product": GRANULE, "at": "low"}]},
        {"products": [{"product": {"name": "Wet", "kind": "adjuvant", "formulation": "SL", "adjuvant": "nis"}}]},
    ],
)
def test_a_side_that_is_unclear_is_refused(side: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        SideBySideRequest.model_validate({"situation": plain(), "sides": [side, DICAMBA]})


@pytest.mark.parametrize("count", [1, 5])
def test_two_to_four_sides_are_compared(count: int) -> None:
    with pytest.raises(ValidationError):
        SideBySideRequest.model_validate({"situation": plain(), "sides": [DICAMBA] * count})


def test_sentences_are_plain(base: KnowledgeBase) -> None:
    answer = compared(base, THREE_WAY, TWO_WAY, SULFENTRAZONE, {**TRICLOPYR, "applications": 2})
    for difference in answer.differences:
        assert difference.text.endswith(".")
        assert "{" not in difference.text
        assert "None" not in difference.text
        assert "  " not in difference.text
        assert set(difference.sides) <= {1, 2, 3, 4}


def test_lists_are_joined_in_words() -> None:
    assert [listed([]), listed(["a"]), listed(["a", "b"]), listed("abc")] == ["", "a", "a and b", "a, b and c"]


def test_a_side_answers_by_name(base: KnowledgeBase) -> None:
    side: ComparedSide = compared(base, DICAMBA, TRICLOPYR).sides[0]
    assert side.warmest("caution") is None or side.warmest("caution").degrees_f <= 90  # type: ignore[union-attr]
