"""What the API and the command line take and answer about rounds."""

from __future__ import annotations

from datetime import UTC, datetime
from datetime import date as Date
from typing import Any

from pydantic import Field

from app.engine.measures import Input
from app.engine.output import Output
from app.season.forecast import dates_of, gaps
from app.season.load_output import LoadSheet
from app.season.record import ApplicationRecord
from app.season.round import Round
from app.season.round_output import RoundPlan
from app.services import forecasts, round_done, round_papers, round_plan, rounds
from app.services.forecasts import KeptForecast
from app.services.rounds import KeptRound
from app.services.validation import validated, version_told
from app.services.weather import WindowsRequest
from app.store.opening import Store
from knowledge.models.common import Slug

_VERSION_MOST = 2**31 - 1


class RoundChange(Input):
    """A changed round, and the version that it changes."""

    version: int = Field(ge=1, le=_VERSION_MOST)
    round: Round


class RoundPlanning(Input):
    """The version of a round that is to be planned."""

    version: int = Field(ge=1, le=_VERSION_MOST)


class StopDone(Input):
    """A stop that was sprayed; `applicator` is the technician of the round where it is not told."""

    property: Slug
    area: Slug
    applicator: str = Field(default="", max_length=80)


class StopRecorded(Output):
    """A stop of a round that has its record."""

    property: str
    area: str
    record: str


class RoundTold(Output):
    """A round with its plan; `plan` is null until it is planned, and again once its stops or tanks change."""

    id: str
    version: int
    changed_at: datetime
    round: Round
    plan: RoundPlan | None
    done: tuple[StopRecorded, ...]


class RoundListed(Output):
    """A round in a list."""

    id: str
    version: int
    name: str
    date: Date
    technician: str
    stops: int
    done: int
    headline: str


class RoundListing(Output):
    """The rounds that are kept, the latest day first."""

    rounds: tuple[RoundListed, ...]


class RoundRemoved(Output):
    """What was removed."""

    removed: str


class ForecastToKeep(Input):
    """A forecast to keep: a name, or none, and the weather as spray windows take it."""

    name: str = Field(default="", max_length=120)
    weather: WindowsRequest


class ForecastTold(Output):
    """A forecast that is kept."""

    id: str
    version: int
    name: str
    place: str
    timezone: str
    first: Date
    last: Date
    hours: int
    missing_hours: int


class ForecastListing(Output):
    """The forecasts that are kept, by name."""

    forecasts: tuple[ForecastTold, ...]


class RecordMade(Output):
    """The record that a stop became; `new` is false where it stood already, `missing` what is still to be filled."""

    key: str
    new: bool
    record: ApplicationRecord
    missing: tuple[str, ...]
    stock: tuple[str, ...]


def listing(store: Store) -> RoundListing:
    """Every round."""
    return RoundListing(
        rounds=tuple(
            RoundListed(
                id=item.slug,
                version=item.version,
                name=item.round.name,
                date=item.round.date,
                technician=item.round.technician,
                stops=len(item.round.stops),
                done=len(item.done),
                headline=item.plan.headline if item.plan is not None else "",
            )
            for item in rounds.listing(store)
        )
    )


def one(store: Store, slug: str) -> RoundTold:
    """One round; raises UnknownId."""
    return _told(rounds.one(store, slug))


def add(store: Store, payload: Any) -> RoundTold:
    """Keep a round, given as plain data; raises InputError."""
    return _told(rounds.make(store, payload))


def change(store: Store, slug: str, payload: Any) -> RoundTold:
    """Change a round, given as plain data with its version; raises InputError and Changed."""
    told = validated(RoundChange, payload)
    return _told(rounds.change(store, slug, told.round.model_dump(mode="json"), told.version))


def plan(store: Store, slug: str, payload: Any) -> RoundTold:
    """Plan a round at its version; raises InputError, UnknownId and Changed."""
    return _told(round_plan.plan(store, slug, validated(RoundPlanning, payload).version))


def done(store: Store, slug: str, payload: Any) -> RecordMade:
    """Turn a stop into a record; raises InputError and UnknownId."""
    told = validated(StopDone, payload)
    kept = round_done.done(store, slug, told.property, told.area, applicator=told.applicator)
    return RecordMade(
        key=kept.key,
        new=kept.new,
        record=kept.record,
        missing=tuple(gap.name for gap in kept.gaps),
        stock=kept.stock,
    )


def forecast_listing(store: Store) -> ForecastListing:
    """Every forecast."""
    return ForecastListing(forecasts=tuple(_forecast(item) for item in forecasts.every(store)))


def keep_forecast(store: Store, payload: Any) -> ForecastTold:
    """Keep a forecast, given as plain data; raises InputError."""
    told = validated(ForecastToKeep, payload)
    return _forecast(forecasts.keep_told(store, told.weather.model_dump(mode="json"), told.name, datetime.now(UTC)))


def remove_forecast(store: Store, slug: str, version: str | None) -> RoundRemoved:
    """Forget a forecast at its version; raises InputError and Changed."""
    forecasts.remove(store, slug, version_told(version, "forecast"))
    return RoundRemoved(removed=slug)


def _forecast(item: KeptForecast) -> ForecastTold:
    days = dates_of(item.forecast)
    return ForecastTold(
        id=item.slug,
        version=item.version,
        name=item.name,
        place=item.forecast.place,
        timezone=item.forecast.timezone,
        first=days[0],
        last=days[-1],
        hours=len(item.forecast.hours),
        missing_hours=len(gaps(item.forecast)),
    )


def sheet(store: Store, slug: str) -> LoadSheet:
    """The load sheet of a planned round; raises InputError and UnknownId."""
    found = rounds.one(store, slug)
    if found.plan is None:
        raise rounds.not_planned()
    head = round_papers.Head(slug, found.round.name, found.version, found.round.technician, found.round.sprayer or "")
    return round_papers.papers(store, head, found.plan, "us").sheet


def remove(store: Store, slug: str, version: str | None) -> RoundRemoved:
    """Forget a round at its version; raises InputError and Changed."""
    rounds.remove(store, slug, version_told(version, "round"))
    return RoundRemoved(removed=slug)


def _told(kept: KeptRound) -> RoundTold:
    return RoundTold(
        id=kept.slug,
        version=kept.version,
        changed_at=kept.changed_at,
        round=kept.round,
        plan=kept.plan,
        done=tuple(StopRecorded(property=p, area=a, record=key) for (p, a), key in sorted(kept.done.items())),
    )
