"""Which actives stand in each other's place on two sides, and what that does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.engine.side_properties import LEVELS
from app.engine.sides import ActiveCompared, ComparedSide, Difference
from app.engine.weighed import Weighed, difference
from app.engine.wording import listed
from knowledge.base import KnowledgeBase

Parts = Sequence[ActiveCompared]
ROOTS = "risk to tree roots through the soil"


def exchanged(first: ComparedSide, second: ComparedSide) -> tuple[list[tuple[Parts, Parts]], Parts, Parts]:
    """Actives that stand in each other's place, and those of either side that nothing stands against.

    Same mechanism and family first, then same mechanism, then whatever is left on both sides.
    """
    mine = [part for part in first.parts() if part.active not in second.actives]
    theirs = [part for part in second.parts() if part.active not in first.actives]
    found: list[tuple[Parts, Parts]] = []
    for alike in (_family, _mechanism, _any):
        for key in sorted({alike(part) for part in mine} & {alike(part) for part in theirs}):
            one, other = ([part for part in parts if alike(part) == key] for parts in (mine, theirs))
            found.append((one, other))
            mine = [part for part in mine if part not in one]
            theirs = [part for part in theirs if part not in other]
    return found, mine, theirs


def _family(part: ActiveCompared) -> tuple[str, str]:
    return part.group, part.family


def _mechanism(part: ActiveCompared) -> tuple[str, str]:
    return part.group, ""


def _any(_: ActiveCompared) -> tuple[str, str]:
    return "", ""


def carried_differences(weighed: Weighed, first: ComparedSide, second: ComparedSide) -> Iterator[Difference]:
    """Which active the one carries where the other does not, and what that does."""
    pairs, mine, theirs = exchanged(first, second)
    comparable = not first.stops and not second.stops
    for one, other in pairs:
        text = f"{first.label} carries {_named(one, other)} where {second.label} carries {_named(other, one)}"
        effects, weeds = _effects(weighed, first, one, second, other) if comparable else ([], [])
        text = f"{text}: {'; '.join(effects)}." if effects else f"{text}."
        sources = (*_part_sources(first, one), *_part_sources(second, other), *_soil_sources(weighed.base, one, other))
        yield difference("carries", text, (first, second), weeds, sources)
    for side, other_side, parts in ((first, second, mine), (second, first, theirs)):
        if parts:
            alone = "; ".join(_alone_words(weighed, side, part) for part in parts)
            text = f"{side.label} also carries {_named(parts, ())}, {other_side.label} nothing in its place: {alone}."
            yield difference("also-carries", text, (side, other_side), (), _part_sources(side, parts))


def _named(parts: Parts, others: Parts) -> str:
    """Actives by name, with the mechanism where it differs from those in their place."""
    same = {part.group for part in parts} == {part.group for part in others}
    return listed(part.name if same else f"{part.name} (group {part.group})" for part in parts)


def _alone(side: ComparedSide, parts: Parts, target: int) -> tuple[float, str] | None:
    """Likely control of a target by the best of these actives alone, and which it is; None where none is recorded."""
    ids = {part.active for part in parts}
    told = [(p.likely, p.name) for p in side.control[target].parts if p.active in ids and p.likely is not None]
    return max(told, default=None)


def _alone_words(weighed: Weighed, side: ComparedSide, part: ActiveCompared) -> str:
    """What one active does by itself on the weeds asked about, those on which it does something."""
    floor, some, none, unknown = weighed.base.parameter("activity-floor"), list[str](), list[str](), list[str]()
    for t, target in enumerate(weighed.understood.targets):
        alone, name = _alone(side, (part,), t), target.weed.name
        if alone is None:
            unknown.append(name)
        elif alone[0] >= floor:
            some.append(f"{alone[0]:.0f} % of {name}")
        else:
            none.append(name)
    told = [f"by itself likely {listed(some)}"] if some else []
    told += [f"next to nothing on {listed(none)}"] if none else []
    told += [f"no record on {listed(unknown)}"] if unknown else []
    return f"{part.name} {', '.join(told)}"


def _effects(
    weighed: Weighed, first: ComparedSide, one: Parts, second: ComparedSide, other: Parts
) -> tuple[list[str], list[str]]:
    """What the exchange does on each weed asked about, and to tree roots; and the weeds it tells on."""
    more, less, same = list[str](), list[str](), list[str]()
    unknown, weeds = list[str](), list[str]()
    enough = weighed.base.parameter("side-active-points")
    for t, target in enumerate(weighed.understood.targets):
        mine, theirs = _alone(first, one, t), _alone(second, other, t)
        name = target.weed.name
        if mine is None or theirs is None:
            missing = listed(p.name for p in (*(one if mine is None else ()), *(other if theirs is None else ())))
            unknown.append(f"no record of {missing} on {name}")
            continue
        weeds.append(target.weed.id)
        figures = f"{name} ({mine[1]} alone {mine[0]:.0f} %, {theirs[1]} {theirs[0]:.0f} %)"
        apart = mine[0] - theirs[0]
        (more if apart >= enough else less if apart <= -enough else same).append(
            figures if abs(apart) >= enough else name
        )
    effects = [f"better on {listed(more)}"] if more else []
    effects += [f"weaker on {listed(less)}"] if less else []
    effects += [f"much the same on {listed(same)}"] if same else []
    return effects + unknown + _roots(weighed.base, one, other), weeds


def _roots(base: KnowledgeBase, one: Parts, other: Parts) -> list[str]:
    """How the exchange changes the risk to roots; nothing where it does not or a figure is missing."""
    soils = [[base.actives[part.active].soil for part in parts] for parts in (one, other)]
    if any(soil is None for part in soils for soil in part):
        return []
    mine, theirs = (max((soil.tree_root_risk for soil in part if soil is not None), key=LEVELS.index) for part in soils)
    if mine == theirs:
        return []
    how = "less" if LEVELS.index(mine) < LEVELS.index(theirs) else "more"
    return [f"{how} {ROOTS} ({mine} against {theirs})"]


def _soil_sources(base: KnowledgeBase, one: Parts, other: Parts) -> Iterator[str]:
    for part in (*one, *other):
        soil = base.actives[part.active].soil
        yield from (c.id for c in soil.sources) if soil is not None else ()


def _part_sources(side: ComparedSide, parts: Parts) -> list[str]:
    ids = {part.active for part in parts}
    return [s for shown in side.control for p in shown.parts if p.active in ids for s in p.sources]
