"""Arranges compared sides as a page shows them; nothing is judged here."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from app.engine.output import Caution, Control
from app.engine.sides import ComparedSide, Overlap, Risk, SideBySide, Speed, Strictest, TemperatureLimit
from app.engine.wording import listed
from app.web.show import MOVEMENT_WORDS
from knowledge.base import KnowledgeBase

Cell = tuple[str, tuple[str, ...]]


@dataclass(frozen=True)
class Row:
    """One property of all sides: what is said of each, with its sources."""

    name: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Said:
    """A caution and the sides that it is of; no side where it is of all."""

    sides: tuple[str, ...]
    caution: Caution


@dataclass(frozen=True)
class Bands:
    """The bands of all sides on one weed, and how each pair of them lies, in words."""

    name: str
    weed: str
    stage: str
    days: tuple[int, ...]
    lanes: tuple[tuple[ComparedSide, Control], ...]
    overlaps: tuple[Overlap, ...]


def bands_of(compared: SideBySide) -> list[Bands]:
    """Every weed with the bands of all sides."""
    found = []
    for t, first in enumerate(compared.sides[0].control):
        lanes = tuple((side, side.control[t]) for side in compared.sides)
        overlaps = tuple(item for item in compared.overlaps if item.weed == first.weed)
        days = tuple(sorted({control.days_after for _, control in lanes}))
        found.append(Bands(first.name, first.weed, first.stage, days, lanes, overlaps))
    return found


def cautions_said(compared: SideBySide) -> list[Said]:
    """Every caution once, with the sides that it is of, the gravest first."""
    order = {"warning": 0, "caution": 1, "info": 2}
    of: dict[Caution, list[str]] = {}
    for side in compared.sides:
        for caution in side.cautions:
            of.setdefault(caution, []).append(side.label)
    told = [
        Said(() if len(labels) == len(compared.sides) else tuple(labels), caution) for caution, labels in of.items()
    ]
    return sorted(told, key=lambda item: (order[item.caution.severity], bool(item.sides)))


def density(compared: SideBySide) -> str:
    """How closely a printed page has to be set so that the whole stands on one."""
    said = sum(len(item.caution.text) for item in cautions_said(compared))
    said += sum(len(d.text) for d in compared.differences) + len(compared.verdict)
    said += sum(len(stop.text) for side in compared.sides for stop in side.stops)
    lanes = len(compared.sides) * len(compared.sides[0].control)
    size = said + _LANE * lanes + _COLUMN * len(compared.sides)
    return next((name for name, most in _DENSITIES if size <= most), "closest")


# Letters of text that a band and a column of the table take the room of, and up to which a page is set so.
_LANE, _COLUMN = 120, 700
_DENSITIES = (("open", 4500), ("close", 7500), ("closer", 11000))


def rows_of(compared: SideBySide, base: KnowledgeBase) -> list[Row]:
    """What each side is and asks, property by property; a row of which nothing is told of any side is left out."""

    def row(name: str, cell: Callable[[ComparedSide], Cell]) -> Row:
        return Row(name, tuple(cell(side) for side in compared.sides))

    rows = [
        row("Mechanism", _mechanism),
        row("Sprayed", _passes),
        row("Adjuvant", _adjuvant),
        row("Turf", _turf),
        row("Warmest air", lambda side: _limits(side, "max")),
        row("Coldest air", lambda side: _limits(side, "min")),
        row("Adjuvant rules", _adjuvant_rules),
        row("Least carrier volume", lambda side: _strictest(side.carrier_floor)),
        row("Rain-free hours", lambda side: _strictest(side.rainfast)),
        row("Symptoms", lambda side: _speed(side.symptoms)),
        row("Movement in soil", lambda side: _risk(side.soil_movement)),
        row("Risk to tree roots", lambda side: _risk(side.tree_root_risk)),
        row("Vapour", lambda side: _risk(side.vapour)),
        row("Wait before seeding", lambda side: _strictest(side.seeding_wait)),
        row("Seedling turf", _seedlings),
        row("Sites barred", lambda side: _sites(side, base)),
        row("Cost of materials", _cost),
    ]
    return [item for item in rows if any(text != _NOTHING for text, _ in item.cells)]


_NOTHING = "none on record"


def _mechanism(side: ComparedSide) -> Cell:
    groups: dict[str, list[str]] = {}
    for part in side.parts():
        groups.setdefault(f"group {part.group}, {part.mechanism}", []).append(part.name)
    moves: dict[str, list[str]] = {}
    for part in side.parts():
        moves.setdefault(MOVEMENT_WORDS[part.movement], []).append(part.name)
    how = [_of(words, names, len(moves)) for words, names in moves.items()]
    return "; ".join([*(_of(words, names, len(groups)) for words, names in groups.items()), *how]), ()


def _of(words: str, names: list[str], kinds: int) -> str:
    return words if kinds == 1 else f"{words} ({listed(names)})"


def _passes(side: ComparedSide) -> Cell:
    return ("once" if side.passes == 1 else f"twice, {side.interval_days} days apart"), ()


def _adjuvant(side: ComparedSide) -> Cell:
    if side.adjuvant is None:
        return "none", ()
    return side.adjuvant.product or side.adjuvant.name, ()


def _turf(side: ComparedSide) -> Cell:
    told = [
        t.text + (f" Likely injury {t.likely_pct:.0f} %." if t.likely_pct is not None else "") for t in side.turf_injury
    ]
    return " ".join(told), tuple(dict.fromkeys(s for t in side.turf_injury for s in t.sources))


def _limits(side: ComparedSide, bound: str) -> Cell:
    """The strictest stop and, where it comes before, the strictest caution."""
    worst = min if bound == "max" else max
    word = "above" if bound == "max" else "below"
    found: list[TemperatureLimit] = []
    for outcome in ("stop", "caution"):
        limits = [t for t in side.temperature if t.bound == bound and t.outcome == outcome]
        if limits:
            found.append(worst(limits, key=lambda t: t.degrees_f))
    if len(found) > 1 and worst(found, key=lambda t: t.degrees_f) is found[0]:
        found = found[:1]
    if not found:
        return _NOTHING, ()
    text = "; ".join(f"{t.outcome} {word} {t.degrees_f:g} F ({t.of}, by its {_BY[t.by]})" for t in found)
    return text, tuple(dict.fromkeys(s for t in found for s in t.sources))


_BY = {"form": "form", "active": "own limit", "turf": "limit on this turf", "label": "label"}


def _adjuvant_rules(side: ComparedSide) -> Cell:
    uses: dict[str, dict[str, None]] = {}
    for rule in side.adjuvant_rules:
        uses.setdefault(f"{rule.of} {_USES[rule.use]}", {}).setdefault(rule.name)
    text = "; ".join(f"{words} {listed(names)}" for words, names in uses.items())
    return text or _NOTHING, tuple(dict.fromkeys(s for rule in side.adjuvant_rules for s in rule.sources))


_USES = {"required": "needs", "recommended": "gains by", "forbidden": "takes no"}


def _unknown(names: Iterable[str], text: str) -> str:
    missing = listed(names)
    return f"{text}; unknown for {missing}" if missing else text


def _strictest(found: Strictest) -> Cell:
    if found.amount is None:
        return _unknown(found.unknown_of, found.text or _NOTHING), ()
    text = f"{found.amount.value:g} {found.amount.unit} ({listed(found.of)})"
    return _unknown(found.unknown_of, text), found.sources


def _speed(found: Speed) -> Cell:
    if found.first_days is None or found.full_days is None:
        return _unknown(found.unknown_of, "not recorded"), ()
    first, full = (f"{low:g} to {high:g} days" for low, high in (found.first_days, found.full_days))
    text = f"first {first} ({listed(found.first_of)}), full {full} ({listed(found.full_of)})"
    return _unknown(found.unknown_of, text), found.sources


def _risk(found: Risk) -> Cell:
    if found.level is None:
        return _unknown(found.unknown_of, "not recorded"), ()
    return _unknown(found.unknown_of, f"{found.level} ({listed(found.of)})"), found.sources


def _seedlings(side: ComparedSide) -> Cell:
    several = len(side.seedlings) > 1
    told = [f"{f'{y.turf}: ' if several else ''}{y.text} ({listed(y.of)})" for y in side.seedlings]
    return "; ".join(told), tuple(dict.fromkeys(s for y in side.seedlings for s in y.sources))


def _sites(side: ComparedSide, base: KnowledgeBase) -> Cell:
    told = [f"{listed(base.sites[key].name for key in bar.sites)} ({bar.of})" for bar in side.sites_barred]
    return "; ".join(told) or _NOTHING, tuple(dict.fromkeys(s for bar in side.sites_barred for s in bar.sources))


def _cost(side: ComparedSide) -> Cell:
    cost = side.cost
    if cost.per_1000_ft2 is None or cost.per_acre is None:
        return f"unknown: {cost.text or 'no product, so no price.'}", ()
    each = f"{cost.per_1000_ft2:.2f} {cost.currency} per 1000 ft2, {cost.per_acre:.2f} {cost.currency} per acre"
    return f"{each}. {cost.text}".strip(), ()
