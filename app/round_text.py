"""Rounds as text for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from app.text import wrapped

if TYPE_CHECKING:
    from app.season.load_output import LoadSheet, SheetTank
    from app.season.round_output import PlannedStop, PlannedTank, RoundPlan
    from app.services.round_answers import ForecastTold, RecordMade, RoundListing, RoundTold

_IN, _MORE = "  ", "    "


def listing_text(found: RoundListing) -> str:
    """Every round in a line or two."""
    if not found.rounds:
        return "No round is kept yet; make one with `swardwright rounds make ROUND.json`.\n"
    lines = []
    for item in found.rounds:
        who = f", {item.technician}" if item.technician else ""
        lines.append(f"{item.date}  {item.name} ({item.id}){who}: {item.stops} areas, {item.done} recorded")
        lines.append(wrapped(item.headline or "not planned yet", _IN, _IN))
    return _text(lines)


def round_text(found: RoundTold) -> str:
    """A round with its plan."""
    return _text(_round(found))


def _round(found: RoundTold) -> Iterator[str]:
    told = found.round
    yield f"{told.name} ({found.id}), {told.date}{f', {told.technician}' if told.technician else ''}"
    if found.plan is None:
        yield f"{len(told.stops)} areas, at most {told.tanks} tanks."
        yield f"Not planned yet: swardwright rounds plan {found.id}"
        return
    yield from _plan(found.plan)
    if found.done:
        yield f"Recorded: {', '.join(f'{item.property} {item.area}' for item in found.done)}"


def _plan(plan: RoundPlan) -> Iterator[str]:
    yield wrapped(plan.headline, "", "")
    yield wrapped(plan.weather_text, "", "")
    for tank in plan.tanks:
        yield ""
        yield from _tank(tank)
        for stop in plan.stops:
            if stop.tank == tank.label:
                yield from _stop(stop)
    resting = [stop for stop in plan.stops if stop.tank is None]
    if resting:
        yield ""
        yield "Not sprayed that day"
        for stop in resting:
            yield f"{_IN}{stop.property_name}, {stop.area_name}"
            yield from (wrapped(reason.text, _MORE, _MORE) for reason in stop.why)
    yield ""
    yield "What tanks give"
    yield from (wrapped(item.text, _IN, _MORE) for item in plan.tradeoffs)
    yield from (wrapped(notice, "", "") for notice in plan.notices)


def _tank(tank: PlannedTank) -> Iterator[str]:
    yield f"Tank {tank.label}: {tank.name}; {tank.stops} areas, {tank.treated.value:g} {tank.treated.unit}"
    for product in tank.products:
        parts = ", ".join(f"{a.name} {a.rate.value:g} {a.rate.unit}" for a in product.actives)
        if product.product is None or product.rate is None:
            yield f"{_IN}{parts}"
        else:
            yield f"{_IN}{product.product} at {product.rate.value:g} {product.rate.unit} ({parts})"
    if tank.open_hours:
        yield wrapped(f"{tank.open_hours}.", _IN, _IN)


def _stop(stop: PlannedStop) -> Iterator[str]:
    expected = "; ".join(f"{c.name} {c.likely:.0f} %" for c in stop.control if c.likely is not None)
    yield f"{_IN}{stop.property_name}, {stop.area_name}: {expected}"
    yield wrapped(f"{stop.method_text} {stop.given_up_text}", _MORE, _MORE)
    if stop.again is not None:
        yield f"{_MORE}Second application on {stop.again}."
    yield from (wrapped(f"{c.severity}: {c.text}", _MORE, _MORE) for c in stop.cautions if c.severity == "warning")


def forecast_text(found: ForecastTold) -> str:
    """A forecast that was kept."""
    gaps = f", {found.missing_hours} missing" if found.missing_hours else ""
    return f"Kept: {found.name} ({found.id}), {found.hours} hours{gaps}, {found.first} to {found.last}\n"


def sheet_text(found: LoadSheet) -> str:
    """A load sheet."""
    return _text(_sheet(found))


def _sheet(found: LoadSheet) -> Iterator[str]:
    yield f"Load sheet, {found.date}"
    yield wrapped(found.headline, "", "")
    for tank in found.tanks:
        yield ""
        yield from _load(tank)
    yield ""
    for stop in found.stops:
        amounts = ", ".join(f"{a.name} {a.amount.value:g} {a.amount.unit}" for a in stop.amounts)
        yield f"[ ] {stop.number}. {stop.property_name}, {stop.area_name}: tank {stop.tank}, {stop.method}"
        yield wrapped(f"{stop.treated.value:g} {stop.treated.unit}{f'; {amounts}' if amounts else ''}", _MORE, _MORE)
        yield from (wrapped(c.text, _MORE, _MORE) for c in stop.cautions if c.severity != "info")
    for rest in found.waiting:
        until = f" until {rest.until}" if rest.until is not None else ""
        yield f"    Not sprayed{until}: {rest.property_name}, {rest.area_name}"
    yield from (wrapped(notice, "", "") for notice in found.notices)


def _load(tank: SheetTank) -> Iterator[str]:
    yield f"Tank {tank.label}: {tank.name}"
    if tank.unpoured:
        yield wrapped(tank.unpoured, _IN, _IN)
    yield from (wrapped(f"STOP: {stop.text}", _IN, _IN) for stop in tank.stops)
    for fill in tank.fills:
        mark = f": to {fill.spray.value:g} {fill.spray.unit}" if fill.spray is not None else ", spread dry"
        yield f"{_IN}{fill.count} x {fill.title}{mark}"
        yield from (f"{_MORE}{pour.name}: {pour.said}" for pour in fill.pours)
    yield from (wrapped(text, _IN, _IN) for text in tank.spreader)
    yield from (f"{_IN}{number}. {step.text}" for number, step in enumerate(tank.order, start=1))


def done_text(found: RecordMade) -> str:
    """What a stop became."""
    lines = [f"{'Kept' if found.new else 'Stood already'}: record {found.key}"]
    lines += [wrapped(f"Still to be filled: {', '.join(found.missing)}.", _IN, _IN)] if found.missing else []
    lines += [wrapped(text, _IN, _IN) for text in found.stock]
    return _text(lines)


def _text(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in lines)
