"""The situation as understood: ids checked, seasons and stages derived, unknowns named."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta

from app.engine.errors import FieldFault, InputError
from app.engine.product import Product
from app.engine.situation import LocalRule, PastApplication, Situation, Target
from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM, Turf, Weed
from knowledge.models.common import GreenUp, Season

NOT_EMERGED = "not-emerged"
_NEAREST = 3

# Leaf and tiller counts that bound the stages of these names (BBCH 11-13, 14-19, 21-23, 24-29).
_LAST_LEAF_OF_FIRST_GRASS_STAGE = 3
_LAST_TILLER_OF_FEW = 3
_LAST_LEAF_OF_FIRST_SEDGE_STAGE = 4


@dataclass(frozen=True)
class UnderstoodTarget:
    """One target with the stages it may be in.

    `stages` holds the one stage that was told, or every stage that the calendar makes
    plausible at the date, the likeliest first; control is then that of the hardest of them.
    """

    index: int
    weed: Weed
    stages: tuple[str, ...]
    assumed: bool
    priority: float
    resistant_to: tuple[str, ...]

    @property
    def stage(self) -> str:
        """The stage told, or the likeliest."""
        return self.stages[0]


@dataclass(frozen=True)
class Understood:
    """A situation whose ids are known, with what follows from its date and place.

    `products` are those to rank, given inline or from the shelf; None where generic actives are ranked.
    """

    situation: Situation
    turf: tuple[Turf, ...]
    targets: tuple[UnderstoodTarget, ...]
    season: Season
    green_up: tuple[GreenUp | None, ...]
    unknowns: tuple[str, ...]
    products: tuple[Product, ...] | None = None

    def season_after(self, days: int, base: KnowledgeBase) -> Season:
        """Season so many days after the date."""
        return season_on(self.situation.date + timedelta(days=days), self.situation.zone, base)


def month_day(day: Date) -> str:
    """A day of the year as ``MM-DD``."""
    return f"{day.month:02d}-{day.day:02d}"


def nearest(key: str, known: Iterable[str]) -> tuple[str, ...]:
    """The three known ids most like a misspelt one."""
    return tuple(difflib.get_close_matches(key, sorted(known), n=_NEAREST, cutoff=0.0))


def unknown_id(path: str, kind: str, key: str, known: Iterable[str]) -> FieldFault:
    """The fault for an id that is not in the knowledge base, with the three nearest."""
    return FieldFault(path, f"'{key}' is no known {kind}; nearest: {', '.join(nearest(key, known))}")


def season_on(day: Date, zone: str, base: KnowledgeBase) -> Season:
    """Season of the spraying year on a day in a zone."""
    key = month_day(day)
    return next(span.season for span in base.zones[zone].seasons if span.holds(key))


def stage_from_counts(weed: Weed, tillers: int | None, leaves: int | None) -> tuple[str, ...]:
    """Stages that leaf and tiller counts allow, empty where they say nothing."""
    if weed.life_form == "sedge" and leaves is not None:
        return ("2-4-leaf",) if leaves <= _LAST_LEAF_OF_FIRST_SEDGE_STAGE else ("5-8-leaf",)
    if weed.life_form != "grass":
        return ()
    if tillers:
        return ("1-3-tiller",) if tillers <= _LAST_TILLER_OF_FEW else ("multi-tiller",)
    if leaves is not None:
        return ("1-3-leaf",) if leaves <= _LAST_LEAF_OF_FIRST_GRASS_STAGE else ("4-5-leaf",)
    return ("1-3-leaf", "4-5-leaf") if tillers == 0 else ()


def stages_by_calendar(weed: Weed, zone: str, day: Date) -> tuple[str, ...]:
    """Plausible stages of a weed in a zone on a day, the likeliest first.

    The likeliest is the one whose window has the day nearest to its middle. Before emergence
    the weed is taken as not emerged; otherwise every emerged stage whose window holds the day
    is plausible.
    """
    key = month_day(day)
    open_windows = [w for w in weed.calendar if zone in w.zones and w.holds(key)]
    if not open_windows:
        return tuple(s for s in weed.treatable_stages if s != NOT_EMERGED) or weed.treatable_stages
    ordinal = _day_of_year(key)

    def off_centre(window_from: str, window_to: str) -> float:
        start, end = _day_of_year(window_from), _day_of_year(window_to)
        length = (end - start) % 365 or 1
        return abs((ordinal - start) % 365 / length - 1 / 2)

    # What is met of a perennial is mostly the established plant, whatever seedlings come up beside it.
    grown = any(w.stage not in ("seedling", NOT_EMERGED) for w in open_windows) and weed.life_cycle == "perennial"
    ranked = sorted(
        open_windows,
        key=lambda w: (grown and w.stage == "seedling", off_centre(w.start, w.end), weed.calendar.index(w)),
    )
    stages = tuple(dict.fromkeys(w.stage for w in ranked))
    if stages[0] == NOT_EMERGED:
        return (NOT_EMERGED,)
    return tuple(stage for stage in stages if stage != NOT_EMERGED)


def _day_of_year(key: str) -> int:
    month, day = key.split("-")
    # A leap year, so that 29 February has its place.
    return Date(2024, int(month), int(day)).timetuple().tm_yday


def understand(situation: Situation, base: KnowledgeBase, shelf: Sequence[Product] | None = None) -> Understood:
    """Check every id and derive what follows from date and place.

    Parameters
    ----------
    shelf : sequence of Product, optional
        The user's own products, for a situation whose catalog is `shelf`.

    Raises
    ------
    InputError
        With every unknown id, its three nearest, and every contradiction.
    """
    faults = _unknown_ids(situation, base)
    if faults:
        raise InputError(faults)
    turf = tuple(base.turf[key] for key in situation.turf)
    targets: list[UnderstoodTarget] = []
    for index, target in enumerate(situation.targets):
        weed = base.weeds[target.weed]
        found = _target_faults(index, target, weed, situation)
        faults += found
        if not found:
            targets.append(understood_target(index, target, weed, situation))
    _repeated(situation, faults)
    if faults:
        raise InputError(faults)
    return Understood(
        situation=situation,
        turf=turf,
        targets=tuple(targets),
        season=season_on(situation.date, situation.zone, base),
        green_up=tuple(_green_up(grass, situation) for grass in turf),
        unknowns=tuple(_unknowns(situation, targets)),
        products=catalog_products(situation.catalog, shelf),
    )


def catalog_products(catalog: str | tuple[Product, ...], shelf: Sequence[Product] | None) -> tuple[Product, ...] | None:
    """The products that a catalog means; None where generic actives are ranked.

    Raises
    ------
    InputError
        Where the catalog is the shelf and none is at hand, or it holds no herbicide.
    """
    if isinstance(catalog, tuple):
        return catalog
    if catalog == "actives":
        return None
    if shelf is None:
        what = "no shelf is at hand here; use 'actives', or list the products themselves"
        raise InputError([FieldFault("catalog", what)])
    if not any(product.kind == "herbicide" for product in shelf):
        what = "the shelf holds no herbicide yet; add a product to it first, or use 'actives'"
        raise InputError([FieldFault("catalog", what)])
    return tuple(shelf)


def _unknown_ids(situation: Situation, base: KnowledgeBase) -> list[FieldFault]:
    faults = [
        unknown_id(f"turf.{i}", "turf", key, base.turf) for i, key in enumerate(situation.turf) if key not in base.turf
    ]
    for i, target in enumerate(situation.targets):
        if target.weed not in base.weeds:
            faults.append(unknown_id(f"targets.{i}.weed", "weed", target.weed, base.weeds))
        faults += resistance_faults(f"targets.{i}.resistant_to", target.resistant_to, base)
    faults += past_faults("applied_this_year", situation.applied_this_year, base)
    return faults + rule_faults("local_rules", situation.local_rules, base)


def resistance_faults(path: str, names: Sequence[str], base: KnowledgeBase) -> list[FieldFault]:
    """Names of actives or mechanism groups that are not known."""
    groups = {active.mechanism.group for active in base.actives.values()}
    return [
        unknown_id(f"{path}.{i}", "active or mechanism group", name, base.actives)
        for i, name in enumerate(names)
        if name not in base.actives and name not in groups
    ]


def past_faults(path: str, applied: Sequence[PastApplication], base: KnowledgeBase) -> list[FieldFault]:
    """What of earlier applications cannot be counted: unknown actives, and rates that are not of active."""
    faults = []
    for i, past in enumerate(applied):
        if past.active not in base.actives:
            faults.append(unknown_id(f"{path}.{i}.active", "active", past.active, base.actives))
        elif past.rate.quantity.dimension not in ("ae-rate", "ai-rate"):
            faults.append(FieldFault(f"{path}.{i}.rate.unit", "must be a rate of active, lb ae/acre or such"))
    return faults


def rule_faults(path: str, rules: Sequence[LocalRule], base: KnowledgeBase) -> list[FieldFault]:
    """Ids of local rules that are not known."""
    faults = []
    groups = {active.mechanism.group for active in base.actives.values()}
    for i, rule in enumerate(rules):
        if rule.active is not None and rule.active not in base.actives:
            faults.append(unknown_id(f"{path}.{i}.active", "active", rule.active, base.actives))
        if rule.group is not None and rule.group not in groups:
            faults.append(unknown_id(f"{path}.{i}.group", "mechanism group", rule.group, groups))
        if rule.form is not None and base.form_owner(rule.form) is None:
            forms = [form.id for active in base.actives.values() for form in active.forms]
            faults.append(unknown_id(f"{path}.{i}.form", "form", rule.form, forms))
    return faults


def _target_faults(index: int, target: Target, weed: Weed, situation: Situation) -> list[FieldFault]:
    path = f"targets.{index}"
    faults = [
        FieldFault(f"{path}.weed", f"'{weed.id}' is the turf {turf} itself; name another weed or another turf")
        for turf in situation.turf
        if turf in weed.same_species_turf
    ]
    return [*faults, *seen_faults(f"{path}.", target, weed)]


def seen_faults(stem: str, target: Target, weed: Weed) -> list[FieldFault]:
    """What cannot be true of a weed as it was seen: its stage, its leaves and its tillers."""
    stages = STAGES_BY_LIFE_FORM[weed.life_form]
    faults: list[FieldFault] = []
    if target.stage is not None and target.stage not in stages:
        what = f"'{target.stage}' is no stage of {weed.name}; use {', '.join(stages)}"
        return [FieldFault(f"{stem}stage", what)]
    if weed.life_form not in ("grass", "sedge") and target.leaves is not None:
        faults.append(FieldFault(f"{stem}leaves", f"leaves are counted on grasses and sedges, not on {weed.name}"))
    if weed.life_form != "grass" and target.tillers is not None:
        faults.append(FieldFault(f"{stem}tillers", f"tillers are counted on grasses, not on {weed.name}"))
    return faults or _count_faults(stem, target, weed)


def _count_faults(stem: str, target: Target, weed: Weed) -> list[FieldFault]:
    if target.tillers and target.leaves is not None and target.leaves < _LAST_LEAF_OF_FIRST_GRASS_STAGE:
        return [FieldFault(f"{stem}tillers", f"{target.tillers} tillers cannot stand on {target.leaves} leaves")]
    counted = stage_from_counts(weed, target.tillers, target.leaves)
    later = ("heading", "mature", "flowering")
    if target.stage is None or not counted or target.stage in counted:
        return []
    if target.stage in later and (target.tillers or weed.life_form == "sedge"):
        return []
    field = "tillers" if target.tillers is not None else "leaves"
    what = f"contradicts stage '{target.stage}': these counts mean {' or '.join(counted)}; correct one of the two"
    return [FieldFault(f"{stem}{field}", what)]


def _repeated(situation: Situation, faults: list[FieldFault]) -> None:
    weeds = [target.weed for target in situation.targets]
    for index, name in enumerate(weeds):
        if name in weeds[:index]:
            faults.append(FieldFault(f"targets.{index}.weed", f"'{name}' is named twice; name each weed once"))
    for index, name in enumerate(situation.turf):
        if name in situation.turf[:index]:
            faults.append(FieldFault(f"turf.{index}", f"'{name}' is named twice; name each turf once"))
    for index, past in enumerate(situation.applied_this_year):
        if past.date > situation.date:
            faults.append(FieldFault(f"applied_this_year.{index}.date", "lies after the date of the situation"))
    planned = situation.turf_condition.seeding_planned
    if planned is not None and planned < situation.date:
        what = "lies before the date of the situation; for a stand already sown use turf_condition.stand"
        faults.append(FieldFault("turf_condition.seeding_planned", what))


def understood_target(index: int, target: Target, weed: Weed, situation: Situation) -> UnderstoodTarget:
    """A target with the stages it may be in."""
    told = (target.stage,) if target.stage is not None else stage_from_counts(weed, target.tillers, target.leaves)
    stages = told or stages_by_calendar(weed, situation.zone, situation.date)
    return UnderstoodTarget(
        index=index,
        weed=weed,
        stages=stages,
        assumed=not told,
        priority=target.priority,
        resistant_to=target.resistant_to,
    )


def _green_up(turf: Turf, situation: Situation) -> GreenUp | None:
    if situation.turf_condition.green_up is not None:
        return situation.turf_condition.green_up
    key = month_day(situation.date)
    states = [w.state for w in turf.growth if situation.zone in w.zones and w.holds(key)]
    # Where windows meet, the more delicate state is the honest one.
    for state in ("transition", "dormant", "active"):
        if state in states:
            return state
    return None


def _unknowns(situation: Situation, targets: list[UnderstoodTarget]) -> list[str]:
    unknown = [f"targets.{t.index}.stage" for t in targets if t.assumed]
    for part, name in ((situation.turf_condition, "turf_condition"), (situation.forecast, "forecast")):
        unknown += [f"{name}.{key}" for key in type(part).model_fields if getattr(part, key) is None]
    if situation.area is None:
        unknown.append("area")
    return unknown
