"""Differences in what sides ask of turf, place, weather and purse, one sentence each.

Only sides against which no stop stands are said to do better; the rest is told as it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from app.engine.side_properties import LEVELS
from app.engine.sides import ComparedSide, Difference, Risk, Strictest
from app.engine.wording import listed
from knowledge.base import KnowledgeBase

Sides = tuple[ComparedSide, ...]
# A side with a figure of its own: the side, its size, and how it is said.
Row = tuple[ComparedSide, float, str]
_COUNTS = {1: "one mechanism", 2: "two mechanisms", 3: "three mechanisms"}


def property_differences(base: KnowledgeBase, sides: Sides, usable: Sides, *, roots_told: bool) -> Iterator[Difference]:
    """Every difference in properties that matters.

    Parameters
    ----------
    usable : tuple of ComparedSide
        The sides against which no stop stands.
    roots_told : bool
        Whether the risk to tree roots has been told already.
    """
    yield from _rates(base, sides)
    yield from _injury(base, usable)
    if not roots_told:
        yield from _risk(usable, "tree-roots", "risk to tree roots through the soil", lambda s: s.tree_root_risk)
    yield from _risk(usable, "soil-movement", "movement in soil", lambda s: s.soil_movement)
    yield from _heat(sides)
    yield from _risk(usable, "vapour", "vapour loss", lambda s: s.vapour)
    yield from _symptoms(base, usable)
    yield from _mechanisms(sides)
    yield from _seeding(base, usable)
    yield from _seedlings(sides)
    yield from _sites(base, sides)
    yield from _adjuvants(sides)
    yield from _told_apart(sides, "rainfast", "hours without rain", lambda s: s.rainfast)
    yield from _told_apart(sides, "carrier", "least carrier volume", lambda s: s.carrier_floor)
    yield from _cost(base, usable)
    yield from _passes(sides)


def _made(code: str, text: str, sides: Iterable[ComparedSide], sources: Iterable[str] = ()) -> Difference:
    numbers = tuple(side.number for side in sides)
    return Difference(code=code, text=text, weeds=(), sides=numbers, sources=tuple(dict.fromkeys(sources)))


def _ahead(rows: Sequence[Row], gap: float) -> tuple[list[Row], list[Row]]:
    """Rows of the least size, those nearer to it than the gap with them, and the others; both keep their order."""
    least = min((row[1] for row in rows), default=0.0)
    return [r for r in rows if r[1] - least < gap], [r for r in rows if r[1] - least >= gap]


def _against(first: Sequence[Row], rest: Sequence[Row]) -> tuple[str, str]:
    """Those ahead by name, and the figures of all: the ones ahead, then the others with their names."""
    told = listed(dict.fromkeys(row[2] for row in first))
    others = listed(f"{row[2]} with {row[0].label}" for row in rest)
    return listed(row[0].label for row in first), f"{told} against {others}"


def _rates(base: KnowledgeBase, sides: Sides) -> Iterator[Difference]:
    """An active that all carry, at rates or in forms that differ."""
    share = base.parameter("side-rate-share")
    for part in sides[0].parts():
        same = [(side, p) for side in sides for p in side.parts() if p.active == part.active]
        if len(same) < len(sides):
            continue
        rates = [p.rate.value for _, p in same]
        forms = {p.form for _, p in same}
        if max(rates) <= min(rates) * (1 + share) and len(forms) == 1:
            continue
        told = listed(
            f"{s.label} {p.rate.value:g} {p.rate.unit}" + (f" as {p.form_name}" if len(forms) > 1 else "")
            for s, p in same
        )
        yield _made("rates", f"{'both' if len(sides) == 2 else 'all'} carry {part.name}: {told}.", sides)


def _injury(base: KnowledgeBase, usable: Sides) -> Iterator[Difference]:
    points = base.parameter("side-injury-points")
    for t, turf in enumerate(usable[0].turf_injury if len(usable) > 1 else ()):
        rows: list[Row] = []
        for side in usable:
            shown = side.turf_injury[t]
            if shown.likely_pct is not None:
                rows.append((side, shown.likely_pct, f"likely {shown.likely_pct:.0f} %"))
        first, rest = _ahead(rows, points)
        if rest:
            who, figures = _against(first, rest)
            text = f"{who} {_verb(first, 'is', 'are')} the gentler on {turf.name}: {figures} injury."
            sources = (s for side in usable for s in side.turf_injury[t].sources)
            yield _made("injury", text, usable, sources)


def _verb(rows: Sequence[Row], one: str, several: str) -> str:
    return one if len(rows) == 1 else several


def _risk(usable: Sides, code: str, what: str, of: Callable[[ComparedSide], Risk]) -> Iterator[Difference]:
    """The side with the least risk; one of which a part is not recorded is never it."""
    risks = [(side, of(side)) for side in usable]
    unknown = [(side, risk) for side, risk in risks if risk.level is None or risk.unknown_of]
    rows: list[Row] = [
        (side, LEVELS.index(risk.level), f"{risk.level} ({listed(risk.of)})")
        for side, risk in risks
        if risk.level is not None and not risk.unknown_of
    ]
    first, rest = _ahead(rows, 1)
    if not rest and not (unknown and rows):
        return
    sources = [s for _, risk in risks for s in risk.sources]
    if rest:
        who, figures = _against(first, rest)
        text = f"less {what} with {who}: {figures}"
    else:
        text = f"{what}: {listed(f'{row[2]} with {row[0].label}' for row in rows)}"
    if unknown:
        text += f"; not recorded for {listed(n for s, risk in unknown for n in risk.unknown_of)}, so unknown"
    yield _made(code, f"{text}.", usable, sources)


def _heat(sides: Sides) -> Iterator[Difference]:
    limits = [(side, side.warmest()) for side in sides]
    ceilings = {limit.degrees_f if limit is not None else None for _, limit in limits}
    if len(ceilings) < 2:
        return
    told = _grouped(
        (
            side,
            f"not above {limit.degrees_f:g} F ({limit.of}, {limit.text if limit.by == 'form' else _BY[limit.by]})"
            if limit is not None
            else "no ceiling on record, which does not make heat safe",
        )
        for side, limit in limits
    )
    sources = (s for _, limit in limits if limit is not None for s in limit.sources)
    yield _made("heat", f"heat: {told}.", sides, sources)


_BY = {"active": "its own limit", "turf": "its limit on this turf", "label": "its label"}


def _grouped(rows: Iterable[tuple[ComparedSide, str]]) -> str:
    """What is told of each side, those of which the same is told together."""
    groups: dict[str, list[str]] = {}
    for side, words in rows:
        groups.setdefault(words, []).append(side.label)
    return "; ".join(f"{listed(labels)} {words}" for words, labels in groups.items())


def _symptoms(base: KnowledgeBase, usable: Sides) -> Iterator[Difference]:
    """Whose first symptoms show sooner, by the middle of the span of its quickest active."""
    rows: list[Row] = []
    for side in usable:
        days = side.symptoms.first_days
        if days is not None:
            rows.append(
                (side, sum(days) / len(days), f"{days[0]:g} to {days[1]:g} days ({listed(side.symptoms.first_of)})")
            )
    first, rest = _ahead(rows, base.parameter("side-speed-days"))
    if rest:
        who, figures = _against(first, rest)
        text = f"{who} {_verb(first, 'shows', 'show')} first symptoms sooner: {figures}."
        yield _made("symptoms", text, usable, (s for side in usable for s in side.symptoms.sources))


def _mechanisms(sides: Sides) -> Iterator[Difference]:
    if len({side.groups for side in sides}) < 2:
        return
    told = _grouped(
        (
            side,
            f"{_COUNTS.get(len(side.groups), f'{len(side.groups)} mechanisms')} "
            f"(group{'s' if len(side.groups) > 1 else ''} {listed(map(str, side.groups))})",
        )
        for side in sides
    )
    text = f"mechanisms: {told}. Only mechanisms that each work on the weed delay resistance."
    yield _made("mechanisms", text, sides)


def _seeding(base: KnowledgeBase, usable: Sides) -> Iterator[Difference]:
    """Whose wait before seeding is shorter; one of which a part is not recorded is never it."""
    rows: list[Row] = []
    unknown = []
    for side in usable:
        wait = side.seeding_wait
        if wait.amount is None or wait.unknown_of:
            unknown.append(side)
        else:
            rows.append((side, wait.amount.value, f"{wait.amount.value:g} days ({listed(wait.of)})"))
    first, rest = _ahead(rows, base.parameter("side-wait-days"))
    if not rest and not (unknown and rows):
        return
    if rest:
        who, figures = _against(first, rest)
        text = f"after {who} seed can follow sooner: {figures}"
    else:
        text = f"the wait before seeding is {listed(f'{row[2]} with {row[0].label}' for row in rows)}"
    if unknown:
        text += f"; not recorded for {listed(n for s in unknown for n in s.seeding_wait.unknown_of)}, so unknown"
    yield _made("seeding", f"{text}.", usable, (s for side in usable for s in side.seeding_wait.sources))


def _seedlings(sides: Sides) -> Iterator[Difference]:
    for t, turf in enumerate(sides[0].seedlings):
        told = [side.seedlings[t] for side in sides]
        if len({said.text for said in told}) < 2:
            continue
        words = _grouped((side, f"{said.text} ({listed(said.of)})") for side, said in zip(sides, told, strict=True))
        name = sides[0].turf_injury[t].name
        yield _made("seedlings", f"on seedling {name}: {words}.", sides, (s for said in told for s in said.sources))
        assert turf.turf == sides[0].turf_injury[t].turf, "both are in the order of the turfs named"


def _sites(base: KnowledgeBase, sides: Sides) -> Iterator[Difference]:
    barred = [frozenset(key for bar in side.sites_barred for key in bar.sites) for side in sides]
    if len(set(barred)) < 2:
        return
    common = frozenset.intersection(*barred)
    told = []
    for side, keys in zip(sides, barred, strict=True):
        own = [base.sites[key].name for key in base.sites if key in keys - common]
        told.append((side, f"not on {listed(own)}" if own else "no further site barred on record"))
    sources = (s for side in sides for bar in side.sites_barred for s in bar.sources)
    yield _made("sites", f"sites: {_grouped(told)}.", sides, sources)


def _adjuvants(sides: Sides) -> Iterator[Difference]:
    words = {"required": "needs", "recommended": "gains by", "forbidden": "takes no"}
    rules = [{(rule.use, rule.name) for rule in side.adjuvant_rules} for side in sides]
    if len({frozenset(rule) for rule in rules}) < 2:
        return
    common = set.intersection(*rules)
    told = []
    for side, own in zip(sides, rules, strict=True):
        clauses = []
        for use, verb in words.items():
            here = [r for r in side.adjuvant_rules if r.use == use and (use, r.name) in own - common]
            if here:
                named = listed(dict.fromkeys(r.name for r in here))
                clauses.append(f"{verb} {named} ({listed(dict.fromkeys(r.of for r in here))})")
        told.append((side, listed(clauses) if clauses else "asks nothing further on record"))
    sources = (s for side in sides for rule in side.adjuvant_rules for s in rule.sources)
    yield _made("adjuvants", f"adjuvants: {_grouped(told)}.", sides, sources)


def _told_apart(sides: Sides, code: str, what: str, of: Callable[[ComparedSide], Strictest]) -> Iterator[Difference]:
    """A limit that differs, told for each side as it stands."""
    limits = [(side, of(side)) for side in sides]
    if len({(s.amount.value, s.amount.unit) if s.amount is not None else None for _, s in limits}) < 2:
        return
    told = _grouped(
        (side, f"{s.amount.value:g} {s.amount.unit}" if s.amount is not None else s.text or "not recorded")
        for side, s in limits
    )
    yield _made(code, f"{what}: {told}.", sides, (src for _, s in limits for src in s.sources))


def _cost(base: KnowledgeBase, usable: Sides) -> Iterator[Difference]:
    known = [side for side in usable if side.cost.per_1000_ft2 is not None]
    if len(usable) < 2 or not known:
        return
    missing = [side for side in usable if side not in known]
    if missing or len({side.cost.currency for side in known}) > 1:
        why = listed(f"{side.label} ({side.cost.text.rstrip('.') or 'no product, so no price'})" for side in missing)
        text = f"the cost cannot be compared: {why or 'prices are in several currencies'}."
        yield _made("cost", text, usable)
        return
    rows: list[Row] = []
    for side in known:
        each = side.cost.per_1000_ft2 or 0.0
        rows.append((side, each, f"{each:.2f} {side.cost.currency} per 1000 ft2"))
    least = min(row[1] for row in rows)
    first, rest = _ahead(rows, max(least * base.parameter("side-cost-share"), 0.005))
    if rest:
        who, figures = _against(first, rest)
        notes = "".join(f" {side.label}: {side.cost.text}" for side in known if side.cost.text)
        text = f"{who} {_verb(first, 'costs', 'cost')} less: {figures} for all passes.{notes}"
        yield _made("cost", text, usable)


def _passes(sides: Sides) -> Iterator[Difference]:
    if len({side.passes for side in sides}) < 2:
        return
    told = _grouped((side, "once" if side.passes == 1 else f"twice, {side.interval_days} days apart") for side in sides)
    yield _made("passes", f"passes: {told}.", sides)
