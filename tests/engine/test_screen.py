"""The arrays against a slow reckoning of one program at a time, written apart."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from app.engine.catalog import NO_DOSE
from app.engine.describe import sprays_of
from app.engine.responses import ControlFacts, Moment
from app.engine.screening import Screened, screen
from app.engine.situation import Situation
from app.engine.tables import regrowth_factor
from app.engine.understood import understand
from knowledge.base import KnowledgeBase

Make = Callable[..., Situation]
CASES: list[dict[str, Any]] = [
    {"targets": [{"weed": "wild-violet", "stage": "flowering"}]},
    {"targets": [{"weed": "dandelion", "stage": "vegetative"}, {"weed": "white-clover", "stage": "flowering"}]},
    {
        "targets": [{"weed": "smooth-crabgrass", "stage": "1-3-tiller"}],
        "turf": ["kentucky-bluegrass"],
        "date": "2027-06-25",
    },
]


def _sigmoid(x: float) -> float:
    return 1 / (1 + math.exp(-x)) if x > -700 else 0.0


def _slow_likely(screened: Screened, place: int, target_index: int) -> float:
    """Likely control of an emerged target by the program at a place, part by part."""
    base, understood = screened.base, screened.understood
    target = understood.targets[target_index]
    facts = ControlFacts(base, understood)
    rho = {item.group: item.rho for item in target.weed.mixture_rho}
    sprays = sprays_of(screened, place)
    gap = base.parameter("second-interval")
    surviving = 1.0
    for number, spray in enumerate(sprays):
        last = number == len(sprays) - 1
        days = base.parameter("horizon-emerged") if last else gap
        season = understood.season if number == 0 else understood.season_after(round(gap), base)
        moment = Moment(target.stage, season, days, weather_known=number == 0, survivors=number > 0)
        by_group: dict[str, list[float]] = {}
        for dose in spray.doses:
            mean = facts.cell(dose, target, moment, spray.adjuvant).mean
            if number > 0:
                whole_moment = Moment(target.stage, understood.season, days, weather_known=False)
                whole = facts.cell(dose, target, whole_moment, spray.adjuvant, applications=2)
                if whole.response is not None:
                    first_moment = Moment(target.stage, understood.season, gap)
                    first = _sigmoid(facts.cell(dose, target, first_moment, spray.adjuvant).mean)
                    left = min(1.0, (1 - first) * regrowth_factor(target.weed, gap, base))
                    share = min((1 - _sigmoid(whole.mean)) / left, 1.0)
                    mean = math.log((1 - share) / share) if share < 1 else -30.0
            for partner in spray.doses:
                for item in base.interactions.values():
                    if dose.active.id in item.actives and partner.active.id in item.partners:
                        named = item.weeds or item.life_forms
                        fits = not named or target.weed.id in item.weeds or target.weed.life_form in item.life_forms
                        if fits and (not item.stages or target.stage in item.stages) and not item.turf:
                            mean += item.shift
            by_group.setdefault(dose.active.mechanism.group, []).append(1 - _sigmoid(mean))
        tank = 1.0
        for group, left_alone in by_group.items():
            like = rho.get(group, base.parameter("rho-default"))
            tank *= like * min(left_alone) + (1 - like) * math.prod(left_alone)
        surviving = tank if number == 0 else min(1.0, surviving * regrowth_factor(target.weed, gap, base)) * tank
    return 100 * (1 - surviving)


@pytest.mark.parametrize("case", CASES)
def test_arrays_agree_with_a_slow_reckoning(base: KnowledgeBase, situation: Make, case: dict[str, Any]) -> None:
    screened = screen(base, understand(situation(**case), base))
    places = np.linspace(0, len(screened.programs) - 1, 120).astype(int)
    for place in places.tolist():
        for t in range(len(screened.understood.targets)):
            assert screened.band.likely[place, t] == pytest.approx(_slow_likely(screened, place, t), abs=1e-6)


def test_every_tank_up_to_three_is_there_once(base: KnowledgeBase, situation: Make) -> None:
    screened = screen(base, understand(situation(), base))
    rows = {
        (tuple(sorted(first)), tuple(sorted(second)), a, b)
        for first, second, a, b in zip(
            screened.programs.first.tolist(),
            screened.programs.second.tolist(),
            screened.programs.first_adjuvant.tolist(),
            screened.programs.second_adjuvant.tolist(),
            strict=True,
        )
    }
    assert len(rows) == len(screened.programs)
    for row in screened.programs.first.tolist():
        actives = [screened.catalog.doses[d].active.id for d in row if d != NO_DOSE]
        assert len(actives) == len(set(actives))


def test_fewer_products_give_a_part_of_the_programs(base: KnowledgeBase, situation: Make) -> None:
    def sets(most: int) -> set[frozenset[str]]:
        screened = screen(base, understand(situation(options={"max_products": most}), base))
        return {screened.actives_of(place) for place in range(len(screened.programs))}

    assert sets(1) < sets(2) <= sets(3)
