"""Use cases of rounds: kept with their stops, planned, and their stops turned into records."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.understood import nearest
from app.season.round import Round
from app.season.round_output import RoundPlan
from app.services.validation import validated
from app.store import properties as places
from app.store import records
from app.store.forecasts import FORECASTS
from app.store.named import Stored
from app.store.opening import Store
from app.store.rounds import ROUNDS
from app.store.sprayers import every as every_sprayer


@dataclass(frozen=True)
class KeptRound:
    """A round as it is kept; `plan` is None until it is planned, and again once its stops or tanks change.

    `done` holds (property, area) of the stops that have their record, with the key of the record.
    """

    slug: str
    round: Round
    plan: RoundPlan | None
    version: int
    changed_at: datetime
    done: dict[tuple[str, str], str]

    @property
    def undone(self) -> tuple[tuple[str, str], ...]:
        """Stops that are to be sprayed and have no record yet."""
        if self.plan is None:
            return ()
        sprayed = [(stop.property, stop.area) for stop in self.plan.stops if stop.status == "spray"]
        return tuple(pair for pair in sprayed if pair not in self.done)


def listing(store: Store) -> tuple[KeptRound, ...]:
    """Every round, the latest day first."""
    with store.reading() as session:
        found = [_of(session, item) for item in ROUNDS.every(session)]
    return tuple(sorted(found, key=lambda item: (item.round.date, item.slug), reverse=True))


def one(store: Store, slug: str) -> KeptRound:
    """One round.

    Raises
    ------
    UnknownId
        With the three nearest, when there is none of that id.
    """
    with store.reading() as session:
        try:
            return _of(session, ROUNDS.by_slug(session, slug))
        except UnknownId:
            known = ROUNDS.names(session)
            raise UnknownId("round", slug, nearest(slug, known), "that is kept") from None


def make(store: Store, payload: Any, now: datetime | None = None) -> KeptRound:
    """Keep a new round, given as plain data; it is not planned by this.

    Raises
    ------
    InputError
        With every field at fault.
    """
    told = validated(Round, payload)
    with store.session() as session:
        _check(session, told)
        row = (told.name, _document(told, None), {"day": told.date})
        (kept,) = ROUNDS.insert(session, [row], now or datetime.now(UTC))
        return _of(session, kept)


def change(store: Store, slug: str, payload: Any, version: int, now: datetime | None = None) -> KeptRound:
    """Change a round that stands at a version. What the plan rests on takes the plan with it.

    Raises
    ------
    InputError
        With every field at fault, or where a stop that has its record would be left out.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    told = validated(Round, payload)
    with store.session() as session:
        _check(session, told)
        before = _known(session, slug)
        if before is None:
            return _of(session, ROUNDS.update(session, slug, told.name, {}, version, now or datetime.now(UTC)))
        stops = {(stop.property, stop.area) for stop in told.stops}
        if lost := sorted(pair for pair in before.done if pair not in stops):
            what = f"{lost[0][0]}, {lost[0][1]} has its record already; it stays in the round"
            raise InputError([FieldFault("stops", what)])
        same = _rests_on(told) == _rests_on(before.round)
        if before.done and not same:
            raise InputError([FieldFault("stops", _RECORDED.format(count=len(before.done)))])
        document = _document(told, before.plan if same else None)
        kept = ROUNDS.update(session, slug, told.name, document, version, now or datetime.now(UTC), {"day": told.date})
        return _of(session, kept)


_RECORDED = (
    "{count} of its stops are recorded already, so the plan they were sprayed by stays; make another round for the rest"
)


def planned(store: Store, slug: str, plan: RoundPlan, version: int, now: datetime | None = None) -> KeptRound:
    """Keep the plan of a round that stands at a version.

    Raises
    ------
    InputError
        Where stops of it are recorded already.
    Changed
        When somebody else changed or removed it meanwhile.
    """
    with store.session() as session:
        before = _of(session, ROUNDS.by_slug(session, slug))
        if before.done:
            raise InputError([FieldFault("plan", _RECORDED.format(count=len(before.done)))])
        document = _document(before.round, plan)
        return _of(
            session, ROUNDS.update(session, slug, before.round.name, document, version, now or datetime.now(UTC))
        )


def remove(store: Store, slug: str, version: int) -> None:
    """Forget a round that stands at a version; its records stay.

    Raises
    ------
    Changed
        When somebody else changed or removed it meanwhile.
    InputError
        Where stops of it are recorded.
    """
    with store.session() as session:
        before = _known(session, slug)
        if before is not None and before.done:
            what = f"{len(before.done)} of its stops are recorded, and records name their round; it stays"
            raise InputError([FieldFault("round", what)])
        ROUNDS.delete(session, slug, version)


def not_planned() -> InputError:
    """What is raised where a plan is asked for that was not made yet."""
    return InputError([FieldFault("plan", "this round is not planned yet; plan it first")])


def _known(session: Session, slug: str) -> KeptRound | None:
    found = ROUNDS.by_slugs(session, [slug])
    return _of(session, found[slug]) if slug in found else None


def _rests_on(told: Round) -> dict[str, Any]:
    """What a plan rests on: all but the name, who sprays and what was noted."""
    return told.model_dump(mode="json", exclude={"name", "technician", "notes"})


def _document(told: Round, plan: RoundPlan | None) -> dict[str, Any]:
    whole = plan.model_dump(mode="json", by_alias=True) if plan is not None else None
    return {"round": told.model_dump(mode="json"), "plan": whole}


def _of(session: Session, item: Stored) -> KeptRound:
    told = Round.model_validate({**item.document["round"], "name": item.name})
    whole = item.document["plan"]
    plan = RoundPlan.model_validate(whole) if whole is not None else None
    return KeptRound(item.slug, told, plan, item.version, item.changed_at, records.of_round(session, item.slug))


def _check(session: Session, told: Round) -> None:
    """Refuse ids that are not kept."""
    faults = []
    kept = places.PROPERTIES.by_slugs(session, [stop.property for stop in told.stops])
    for number, stop in enumerate(told.stops):
        if stop.property not in kept:
            faults.append(FieldFault(f"stops.{number}.property", f"'{stop.property}' is no property that is kept"))
        elif stop.area not in [area["id"] for area in kept[stop.property].document.get("areas", ())]:
            faults.append(FieldFault(f"stops.{number}.area", f"'{stop.area}' is no area of {kept[stop.property].name}"))
    if told.sprayer is not None and told.sprayer not in [item.slug for item in every_sprayer(session)]:
        faults.append(FieldFault("sprayer", f"'{told.sprayer}' is no sprayer that is kept"))
    if told.forecast is not None and told.forecast not in FORECASTS.names(session):
        faults.append(FieldFault("forecast", f"'{told.forecast}' is no forecast that is kept"))
    if faults:
        raise InputError(faults)
