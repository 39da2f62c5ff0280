"""Sides compared, as text for people, at eighty columns."""

from __future__ import annotations

from collections.abc import Iterator

from app.engine.output import Amount, Caution
from app.engine.sides import ComparedSide, Risk, SideBySide, Strictest
from app.engine.wording import listed
from app.text import band, caution_lines, ending_lines, injury_line, wrapped


def side_by_side_text(answer: SideBySide) -> str:
    """Sides compared: the verdict, the differences, the bands on one rule, then each side."""
    return "\n".join(_lines(answer)).rstrip() + "\n"


def _lines(answer: SideBySide) -> Iterator[str]:
    yield wrapped(answer.verdict)
    yield ""
    yield "Sides"
    for side in answer.sides:
        yield wrapped(f"{side.number}. {_titled(side)}", "  ", "     ")
    yield ""
    yield "Differences, the most important first"
    for difference in answer.differences:
        mark = "[stop] " if difference.code == "stopped" else ""
        sources = f" [{', '.join(difference.sources)}]" if difference.sources else ""
        yield wrapped(f"{mark}{difference.text}{sources}", "  - ", "    ")
    yield ""
    yield from _bands(answer)
    shared = shared_cautions(answer)
    for side in answer.sides:
        yield from _side(side, shared)
    if shared:
        yield "For all sides"
        yield from caution_lines(shared)
        yield ""
    yield from ending_lines(answer.notices, answer.sources, answer.knowledge_version)


def _titled(side: ComparedSide) -> str:
    return side.name if side.label == side.name else f"{side.label}: {side.name}"


def shared_cautions(answer: SideBySide) -> tuple[Caution, ...]:
    """Cautions that stand on every side, so that they are said once."""
    return tuple(c for c in answer.sides[0].cautions if all(c in side.cautions for side in answer.sides[1:]))


def _bands(answer: SideBySide) -> Iterator[str]:
    for t, first in enumerate(answer.sides[0].control):
        yield f"{first.name}, {first.stage}, {first.days_after} days after the last application"
        for side in answer.sides:
            shown = side.control[t]
            stopped = " [stop]" if side.stops else ""
            if shown.low is None or shown.likely is None or shown.high is None:
                yield wrapped(f"{side.label}{stopped}: {shown.text}", "  ")
                continue
            yield f"  {band(shown.low, shown.likely, shown.high)}"
            figures = f"{shown.low:.0f} to {shown.high:.0f}, likely {shown.likely:.0f} % ({shown.basis})"
            yield f"    {side.label}{stopped}: {figures}"
        for overlap in answer.overlaps:
            if overlap.weed == first.weed:
                yield wrapped(overlap.text, "  ")
        yield ""


def _side(side: ComparedSide, shared: tuple[Caution, ...]) -> Iterator[str]:
    yield _titled(side)
    for product in side.composition:
        if product.product is not None and product.rate is not None:
            yield f"  {product.product} ({product.formulation}), {_amount(product.rate)}"
        for active in product.actives:
            content = f", {_amount(active.content)} in it" if active.content is not None else ""
            how = f"group {active.group}, {active.mechanism}, {active.movement}"
            yield wrapped(
                f"{active.name} ({active.form_name}) {_amount(active.rate)}{content}; {how}", "    ", "      "
            )
    if side.adjuvant is not None:
        rate = f" {_amount(side.adjuvant.rate)}" if side.adjuvant.rate is not None else ""
        yield f"    {side.adjuvant.name}{rate}"
    yield f"  sprayed {'once' if side.passes == 1 else f'twice, {side.interval_days} days apart'}"
    for stop in side.stops:
        yield wrapped(f"[stop] {stop.text}", "  ", "    ")
    for injury in side.turf_injury:
        yield injury_line(injury)
    yield from (wrapped(line, "  ", "    ") for line in _properties(side))
    yield from caution_lines(c for c in side.cautions if c not in shared)
    yield ""


def _properties(side: ComparedSide) -> Iterator[str]:
    for limit in side.temperature:
        beyond = "above" if limit.bound == "max" else "below"
        yield f"{limit.outcome} {beyond} {limit.degrees_f:g} F: {limit.of} ({limit.by})"
    for rule in side.adjuvant_rules:
        yield f"{rule.name} {rule.use}: {rule.of} ({rule.by})"
    yield f"least carrier volume: {_strictest(side.carrier_floor)}"
    yield f"hours without rain: {_strictest(side.rainfast)}"
    yield f"wait before seeding: {_strictest(side.seeding_wait)}"
    speed = side.symptoms
    if speed.first_days is not None and speed.full_days is not None:
        first, full = (f"{low:g} to {high:g} days" for low, high in (speed.first_days, speed.full_days))
        yield f"symptoms: first {first} ({listed(speed.first_of)}), full {full} ({listed(speed.full_of)})"
    for words, risk in (("movement in soil", side.soil_movement), ("risk to tree roots", side.tree_root_risk)):
        yield f"{words}: {_risk(risk)}"
    cost = side.cost
    if cost.per_1000_ft2 is not None and cost.per_acre is not None:
        yield f"cost: {cost.per_1000_ft2:.2f} {cost.currency} per 1000 ft2, {cost.per_acre:.2f} per acre. {cost.text}"
    else:
        yield f"cost: unknown; {cost.text or 'no product with a price'}"


def _strictest(found: Strictest) -> str:
    unknown = f"; not recorded for {listed(found.unknown_of)}" if found.unknown_of else ""
    if found.amount is None:
        return f"{found.text or 'not recorded'}{unknown}"
    return f"{_amount(found.amount)} ({listed(found.of)}){unknown}"


def _risk(found: Risk) -> str:
    unknown = f"; not recorded for {listed(found.unknown_of)}" if found.unknown_of else ""
    return f"{found.level} ({listed(found.of)}){unknown}" if found.level is not None else f"unknown{unknown}"


def _amount(amount: Amount) -> str:
    return f"{amount.value:g} {amount.unit}"
