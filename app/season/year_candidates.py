"""What may be sprayed on an area on a day, and what it does to each of its weeds there."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date as Date
from datetime import timedelta

from app.engine.considered import stops_in
from app.engine.control import Floats
from app.engine.cost import cost_per_hectare
from app.engine.doses import Dose, mixture_doses, product_doses, turf_rate
from app.engine.injury import injury_alone
from app.engine.offers import adjuvants_offered, required_by, spread_dry
from app.engine.product import Product
from app.engine.responses import Cell, ControlFacts
from app.engine.rules import Finding, Question, ask
from app.engine.situation import Forecast, LocalRule, PastApplication, Situation, Target
from app.engine.understood import Understood, month_day, understand
from app.season.year import YearArea, YearAsked
from app.season.year_cohorts import Unit
from knowledge.base import KnowledgeBase
from knowledge.models import Active, Turf
from knowledge.models.common import GreenUp
from knowledge.quantities import HECTARE_PER_ACRE

_WEEK = 7
NO_ADJUVANT = "none"
# 1000 square feet in hectares.
PER_1000_FT2 = 1000 / 43560 * HECTARE_PER_ACRE


@dataclass(frozen=True)
class Place:
    """An area as the rules see it through the year.

    `applied` is what was applied on it, this year and last, before the first day that is planned; `catalog` tells
    catalogs of products apart.
    """

    area: YearArea
    zone: str
    site_use: str
    year: int
    start: Date
    local_rules: tuple[LocalRule, ...]
    applied: tuple[PastApplication, ...]
    dry: tuple[tuple[Date, Date], ...]
    warm: tuple[tuple[Date, float], ...]
    catalog: str = ""

    @property
    def shared(self) -> Place:
        """The same with nothing applied, and no first day where the age of the stand does not hang on it."""
        told = self.area.turf_condition.weeks_since_emergence
        return replace(self, applied=(), start=self.start if told is not None else Date(self.year, 1, 1))

    @property
    def key(self) -> str:
        """Equal for areas of which the rules say the same on every day."""
        plain = self.area.model_copy(update={"id": "area", "name": "", "area": None})
        told = (
            self.zone,
            self.site_use,
            self.year,
            self.start,
            self.local_rules,
            self.applied,
            self.dry,
            self.warm,
            self.catalog,
        )
        return f"{plain.model_dump_json()}{told}"


@dataclass(frozen=True)
class Part:
    """Something that goes into the tank on a day, with what the rules and its price say of it.

    Attributes
    ----------
    label : str
        Name of the product, or id of the active or standard mixture.
    adjuvant : str
        The adjuvant it is sprayed with.
    injury : tuple of float
        Likely injury of each turf by it alone [percent], its own actives together.
    cost : float
        Per 1000 ft2; NaN where no price is known.
    """

    label: str
    doses: tuple[Dose, ...]
    adjuvant: str
    groups: tuple[str, ...]
    injury: tuple[float, ...]
    cost: float

    @property
    def actives(self) -> tuple[str, ...]:
        """Ids of the actives it holds."""
        return tuple(dose.active.id for dose in self.doses)

    @property
    def product(self) -> Product | None:
        """The product, None for what is generic."""
        return self.doses[0].product.product if self.doses[0].product is not None else None

    @property
    def key(self) -> tuple[str, str, tuple[tuple[str, str, float], ...]]:
        """What makes two parts the same, whatever the day."""
        made = tuple((d.active.id, d.form.id, round(d.rate.base, 5)) for d in self.doses)
        return (self.label, self.adjuvant, made)


@dataclass(frozen=True)
class DayHere:
    """A day on an area: the situation as the engine understands it, and what passes every stop on it.

    `rows` are the places of the parts among those of the same area with nothing applied, where that is less.
    """

    understood: Understood
    facts: ControlFacts
    parts: tuple[Part, ...]
    stopped: tuple[tuple[str, tuple[str, ...], tuple[Finding, ...]], ...]
    rows: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Effect:
    """What parts do to the units of one weed on a day.

    Attributes
    ----------
    size : array (parts, units, mechanisms of a part)
        What each mechanism takes off the log of the surviving share.
    spread, squares : array (parts, units)
        Sum and sum of squares of its sensitivities, as in `engine.control.Survivors`.
    """

    size: Floats
    spread: Floats
    squares: Floats


@dataclass
class YearMemo:
    """What is worked out for one property and holds for others on the same knowledge base."""

    days: dict[object, DayHere] = field(default_factory=dict)
    cells: dict[object, Cell] = field(default_factory=dict)
    effects: dict[object, Effect] = field(default_factory=dict)
    units: dict[object, tuple[Unit, ...]] = field(default_factory=dict)
    apart: dict[object, bool] = field(default_factory=dict)
    stops: dict[object, tuple[Finding, ...]] = field(default_factory=dict)
    shifts: dict[object, tuple[int, bool]] = field(default_factory=dict)


def places_of(asked: YearAsked, start: Date, products: Sequence[Product] | None = None) -> tuple[Place, ...]:
    """The areas of a property as the rules see them."""
    told = "".join(product.model_dump_json() for product in products) if products is not None else ""
    catalog = hashlib.sha256(told.encode()).hexdigest() if told else ""
    warm = tuple((day.date, day.max_f) for day in asked.weather.daily)
    dry = tuple((span.start, span.end) for span in asked.dry)
    return tuple(
        Place(
            area,
            asked.zone,
            asked.site_use,
            asked.year,
            start,
            asked.local_rules,
            tuple(
                PastApplication(date=past.date, active=past.active, rate=past.rate, product=past.product)
                for past in (*asked.applied_last_year, *asked.applied_this_year)
                if past.area in (None, area.id)
            ),
            dry,
            warm,
            catalog,
        )
        for area in asked.areas
    )


def day_here(
    base: KnowledgeBase, place: Place, day: Date, products: Sequence[Product] | None, memo: YearMemo
) -> DayHere:
    """What passes every stop on an area on a day.

    Areas that differ by what was applied alone share all but the actives of that.
    """
    shared = place.shared
    key = (shared.key, day)
    if key not in memo.days:
        understood = understood_on(base, shared, day, products)
        facts = ControlFacts(base, understood, memo.cells)
        parts, stopped = _parts(base, understood)
        memo.days[key] = DayHere(understood, facts, parts, stopped)
    whole = memo.days[key]
    done = {past.active for past in place.applied if past.date <= day}
    if not done:
        return whole
    own = understood_on(base, place, day, products)
    found = {row: stops_of(base, own, part) for row, part in enumerate(whole.parts) if done & set(part.actives)}
    rows = tuple(row for row in range(len(whole.parts)) if not found.get(row))
    barred = tuple((whole.parts[row].label, whole.parts[row].actives, stops) for row, stops in found.items() if stops)
    parts = tuple(whole.parts[row] for row in rows)
    return replace(whole, parts=parts, stopped=(*whole.stopped, *barred), rows=rows)


def stops_of(base: KnowledgeBase, understood: Understood, part: Part) -> tuple[Finding, ...]:
    """The stops of the rules on a dose against a part."""
    found: tuple[Finding, ...] = ()
    for dose in part.doses:
        question = Question(base, understood, dose)
        found += stops_in((*ask(question, "dose"), *ask(question, "repeat")))
    return found


def understood_on(
    base: KnowledgeBase,
    place: Place,
    day: Date,
    products: Sequence[Product] | None,
    targets: Sequence[Target] = (),
    applied: Sequence[PastApplication] | None = None,
) -> Understood:
    """The area on a day, as the engine understands it.

    Without targets it is asked about a weed that stands for all; the rules on a dose ask after none.
    """
    situation = Situation(
        date=day,
        zone=place.zone,
        site_use=place.site_use,
        turf=place.area.turf,
        turf_condition=_condition(base, place, day),
        targets=tuple(targets) or (_any_weed(base, place),),
        forecast=_weather(base, place, day),
        surroundings=place.area.surroundings,
        applied_this_year=tuple(past for past in (place.applied if applied is None else applied) if past.date <= day),
        local_rules=place.local_rules,
        catalog="actives" if products is None else "shelf",
    )
    understood = understand(situation, base, products)
    return replace(understood, green_up=_green_up(base, understood))


def _green_up(base: KnowledgeBase, understood: Understood) -> tuple[GreenUp | None, ...]:
    """How warm-season turf stands; near a change between dormancy and growth it counts as changing."""
    margin = timedelta(days=base.parameter("year-turn-days"))
    zone, day = understood.situation.zone, understood.situation.date
    found: list[GreenUp | None] = []
    for turf, state in zip(understood.turf, understood.green_up, strict=True):
        near = {_state(turf, zone, day + shift) for shift in (-margin, timedelta(0), margin)} - {None}
        found.append("transition" if turf.season == "warm-season" and len(near) > 1 else state)
    return tuple(found)


def _state(turf: Turf, zone: str, day: Date) -> GreenUp | None:
    key = month_day(day)
    return next((w.state for w in turf.growth if zone in w.zones and w.holds(key)), None)


def _any_weed(base: KnowledgeBase, place: Place) -> Target:
    return Target(weed=next(w.id for w in base.weeds.values() if not set(w.same_species_turf) & set(place.area.turf)))


def _condition(base: KnowledgeBase, place: Place, day: Date) -> object:
    """How the turf stands on a day: seedlings after a seeding, older by the weeks since the first planned day."""
    told = place.area.turf_condition
    changes: dict[str, object] = {"green_up": None, "seeding_planned": None}
    seeding = told.seeding_planned
    if seeding is not None and day < seeding:
        changes["seeding_planned"] = seeding
    elif seeding is not None:
        up = base.parameter("year-emergence-days")
        weeks = max(0.0, ((day - seeding).days - up) / _WEEK)
        changes |= {"stand": "seedling", "weeks_since_emergence": weeks, "mowings_since_emergence": None}
    elif told.weeks_since_emergence is not None:
        weeks = max(0.0, told.weeks_since_emergence + (day - place.start).days / _WEEK)
        changes["weeks_since_emergence"] = min(weeks, 1000.0)
    if any(start <= day <= end for start, end in place.dry):
        changes["stress"] = "drought"
    return told.model_copy(update=changes)


def _weather(base: KnowledgeBase, place: Place, day: Date) -> Forecast:
    """The weather told of a day and the next three, else the usual highest air of a day in the zone.

    Cold is held against the middle of the zone, heat against its warmest places.
    """
    low, high = base.usual_max_f(place.zone, day.month)
    told = dict(place.warm)
    later = [told.get(day + timedelta(days=ahead)) for ahead in (1, 2, 3)]
    known = [t for t in later if t is not None]
    moisture = "dry" if any(start <= day <= end for start, end in place.dry) else None
    return Forecast(
        max_temp_f=told.get(day, (low + high) / 2),
        max_temp_next_3_days_f=max(known) if len(known) == len(later) else high,
        soil_moisture=moisture,
    )


def _parts(
    base: KnowledgeBase, understood: Understood
) -> tuple[tuple[Part, ...], tuple[tuple[str, tuple[str, ...], tuple[Finding, ...]], ...]]:
    """What passes, and what does not with its stops: label, actives, stops."""
    passing: list[Part] = []
    stopped: list[tuple[str, tuple[str, ...], tuple[Finding, ...]]] = []
    asked: dict[tuple[str, str, float, str, str], tuple[Finding, ...]] = {}
    for label, doses in _offered(base, understood):
        found: tuple[Finding, ...] = ()
        for dose in doses:
            key = (
                dose.active.id,
                dose.form.id,
                dose.rate.base,
                dose.timing or "",
                dose.level + label * bool(dose.product),
            )
            if key not in asked:
                question = Question(base, understood, dose)
                asked[key] = stops_in((*ask(question, "dose"), *ask(question, "repeat")))
            found += asked[key]
        adjuvant = adjuvant_for(base, understood, doses) if not found else None
        if found or adjuvant is None:
            stopped.append((label, tuple(d.active.id for d in doses), found))
            continue
        injury = tuple(_together(base, [injury_alone(base, d, t, understood.situation.site_use) for d in doses])
                       for t in understood.turf)  # fmt: skip
        if max(injury) > base.parameter("injury-unacceptable"):
            continue
        groups = tuple(dict.fromkeys(group_of(base, dose.active) for dose in doses))
        use = doses[0].product
        cost = cost_per_hectare(use) if use is not None else None
        per = cost * PER_1000_FT2 if cost is not None else float("nan")
        passing.append(Part(label, tuple(doses), adjuvant, groups, injury, per))
    return tuple(passing), tuple(stopped)


def _together(base: KnowledgeBase, injuries: Sequence[float]) -> float:
    worst = max(injuries)
    return min(100.0, worst + base.parameter("partner-injury") * (sum(injuries) - worst))


def group_of(base: KnowledgeBase, active: Active) -> str:
    """The mechanism as rotation counts it: where a number is no mechanism, the active itself."""
    group = active.mechanism.group
    return group if base.mechanisms[group].shared else active.id


def _offered(base: KnowledgeBase, understood: Understood) -> list[tuple[str, tuple[Dose, ...]]]:
    """Products at the rates of their labels; of generic actives the usual rates, and the low one before emergence.

    The low rate before emergence makes a split possible; beside a partner an active comes in a standard mixture.
    """
    if understood.products is not None:
        return [(offer.product.name, offer.doses) for offer in product_doses(base, understood, understood.products)]
    found: list[tuple[str, tuple[Dose, ...]]] = []
    for active in base.actives.values():
        for timing in active.timing:
            rate = turf_rate(active, understood, timing)
            if rate is None:
                continue
            steps = [rate.usual]
            if timing == "preemergence" and rate.low.base < rate.usual.base:
                steps.append(rate.low)
            for form in active.forms:
                found += [(active.id, (Dose(active, form, step, timing, "alone", rate),)) for step in steps]
    return [*found, *mixture_doses(base, understood)]


def adjuvant_for(base: KnowledgeBase, understood: Understood, doses: Sequence[Dose]) -> str | None:
    """The adjuvant of a tank of these: required, else the one that helps most, else none; None where none passes."""
    if all(map(spread_dry, doses)):
        return NO_ADJUVANT
    offered = adjuvants_offered(understood)
    worth = {adjuvant: _worth(doses, adjuvant) for adjuvant in offered}
    ranked = sorted(offered, key=lambda a: (-worth[a], offered.index(a)))
    for adjuvant in ranked:
        if not any(stops_in(ask(Question(base, understood, dose, adjuvant), "adjuvant")) for dose in doses):
            return adjuvant
    return None


def _worth(doses: Sequence[Dose], adjuvant: str) -> float:
    """How much an adjuvant helps: what is required before what is recommended, then by its largest shift."""
    best = 0.0
    for dose in doses:
        rules = [r for r in dose.active.adjuvants if r.id == adjuvant]
        if adjuvant in required_by(dose) or any(r.use == "required" for r in rules):
            return 100.0
        best = max(best, *(r.shift for r in rules if r.use == "recommended"), 0.0)
    return best
