"""Arranges compared sides as a page shows them; nothing is judged here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from app.engine.output import Caution, Control
from app.engine.sides import ComparedSide, Overlap, Risk, SideBySide, Strictest, TemperatureLimit
from app.engine.wording import listed
from app.web.show import MOVEMENT_WORDS
from knowledge.base import KnowledgeBase

Cell = tuple[str, tuple[str, ...]]


@dataclass(frozen=True)
class Row:
    """One property of all sides: what is said of each, with its sources."""

    name: str
    cells: tuple[Cell, ...]

    @property
    def same(self) -> bool:
        """Whether the same is said of every side."""
        return len({text for text, _ in self.cells}) == 1

    @property
    def sources(self) -> tuple[str, ...]:
        """Sources of all cells, each once."""
        return tuple(dict.fromkeys(source for _, sources in self.cells for source in sources))


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
    lie: tuple[str, ...]


def bands_of(compared: SideBySide) -> list[Bands]:
    """Every weed with the bands of all sides."""
    found = []
    for t, first in enumerate(compared.sides[0].control):
        lanes = tuple((side, side.control[t]) for side in compared.sides)
        lie = lie_words([item for item in compared.overlaps if item.weed == first.weed], compared.sides)
        days = tuple(sorted({control.days_after for _, control in lanes}))
        found.append(Bands(first.name, first.weed, first.stage, days, lanes, lie))
    return found


def lie_words(overlaps: Sequence[Overlap], sides: Sequence[ComparedSide]) -> tuple[str, ...]:
    """How the bands lie, pair by pair, those of which the same is said together."""
    stopped = [side.label for side in sides if side.stops]
    numbers = {side.number: side for side in sides}
    said: dict[str, list[str]] = {}
    for item in overlaps:
        pair = numbers[item.first], numbers[item.second]
        if not any(side.stops for side in pair):
            what = item.text.partition(": ")[2]
            said.setdefault(what, []).append(" and ".join(side.label for side in pair))
    found = []
    for what, pairs in said.items():
        named = what.startswith("no clear") and len(pairs) < len(overlaps)
        found.append(f"{'; '.join(pairs)}: {what}" if named else what[:1].upper() + what[1:])
    if stopped:
        found.append(
            f"{listed(stopped)} may not be used here, so nothing is said for {'them' if stopped[1:] else 'it'}."
        )
    return tuple(found)


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


@dataclass(frozen=True)
class Alone:
    """What one active does by itself on each weed, and the sides that hold it so; None where nothing is recorded."""

    sides: tuple[str, ...]
    name: str
    likely: tuple[float | None, ...]


def alone_of(compared: SideBySide) -> list[Alone]:
    """Each active of the sides by itself, those that do the same on several sides once."""
    found: dict[tuple[str, tuple[float | None, ...]], list[str]] = {}
    for side in compared.sides:
        for part in side.parts():
            told = tuple(
                next((p.likely for p in control.parts if p.active == part.active), None) for control in side.control
            )
            found.setdefault((part.name, told), []).append(side.label)
    return [Alone(tuple(sides), name, likely) for (name, likely), sides in found.items()]


def density(compared: SideBySide, base: KnowledgeBase) -> int:
    """How closely a printed page has to be set so that the whole stands on one, 1 (open) to 8."""
    size = room(compared, base)
    # What would be too small to read stands on two pages instead.
    return _ON_TWO_PAGES if size > _MOST else 1 + sum(size > most for most in _DENSITIES)


def room(compared: SideBySide, base: KnowledgeBase) -> int:
    """Room that a printed page needs, in letters of its text."""
    said = sum(len(item.caution.text) + _MARK for item in cautions_said(compared))
    said += sum(len(d.text) for d in compared.differences if d.code not in repeated_in(compared)) + len(
        compared.verdict
    )
    said += sum(len(stop.text) + _MARK for side in compared.sides for stop in side.stops)
    said += sum(map(len, compared.notices))
    weeds = -(-len(compared.sides[0].control) // 2)
    cells = [row.cells for row in rows_of(compared, base)]
    # A row of the table is as high as its longest cell.
    said += sum(max(len(text) for text, _ in cell) * len(cell) + _ROW for cell in cells)
    return said + weeds * (_WEED + _LANE * len(compared.sides)) + _ALONE * len(alone_of(compared))


# Sentences that the printed page does not repeat: the verdict holds these,
_IN_VERDICT = ("stopped", "control", "control-likely", "no-clear-difference")
# and of three or four sides the table holds these in fewer words.
_IN_TABLE = (
    *("tree-roots", "soil-movement", "heat", "vapour", "symptoms", "seeding", "seedlings", "sites", "adjuvants"),
    *("rainfast", "carrier", "cost", "passes"),
)


def repeated_in(compared: SideBySide) -> tuple[str, ...]:
    """Codes of the sentences that the printed page does not repeat."""
    return _IN_VERDICT if len(compared.sides) == 2 else (*_IN_VERDICT, *_IN_TABLE)


# Letters that a mark, a row, a weed, a band and an active by itself take the room of.
_MARK, _ROW, _WEED, _LANE, _ALONE = 14, 60, 500, 180, 130
# Letters up to which a page is set at each size.
_MOST, _ON_TWO_PAGES = 17500, 4
_DENSITIES = (4500, 6000, 7500, 9500, 11200, 12400, 14500)


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
        row("Least carrier volume", lambda side: _strictest(side, side.carrier_floor)),
        row("Rain-free hours", lambda side: _strictest(side, side.rainfast)),
        row("Symptoms", _speed),
        row("Movement in soil", lambda side: _risk(side, side.soil_movement)),
        row("Risk to tree roots", lambda side: _risk(side, side.tree_root_risk)),
        row("Vapour", lambda side: _risk(side, side.vapour)),
        row("Wait before seeding", lambda side: _strictest(side, side.seeding_wait)),
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
    whose: dict[tuple[str, str], dict[str, None]] = {}
    for rule in side.adjuvant_rules:
        whose.setdefault((_USES[rule.use], rule.name), {}).setdefault(rule.of)
    named: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for (use, name), of in whose.items():
        named.setdefault((use, tuple(of)), []).append(name)
    text = "; ".join(f"{use} {listed(names)} ({listed(of)})" for (use, of), names in named.items())
    return text or _NOTHING, tuple(dict.fromkeys(s for rule in side.adjuvant_rules for s in rule.sources))


_USES = {"required": "needs", "recommended": "gains by", "forbidden": "takes no"}


def _unknown(names: Iterable[str], text: str) -> str:
    missing = listed(names)
    return f"{text}; unknown for {missing}" if missing else text


def _whose(side: ComparedSide, of: Sequence[str]) -> str:
    """Whose a figure is, in brackets; nothing where every active of the side has it."""
    return "" if {part.name for part in side.parts()} <= set(of) else f" ({listed(of)})"


def _strictest(side: ComparedSide, found: Strictest) -> Cell:
    if found.amount is None:
        return _unknown(found.unknown_of, found.text or _NOTHING), ()
    text = f"{found.amount.value:g} {found.amount.unit}{_whose(side, found.of)}"
    return _unknown(found.unknown_of, text), found.sources


def _speed(side: ComparedSide) -> Cell:
    found = side.symptoms
    if found.first_days is None or found.full_days is None:
        return _unknown(found.unknown_of, "not recorded"), ()
    first, full = (f"{low:g} to {high:g} days" for low, high in (found.first_days, found.full_days))
    text = f"first {first}{_whose(side, found.first_of)}, full {full}{_whose(side, found.full_of)}"
    return _unknown(found.unknown_of, text), found.sources


def _risk(side: ComparedSide, found: Risk) -> Cell:
    if found.level is None:
        return _unknown(found.unknown_of, "not recorded"), ()
    return _unknown(found.unknown_of, f"{found.level}{_whose(side, found.of)}"), found.sources


def _seedlings(side: ComparedSide) -> Cell:
    several = len(side.seedlings) > 1
    told = [f"{f'{y.turf}: ' if several else ''}{y.text}{_whose(side, y.of)}" for y in side.seedlings]
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
