"""What sets sides apart, one sentence for each difference, the most important first; and the verdict.

A side against which a stop stands is never said to do better than another. Where bands overlap, no
difference is claimed. What is unknown is said to be unknown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.engine.exchanged import ROOTS, carried_differences
from app.engine.output import Control
from app.engine.property_differences import property_differences
from app.engine.sides import ComparedSide, Difference, Standing
from app.engine.standing import band_of, standing_of
from app.engine.weighed import Sides, Weighed, difference
from app.engine.wording import capital, listed


def differences_of(weighed: Weighed) -> tuple[Difference, ...]:
    """Every difference that matters, the most important first."""
    carried = tuple(d for pair in weighed.pairs for d in carried_differences(weighed, *pair))
    # With two sides the sentence on what they carry tells the risk to roots already.
    roots_told = len(weighed.sides) == 2 and any(ROOTS in d.text for d in carried)
    found = (
        *_stopped(weighed),
        *_control(weighed),
        *_unknown(weighed),
        *carried,
        *_equal(weighed),
        *(d for pair in weighed.pairs for d in _elsewhere(weighed, *pair)),
        *property_differences(weighed.base, weighed.sides, weighed.open, roots_told=roots_told),
    )
    return tuple(d.model_copy(update={"text": _starting(weighed.sides, d.text)}) for d in found)


def _starting(sides: Sides, text: str) -> str:
    """A capital at the start, but for the name of a side or an active, which keeps its letters."""
    if any(text.startswith(side.label) for side in sides):
        return text
    return capital(text)


def _stopped(weighed: Weighed) -> Iterator[Difference]:
    """Sides that may not be used, those against which the same stops stand together."""
    groups: dict[tuple[str, ...], list[ComparedSide]] = {}
    for side in weighed.sides:
        if side.stops:
            groups.setdefault(tuple(stop.text for stop in side.stops), []).append(side)
    for stops, sides in groups.items():
        more = len(stops) - 1
        also = f" {more} more {'stops stand' if more > 1 else 'stop stands'} against it." if more else ""
        text = f"{listed(side.label for side in sides)} may not be used here: {_whole(stops[0])}{also}"
        yield difference("stopped", text, sides, (), (s for stop in sides[0].stops for s in stop.sources))


def _whole(text: str) -> str:
    return f"{text.rstrip('.')}."


def _pairs_at(weighed: Weighed, weed: str, standing: Standing) -> list[tuple[ComparedSide, ComparedSide]]:
    """Pairs of sides that stand so on a weed, the one that does more first; none that is stopped."""
    by_number = {side.number: side for side in weighed.open}
    found = []
    for item in weighed.overlaps:
        if item.weed != weed or item.standing != standing or item.difference is None:
            continue
        pair = (item.first, item.second) if item.difference > 0 else (item.second, item.first)
        if all(number in by_number for number in pair):
            found.append((by_number[pair[0]], by_number[pair[1]]))
    return found


_STANDINGS: tuple[tuple[Standing, str, str, str], ...] = (
    ("apart", "control", "does clearly more", "the bands do not overlap"),
    ("likely", "control-likely", "likely does more", "the bands overlap, so some sites will show no difference"),
)


def _control(weighed: Weighed) -> Iterator[Difference]:
    """A side that does more on a weed than others: clearly, then likely."""
    for standing, code, how, bands in _STANDINGS:
        for t, target in enumerate(weighed.understood.targets):
            pairs = _pairs_at(weighed, target.weed.id, standing)
            for side in weighed.open:
                less = [other for more, other in pairs if more is side]
                if not less:
                    continue
                figures = listed(f"{other.control[t].likely:.0f}" for other in less)
                text = (
                    f"on {target.weed.name} {side.label} {how} than {listed(s.label for s in less)}: "
                    f"likely {side.control[t].likely:.0f} against {figures} % control; {bands}."
                )
                sources = (s for one in (side, *less) for s in one.control[t].sources)
                yield difference(code, text, (side, *less), (target.weed.id,), sources)


def _unknown(weighed: Weighed) -> Iterator[Difference]:
    for t, target in enumerate(weighed.understood.targets):
        without = [side for side in weighed.sides if side.control[t].likely is None]
        if without:
            names = listed(side.label for side in without)
            text = f"on {target.weed.name} nothing is known of {names}, so nothing is said for or against it there."
            yield difference("unknown", text, without, (target.weed.id,))


def _equal_weeds(weighed: Weighed) -> list[int]:
    """Targets on which no side that may be used can be told from another."""
    numbers = {side.number for side in weighed.open}
    found = []
    for t, target in enumerate(weighed.understood.targets):
        here = [o for o in weighed.overlaps if o.weed == target.weed.id and {o.first, o.second} <= numbers]
        if here and all(o.standing == "equal" for o in here):
            found.append(t)
    return found


def _equal(weighed: Weighed) -> Iterator[Difference]:
    equal = _equal_weeds(weighed)
    if not equal:
        return
    names = listed(
        f"{weighed.understood.targets[t].weed.name} ({listed(f'{s.control[t].likely:.0f}' for s in weighed.open)} %)"
        for t in equal
    )
    order = f" with {listed(side.label for side in weighed.open)}"
    text = f"no clear difference on {names}{order}: bands overlap; treat as equal."
    sources = (s for side in weighed.open for t in equal for s in side.control[t].sources)
    yield difference(
        "no-clear-difference", text, weighed.open, (weighed.understood.targets[t].weed.id for t in equal), sources
    )


def _elsewhere(weighed: Weighed, first: ComparedSide, second: ComparedSide) -> Iterator[Difference]:
    """Other weeds met on this turf now on which the two differ by much: up to so many either way."""
    if first.stops or second.stops:
        return
    parameter = weighed.base.parameter
    points, most = parameter("side-other-points"), round(parameter("side-other-named"))
    worthwhile = parameter("worthwhile-control")
    rows = []
    for one, other in zip(weighed.elsewhere[first.number - 1], weighed.elsewhere[second.number - 1], strict=True):
        mine, theirs = band_of(one), band_of(other)
        standing = standing_of(one, other)
        if mine is None or theirs is None or standing == "equal" or max(mine[1], theirs[1]) < worthwhile:
            continue
        if abs(mine[1] - theirs[1]) >= points:
            rows.append((standing != "apart", -abs(mine[1] - theirs[1]), one.name, mine[1] - theirs[1], one, other))
    rows.sort(key=lambda row: row[:3])
    by_side = (
        (first, [(one, other) for _, _, _, apart, one, other in rows if apart > 0][:most]),
        (second, [(other, one) for _, _, _, apart, one, other in rows if apart < 0][:most]),
    )
    clauses = [
        f"{side.label} does more on {listed(_other_words(*pair) for pair in part)}" for side, part in by_side if part
    ]
    if clauses:
        shown = [pair for _, part in by_side for pair in part]
        sources = (s for pair in shown for control in pair for s in control.sources)
        text = f"of the other weeds met on this turf now, {'; '.join(clauses)}."
        yield difference("other-weeds", text, (first, second), (pair[0].weed for pair in shown), sources)


def _other_words(more: Control, less: Control) -> str:
    overlap = ", likely" if standing_of(more, less) == "likely" else ""
    return f"{more.name} ({more.likely:.0f} against {less.likely:.0f} %{overlap})"


# Kinds of difference as the verdict names them.
_KINDS = {
    "carries": "the actives they carry",
    "also-carries": "the actives they carry",
    "rates": "rates and forms",
    "injury": "turf injury",
    "tree-roots": "risk to tree roots",
    "soil-movement": "movement in soil",
    "heat": "heat",
    "vapour": "vapour",
    "symptoms": "speed of symptoms",
    "mechanisms": "mechanisms",
    "seeding": "the wait before seeding",
    "seedlings": "seedling turf",
    "sites": "sites",
    "adjuvants": "adjuvant rules",
    "rainfast": "rain-free hours",
    "carrier": "carrier volume",
    "cost": "cost",
    "passes": "passes",
}


def verdict_of(weighed: Weighed, differences: Sequence[Difference]) -> str:
    """What is equal and what is not, in a few sentences; a stopped side is never the better one."""
    # What stands against a side is told in full among the differences; here the stop alone is named.
    said = [_whole(": ".join(d.text.split(": ")[:2])) for d in differences if d.code == "stopped"]
    if not weighed.open:
        return " ".join((*said, "None of them may be used here."))
    if len(weighed.open) == 1:
        side = weighed.open[0]
        said.append(f"Only {side.label} passes every stop here; {_expected(side)}.")
        return " ".join(said)
    clear = [d.text for d in differences if d.code in ("control", "control-likely")]
    equal = [weighed.understood.targets[t].weed.name for t in _equal_weeds(weighed)]
    said += [f"{text.partition(';')[0].removesuffix(' control')}." for text in clear]
    if equal:
        names = listed(side.label for side in weighed.open)
        said.append(f"On {listed(equal)} {names} cannot be told apart; treat them as equal.")
    said += [capital(d.text) for d in differences if d.code == "unknown"]
    kinds = list(dict.fromkeys(_KINDS[d.code] for d in differences if d.code in _KINDS))
    if kinds:
        said.append(f"{'They' if not clear else 'They also'} differ in {listed(kinds)}.")
    elif not clear:
        said.append("No difference that matters was found.")
    return " ".join(said)


def _expected(side: ComparedSide) -> str:
    figures = [
        f"{c.likely:.0f} % of {c.name} ({c.low:.0f} to {c.high:.0f})"
        if c.likely is not None
        else f"nothing known of {c.name}"
        for c in side.control
    ]
    return f"expect likely {listed(figures)}"
