"""Tanks against brute force: every set of products that may share a tank, each once."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from itertools import combinations

import pytest

from app.engine.catalog import MAX_PARTS, NO_DOSE, ProductChoice, enumerate_tanks, mechanism_number, single_choices
from app.engine.doses import Dose, mixture_doses, single_doses
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase

Make = Callable[..., Situation]


def _slow_tanks(
    doses: Sequence[Dose],
    choices: Sequence[ProductChoice],
    usable: Sequence[bool],
    most: int,
    partners: frozenset[str],
) -> set[frozenset[int]]:
    """Every tank, set by set."""
    found = set()
    for size in range(1, most + 1):
        for chosen in combinations(choices, size):
            mixtures = [c for c in chosen if len(c.alone) > 1]
            if len(mixtures) > 1 or (mixtures and size > 2):
                continue
            singles = [c for c in chosen if len(c.alone) == 1]
            if size > 1 and any(doses[c.alone[0]].active.id not in partners for c in singles):
                continue
            actives = [doses[i].active.id for c in chosen for i in c.alone]
            if len(set(actives)) < len(actives):
                continue
            tank = {i for c in mixtures for i in c.alone}
            for single in singles:
                mine = doses[single.alone[0]].active.mechanism.group
                others = [
                    doses[i].active
                    for c in chosen
                    for i in c.alone
                    if doses[i].active.id != doses[single.alone[0]].active.id
                ]
                mate = any(other.mechanism.group == mine for other in others)
                tank.add((single.partner if mate else single.alone)[0])
            found.add(frozenset(tank))
    found |= {frozenset({i}) for i, dose in enumerate(doses) if dose.level == "high"}
    return {tank for tank in found if all(usable[i] for i in tank)}


@pytest.mark.parametrize("seed", range(25))
def test_tanks_are_those_of_brute_force(base: KnowledgeBase, situation: Make, seed: int) -> None:
    random_ = random.Random(seed)
    understood = understand(situation(), base)
    keys = set(random_.sample(sorted(base.actives), 5))
    doses = [dose for dose in single_doses(base, understood) if dose.active.id in keys]
    mixtures = []
    for key, parts in random_.sample(list(mixture_doses(base, understood)), 2):
        mixtures.append(ProductChoice(key, *(tuple(range(len(doses), len(doses) + len(parts))),) * 2))
        doses.extend(parts)
    usable = [random_.random() < 0.8 for _ in doses]
    choices = [
        *single_choices(doses, usable),
        *(choice for choice in mixtures if all(usable[i] for i in choice.alone)),
    ]
    partners = frozenset(random_.sample(sorted({d.active.id for d in doses}), 4))
    for most in (1, 2, 3):
        tanks = enumerate_tanks(doses, choices, usable, most, partners)
        rows = [frozenset(d for d in row if d != NO_DOSE) for row in tanks.doses.tolist()]
        assert len(rows) == len(set(rows))
        assert set(rows) == _slow_tanks(doses, choices, usable, most, partners)
        assert tanks.products.max(initial=0) <= most
        assert tanks.doses.shape == (len(tanks), MAX_PARTS)


def test_a_choice_stays_where_either_of_its_doses_may_go(base: KnowledgeBase, situation: Make) -> None:
    understood = understand(situation(), base)
    doses = [d for d in single_doses(base, understood) if d.form.id == "triclopyr-tea" and d.level != "high"]
    assert [dose.level for dose in doses] == ["alone", "partner"]
    for usable, count in (([True, True], 1), ([False, True], 1), ([True, False], 1), ([False, False], 0)):
        choices = single_choices(doses, usable)
        assert len(choices) == count
        assert all((c.alone, c.partner) == ((0,), (1,)) for c in choices)


def test_nothing_to_choose_from_gives_no_tank(base: KnowledgeBase, situation: Make) -> None:
    assert len(enumerate_tanks([], [], [], 3, frozenset())) == 0


def test_mechanisms_that_are_not_known_are_each_their_own(base: KnowledgeBase, situation: Make) -> None:
    understood = understand(situation(), base)
    doses = {dose.active.id: dose for dose in single_doses(base, understood)}
    numbers: dict[int, set[str]] = {}
    for key, dose in doses.items():
        group = dose.active.mechanism.group
        numbers.setdefault(mechanism_number(dose), set()).add(group if int(group) else f"unknown {key}")
    assert all(len(groups) == 1 for groups in numbers.values())
