"""Planning on from a day by what the records tell, and carrying a year over into the next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from typing import Any, Literal

from app.season.record import ApplicationRecord, FollowUp
from app.season.year import MOST_VISITS, Pressure, YearPast, YearWeed
from app.season.year_output import YearVisit
from app.services.knowledge_service import knowledge_base
from app.services.year_changes import by_days, day_of, names, visit_days
from app.services.year_compare import treatment
from app.services.year_facts import MOST_PAST, PRESSURES, FoundWeed
from app.services.year_question import Question, YearNote, YearWish, known, question, wish_of
from app.services.years import KeptYear
from app.store import records
from app.store.opening import Store
from knowledge.base import KnowledgeBase

State = Literal["done", "missed", "ahead", "idle"]


@dataclass(frozen=True)
class VisitThen:
    """A planned visit to an area as it stands on a day.

    Attributes
    ----------
    state : str
        `done` by a record, `missed` where its day has passed without one, `ahead`, or `idle` where nothing was
        planned.
    record : str
        Key of the record; empty without one.
    text : str
        What of it was done otherwise than planned; empty where nothing was.
    """

    visit: YearVisit
    state: State
    record: str = ""
    done: Date | None = None
    text: str = ""


@dataclass(frozen=True)
class Standing:
    """Where a plan stands on a day: its visits, and records that belong to none of them."""

    day: Date
    visits: tuple[VisitThen, ...]
    besides: tuple[tuple[str, ApplicationRecord], ...]

    @property
    def missed(self) -> tuple[VisitThen, ...]:
        """Visits whose day has passed without a record."""
        return tuple(item for item in self.visits if item.state == "missed")

    @property
    def ahead(self) -> tuple[Date, ...]:
        """The days of the visits to come."""
        return tuple(sorted({item.visit.date for item in self.visits if item.visit.date >= self.day}))


def standing(store: Store, kept: KeptYear, day: Date) -> Standing:
    """Where a plan stands on a day, by the records of its season up to that day.

    A record belongs to the planned visit of its area whose day is nearest; a visit holds one record.
    """
    with store.reading() as session:
        found = records.of_properties(session, [kept.property], Date(kept.season, 1, 1))
    told = [(item.key, ApplicationRecord.model_validate(item.document)) for item in reversed(found)]
    done = [(key, record) for key, record in told if record.date <= day and record.date.year == kept.season]
    held: dict[tuple[int, str], tuple[str, ApplicationRecord]] = {}
    besides = []
    for key, record in done:
        near = sorted(
            (visit for visit in kept.plan.visits if record.area in (None, visit.area) and visit.applications),
            key=lambda visit: (abs((visit.date - record.date).days), visit.number),
        )
        nearest = near[0].number if near else None
        free = [visit for visit in near if visit.number == nearest and (visit.number, visit.area) not in held]
        for visit in free:
            held[visit.number, visit.area] = (key, record)
        if not free:
            besides.append((key, record))
    base = knowledge_base()
    visits = tuple(_then(base, visit, held.get((visit.number, visit.area)), day) for visit in kept.plan.visits)
    return Standing(day, visits, tuple(besides))


def _then(base: KnowledgeBase, visit: YearVisit, held: tuple[str, ApplicationRecord] | None, day: Date) -> VisitThen:
    if held is not None:
        key, record = held
        return VisitThen(visit, "done", key, record.date, _otherwise(base, visit, record))
    if not visit.applications:
        return VisitThen(visit, "idle")
    return VisitThen(visit, "missed" if visit.date < day else "ahead")


def _otherwise(base: KnowledgeBase, visit: YearVisit, record: ApplicationRecord) -> str:
    """What a record holds otherwise than its visit, as far as the record tells its actives."""
    done = {part.active for product in record.products for part in product.actives}
    meant = {part.active for item in visit.applications for product in item.products for part in product.actives}
    return f"{names(base, sorted(done))} instead of {names(base, sorted(meant))}" if done and done != meant else ""


def again(store: Store, kept: KeptYear, day: Date, days: Sequence[Date] | None = None) -> Question:
    """The question of the rest of a year: what the records tell is applied, what was planned and not done is missed.

    Parameters
    ----------
    day : date
        The first day that is planned.
    days : sequence of date, optional
        The visits to come; those of the plan that lie ahead where none are told.
    """
    stands = standing(store, kept, day)
    told = tuple(sorted(set(days))) if days is not None else stands.ahead
    wish = by_days(wish_of(kept.asked, kept.note), kept.plan)
    wish |= {"from": day.isoformat(), "visits": {"dates": [item.isoformat() for item in told][:MOST_VISITS]}}
    for field in ("locks", "forbid"):
        wish[field] = [item for item in wish[field] if item["date"] is None or Date.fromisoformat(item["date"]) in told]
    note = YearNote(
        how="planned-again", after=kept.number, said=tuple(_said(stands, told, kept.asked.limits.budget_per_1000_ft2))
    )
    return question(store, kept.property, kept.season, YearWish.model_validate(wish), note)


def _said(stands: Standing, days: Sequence[Date], budget: float | None) -> Iterable[str]:
    names_of = dict.fromkeys(day_of(item.done) for item in stands.visits if item.done is not None)
    yield f"Planned from {day_of(stands.day)}: {_listed(names_of, 'visit', 'done by the records')}."
    for day, name in dict.fromkeys((item.visit.date, treatment(item.visit)) for item in stands.missed):
        yield f"The visit of {day_of(day)} ({name}) has no record and counts as missed."
    for day, text in dict.fromkeys((item.done or item.visit.date, item.text) for item in stands.visits if item.text):
        yield f"On {day_of(day)} {text} was sprayed."
    for _, record in stands.besides:
        yield f"The application of {day_of(record.date)} was in no visit of the plan; it counts as applied."
    for added in (day for day in days if day not in stands.ahead):
        yield f"A visit on {day_of(added)} is added."
    for gone in (day for day in stands.ahead if day not in days):
        yield f"The visit of {day_of(gone)} is left out."
    if budget is not None:
        yield f"The bound of {budget:g} per 1000 ft2 holds for what is still to come."


def _listed(days: Iterable[str], word: str, what: str) -> str:
    told = list(days)
    if not told:
        return f"no {word} {what}"
    return f"{len(told)} {word}{'' if len(told) == 1 else 's'} {what} ({', '.join(told)})"


@dataclass(frozen=True)
class CarriedOver:
    """The question of the next year as it follows from this one."""

    wish: YearWish
    note: YearNote
    weeds: tuple[FoundWeed, ...]


def carried_over(store: Store, kept: KeptYear, today: Date) -> CarriedOver:
    """The next year's question: the same weeds with their pressure by what was rated, the visits a year later.

    What was applied this year is read from the records when the next year is planned; see `with_last_year` for what
    is still ahead.
    """
    base = knowledge_base()
    rated = ratings(store, kept.property, kept.season)
    found = known(store, kept.property, kept.season + 1, None, kept.asked.site_use).weeds
    weeds, said = [], []
    for weed in kept.asked.weeds:
        pressure, why = _pressure(base, weed, rated.get(weed.weed))
        text = f"of {kept.season}, {why}" if why else f"of {kept.season}"
        weeds.append(FoundWeed(weed.model_copy(update={"pressure": pressure}), "note", text))
        if pressure != weed.pressure:
            name = base.weed_names[weed.weed].name
            said.append(f"{name[:1].upper()}{name[1:]}: pressure {pressure} instead of {weed.pressure}, {why}.")
    asked = {weed.weed for weed in kept.asked.weeds}
    weeds += [item for item in found if item.weed.weed not in asked]
    told = wish_of(kept.asked, kept.note).model_dump(mode="json", by_alias=True)
    all_year = [item for item in told["forbid"] if not (item["visit"] or item["date"])]
    told |= {"from": None, "locks": [], "forbid": all_year}
    told["weeds"] = [item.weed.model_dump() for item in weeds[: len(kept.asked.weeds)]]
    told["visits"] = {"dates": [_next(day).isoformat() for day in visit_days(kept.plan)]}
    told["forecast"] = None
    note = YearNote(how="carried-over", said=(*said, *_last_said(store, kept, today)))
    return CarriedOver(YearWish.model_validate(told), note, tuple(weeds))


def _next(day: Date) -> Date:
    """The same day a year later."""
    return day.replace(year=day.year + 1, day=28) if (day.month, day.day) == (2, 29) else day.replace(year=day.year + 1)


def ratings(store: Store, slug: str, season: int) -> dict[str, tuple[float, Date]]:
    """The last rated control of each weed [percent] of a property in a season, with its day."""
    with store.reading() as session:
        kept = records.of_properties(session, [slug], Date(season, 1, 1))
        season_keys = [item.key for item in kept if item.document["date"].startswith(f"{season}-")]
        seen = [FollowUp.model_validate(item.document) for item in records.follow_ups(session, season_keys)]
    last: dict[str, tuple[float, Date]] = {}
    for follow_up in sorted(seen, key=lambda item: item.date):
        last |= {weed: (percent, follow_up.date) for weed, percent in follow_up.ratings.items()}
    return last


def _pressure(base: KnowledgeBase, weed: YearWeed, rated: tuple[float, Date] | None) -> tuple[Pressure, str]:
    """The pressure of a weed in the next year, and why it is another where it is."""
    at = PRESSURES.index(weed.pressure)
    if rated is None:
        return weed.pressure, ""
    percent, day = rated
    why = f"since {percent:g} % control was rated on {day_of(day)}"
    if percent >= base.parameter("year-control-good"):
        return PRESSURES[max(at - 1, 0)], why
    if percent < base.parameter("year-control-poor"):
        return PRESSURES[min(at + 1, len(PRESSURES) - 1)], why
    return weed.pressure, why


def _last_said(store: Store, kept: KeptYear, today: Date) -> Iterable[str]:
    stands = standing(store, kept, max(today, Date(kept.season, 1, 1)))
    ahead = [item for item in stands.visits if item.state == "ahead"]
    if ahead:
        days = dict.fromkeys(day_of(item.visit.date) for item in ahead)
        yield f"Visits of {kept.season} that are still ahead ({', '.join(days)}) count as sprayed as planned."
    if stands.missed:
        days = dict.fromkeys(day_of(item.visit.date) for item in stands.missed)
        yield f"Visits of {kept.season} without a record ({', '.join(days)}) count as not sprayed."


def with_last_year(store: Store, kept: KeptYear | None, made: Question, today: Date) -> Question:
    """A question with the visits of the year before that are still ahead counted as they are planned."""
    if kept is None:
        return made
    stands = standing(store, kept, max(today, Date(kept.season, 1, 1)))
    planned = [past for item in stands.visits if item.state == "ahead" for past in _as_past(item.visit)]
    areas = {area.id for area in made.asked.areas}
    told = [*made.asked.applied_last_year, *(past for past in planned if past.area in areas)]
    ordered = tuple(sorted(told, key=lambda past: past.date))[-MOST_PAST:]
    return replace(made, asked=made.asked.model_copy(update={"applied_last_year": ordered}))


def _as_past(visit: YearVisit) -> Iterable[YearPast]:
    for application in visit.applications:
        for product in application.products:
            for part in product.actives:
                told: dict[str, Any] = {"date": application.date, "active": part.active, "area": visit.area}
                yield YearPast.model_validate({**told, "rate": part.rate.model_dump(), "product": product.product})
