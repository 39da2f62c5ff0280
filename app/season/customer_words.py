"""What the customer is told about an application, in plain words taken from the facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date as Date
from datetime import timedelta

from app.engine.citations import source_ids
from app.engine.product import Product
from app.engine.rules.turf import seeding_wait
from app.season.load_output import CustomerLine
from knowledge.base import KnowledgeBase
from knowledge.models import Active, Citation

_DAYS_PER_WEEK = 7
_HOURS_PER_DAY = 24
# From here on a span reads better in the larger unit.
_WEEKS_FROM, _DAYS_FROM = 14, 48
# As people say them.
_UNITS = {"in": "inch"}
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
_PARTS = ("now", "look", "next", "law")


@dataclass(frozen=True)
class Applied:
    """What a customer's lawn got.

    Attributes
    ----------
    actives, turf : tuple of str
        Ids of the knowledge base.
    labels : tuple of Product
        The labels of its products, as far as they were typed.
    rainfast_hours : float or None
        Dry hours that the tank needs [h].
    flowers : bool
        Whether something in the lawn flowers.
    again : date or None
        When it gets its second application.
    """

    date: Date
    actives: tuple[str, ...]
    turf: tuple[str, ...]
    labels: tuple[Product, ...] = ()
    spot: bool = False
    rainfast_hours: float | None = None
    flowers: bool = False
    children_or_pets: bool = False
    again: Date | None = None


@dataclass
class _Cases:
    """The cases that hold, with what fills their sentences and where that stands."""

    values: dict[str, dict[str, str]] = field(default_factory=dict)
    sources: dict[str, tuple[Citation, ...]] = field(default_factory=dict)

    def hold(self, case: str, sources: Iterable[Citation] = (), **values: str) -> None:
        self.values[case] = values
        self.sources[case] = tuple(sources)


def customer_words(base: KnowledgeBase, applied: Applied) -> tuple[CustomerLine, ...]:
    """The sentences for one customer, in the order of the slip.

    Parameters
    ----------
    applied : Applied
        What was applied, and where.

    Returns
    -------
    tuple of CustomerLine
        What is not known is left out, or says that it is to be asked for; nothing is assumed.
    """
    cases = _cases(base, applied)
    found = []
    for said in sorted(base.customer.values(), key=lambda item: (_PARTS.index(item.part), item.order, item.id)):
        case = next((name for name in said.when if name in cases.values), None)
        if case is None or (said.actives and not set(said.actives) & set(applied.actives)):
            continue
        figures = {name: f"{a.value:g} {_UNITS.get(a.unit, a.unit)}" for name, a in said.figures.items()}
        text = said.text.format(**figures, **cases.values[case])
        sources = source_ids((*said.sources, *cases.sources[case]))
        found.append(CustomerLine(code=said.id, part=said.part, text=text, sources=sources))
    return tuple(found)


def _cases(base: KnowledgeBase, applied: Applied) -> _Cases:
    cases = _Cases()
    actives = [base.actives[key] for key in applied.actives if key in base.actives]
    dry = bool(applied.labels) and all(label.granular for label in applied.labels)
    leaf = not dry and any(active.movement != "barrier" for active in actives)
    cases.hold("always")
    cases.hold("whitening")
    for case, holds in (
        ("spot", applied.spot),
        ("leaf", leaf),
        ("water-in", dry or any(active.movement == "barrier" for active in actives)),
        ("flowers", applied.flowers),
        ("children-or-pets", applied.children_or_pets),
    ):
        if holds:
            cases.hold(case)
    if leaf:
        _rain(cases, applied)
    _reentry(cases, applied)
    _symptoms(cases, actives, applied)
    _clippings(cases, actives)
    _seeding(base, cases, actives, applied)
    return cases


def _rain(cases: _Cases, applied: Applied) -> None:
    if applied.rainfast_hours is None:
        cases.hold("rainfast-untold")
    elif applied.rainfast_hours > 0:
        cases.hold("rainfast", hours=hours_words(applied.rainfast_hours))


def _reentry(cases: _Cases, applied: Applied) -> None:
    told = [(label.reentry_hours, label.name) for label in applied.labels if label.reentry_hours]
    if told:
        hours, product = max(told)
        cases.hold("reentry", hours=hours_words(hours), product=product)


def _symptoms(cases: _Cases, actives: Iterable[Active], applied: Applied) -> None:
    """The first to show is the quickest active; the result is that of the slowest."""
    known = [active.symptoms for active in actives if active.symptoms is not None]
    if applied.again is not None:
        cases.hold("again", day=date_words(applied.again))
    if not known:
        return
    first = min(item.first_days for item in known)
    full = max((item.full_days for item in known), key=lambda days: (days[1], days[0]))
    sources = [citation for item in known for citation in item.sources]
    cases.hold("symptoms", sources, first=days_words(*first), full=days_words(*full))
    if applied.again is None:
        cases.hold("once", sources, full=days_words(*full))


def _clippings(cases: _Cases, actives: Iterable[Active]) -> None:
    rules = [rule for active in actives for rule in active.surroundings if rule.id == "clippings-composted"]
    if rules:
        cases.hold("clippings", [citation for rule in rules for citation in rule.sources])


def _seeding(base: KnowledgeBase, cases: _Cases, actives: Iterable[Active], applied: Applied) -> None:
    """The longest wait of labels and actives; unknown where one of them is."""
    waits, sources, unknown = [0], list[Citation](), not applied.turf
    told = {part.active: label.seeding_interval_days for label in applied.labels for part in label.actives}
    waits += [days for days in told.values() if days is not None]
    for active in actives:
        for turf in applied.turf:
            record = seeding_wait(active, base.turf[turf]) if turf in base.turf else None
            if record is not None and record.days is not None:
                waits.append(record.days)
                sources += record.sources
            elif told.get(active.id) is None:
                unknown = True
    last = applied.again or applied.date
    if unknown:
        cases.hold("seeding-untold", sources)
    elif max(waits) > 0:
        cases.hold("seeding", sources, day=date_words(last + timedelta(days=max(waits))))


def hours_words(hours: float) -> str:
    """So many hours in words.

    >>> hours_words(4), hours_words(1), hours_words(72)
    ('4 hours', '1 hour', '3 days')
    """
    if hours >= _DAYS_FROM and hours % _HOURS_PER_DAY == 0:
        return f"{hours / _HOURS_PER_DAY:g} days"
    return f"{hours:g} hour{'' if hours == 1 else 's'}"


def days_words(low: float, high: float) -> str:
    """A span of days in words.

    >>> days_words(5, 10), days_words(21, 28), days_words(1, 1)
    ('5 to 10 days', '3 to 4 weeks', '1 day')
    """
    unit, size = ("week", _DAYS_PER_WEEK) if low >= _WEEKS_FROM and not (low % 7 or high % 7) else ("day", 1)
    first, last = low / size, high / size
    said = f"{first:g}" if first == last else f"{first:g} to {last:g}"
    return f"{said} {unit}{'' if first == last == 1 else 's'}"


def date_words(day: Date) -> str:
    """A day in words.

    >>> date_words(Date(2027, 7, 13))
    '13 July 2027'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
