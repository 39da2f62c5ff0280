"""Which programs pass: the boolean arrays against every rule asked of every program, one by one."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.engine.describe import program_name, sprays_of
from app.engine.errors import InputError
from app.engine.screening import screen
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from tests.engine.reference import Listing, program_key, stops

Make = Callable[..., Situation]

PLACES: list[dict[str, Any]] = [
    {"targets": [{"weed": "dandelion"}, {"weed": "white-clover"}]},
    {"targets": [{"weed": "smooth-crabgrass", "stage": "not-emerged"}], "date": "2027-04-10"},
    {"targets": [{"weed": "smooth-crabgrass"}, {"weed": "yellow-nutsedge"}], "date": "2027-06-20", "forecast": {}},
    {
        "targets": [{"weed": "goosegrass"}, {"weed": "henbit"}],
        "turf": ["common-bermudagrass"],
        "zone": "warm-humid",
        "date": "2027-03-01",
        "turf_condition": {"stand": "established"},
    },
    {
        "targets": [{"weed": "dandelion"}, {"weed": "annual-bluegrass"}],
        "turf": ["kentucky-bluegrass", "fine-fescue"],
        "forecast": {"max_temp_f": 86, "max_temp_next_3_days_f": 91},
        "surroundings": ["tree-roots", "surface-water"],
    },
    {
        "targets": [{"weed": "dandelion"}, {"weed": "ground-ivy"}],
        "turf_condition": {"stand": "seedling", "mowings_since_emergence": 4, "green_up": "active", "stress": "none"},
        "applied_this_year": [{"date": "2027-05-05", "active": "2-4-d", "rate": {"value": 1.5, "unit": "lb ae/acre"}}],
        "local_rules": [{"kind": "ban-active", "active": "dicamba"}, {"kind": "ban-form", "form": "triclopyr-bee"}],
    },
]


def small(base: KnowledgeBase, keys: set[str]) -> KnowledgeBase:
    """The base with these actives alone."""
    mixtures = {
        key: mixture
        for key, mixture in base.mixtures.items()
        if {part.active for rate in mixture.rates for part in rate.parts} <= keys
    }
    return replace(base, actives={k: v for k, v in base.actives.items() if k in keys}, mixtures=mixtures)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("place", range(len(PLACES)))
def test_what_passes_is_what_the_rules_let_pass_one_by_one(
    base: KnowledgeBase, situation: Make, place: int, seed: int
) -> None:
    """All that is surely worth listing is there, and nothing that a rule stops or that is worth nothing."""
    random_ = random.Random(100 * place + seed)
    told = situation(**PLACES[place])
    told_of = {r.active for t in told.targets for r in base.weeds[t.weed].responses}
    named = {past.active for past in told.applied_this_year} | {r.active for r in told.local_rules if r.active}
    named |= {key for rule in told.local_rules if rule.form and (key := base.form_owner(rule.form))}
    made = small(base, named | set(random_.sample(sorted(told_of), 7)))
    options = {"max_products": random_.choice([1, 2, 3]), "max_applications": random_.choice([1, 2])}
    options["adjuvants"] = random_.random() < 0.8
    understood = understand(told.model_copy(update={"options": type(told.options)(**options)}), made)
    screened = screen(made, understood)
    fast = [program_key(sprays_of(screened, place)) for place in range(len(screened.programs))]
    assert len(fast) == len(set(fast))
    floor, partner_floor = made.parameter("activity-floor"), made.parameter("partner-floor")
    sure = {program_key(sprays) for sprays in Listing(made, understood, floor, partner_floor).programs()}
    possible = {program_key(sprays) for sprays in Listing(made, understood, floor, 0.0).programs()}
    assert sure - set(fast) == set()
    assert set(fast) - possible == set()


@pytest.mark.parametrize(
    "changes",
    [
        {"turf_condition": {"stand": "established", "seeding_planned": "2027-05-20"}},
        {"local_rules": [{"kind": "closed-season", "from": "2027-05-01", "to": "2027-06-30"}]},
    ],
    ids=["seeding", "closed-season"],
)
def test_rules_of_dates_hold_on_the_day_of_the_second_application(
    base: KnowledgeBase, situation: Make, changes: dict[str, Any]
) -> None:
    targets = [{"weed": "smooth-crabgrass", "stage": "not-emerged"}]
    keys = {"prodiamine", "dithiopyr", "mesotrione", "quinclorac", "siduron", "fenoxaprop-p", "topramezone"}
    made = small(base, keys)
    understood = understand(situation(targets=targets, date="2027-04-10", **changes), made)
    screened = screen(made, understood)
    fast = {program_key(sprays_of(screened, place)) for place in range(len(screened.programs))}
    floor, partner_floor = made.parameter("activity-floor"), made.parameter("partner-floor")
    sure = {program_key(sprays) for sprays in Listing(made, understood, floor, partner_floor).programs()}
    assert sure - fast == set()
    for place in range(len(screened.programs)):
        sprays = sprays_of(screened, place)
        found = stops(made, understood, sprays)
        assert found == [], (program_name(sprays, made), [f.sentence(made) for f in found])


def test_a_program_holds_at_most_the_products_asked_for(base: KnowledgeBase, situation: Make) -> None:
    for most in (1, 2, 3):
        told = situation(options={"max_products": most}, targets=[{"weed": "dandelion"}, {"weed": "white-clover"}])
        screened = screen(base, understand(told, base))
        assert screened.programs.products.max() == most


def test_one_application_where_one_is_asked_for(base: KnowledgeBase, situation: Make) -> None:
    once = screen(base, understand(situation(options={"max_applications": 1}), base))
    twice = screen(base, understand(situation(options={"max_applications": 2}), base))
    assert not once.programs.twice.any()
    assert twice.programs.twice.any()
    assert (~twice.programs.twice).sum() == len(once.programs)


def test_no_adjuvant_where_none_is_asked_for(base: KnowledgeBase, situation: Make) -> None:
    screened = screen(base, understand(situation(options={"adjuvants": False}), base))
    assert screened.tables.adjuvants == ("none",)
    assert len(screened.programs)


def test_only_the_actives_asked_for(base: KnowledgeBase, situation: Make) -> None:
    only = frozenset({"triclopyr", "2-4-d"})
    screened = screen(base, understand(situation(), base), only=only)
    assert {screened.actives_of(place) for place in range(len(screened.programs))} == {only}


def test_a_shelf_that_is_not_there_is_said(base: KnowledgeBase, situation: Make) -> None:
    with pytest.raises(InputError, match=r"^catalog: no shelf"):
        screen(base, understand(situation(catalog="shelf"), base))
