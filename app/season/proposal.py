"""A planned year as a proposal that a customer can sign, in plain words taken from the facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date as Date
from datetime import timedelta
from typing import Literal

from app.engine.citations import source_ids
from app.engine.output import Output, Statement
from app.season.planned_words import limb
from app.season.pricing import Pricing
from app.season.proposal_purposes import For, in_brief, purposes, treats_leaves, treats_soil
from app.season.proposal_words import day_said, level_words, likely_words, promise, some, window_words
from app.season.year import YearAsked
from app.season.year_calls import Call, calls_of
from app.season.year_output import YearControl, YearPlan
from app.season.year_price import Money, YearPrice
from knowledge.base import KnowledgeBase
from knowledge.models.proposal import ProposalSentence

ProposalPart = Literal["ask", "caution", "cover", "pay"]
PARTS: tuple[ProposalPart, ...] = ("ask", "caution", "cover", "pay")
# Days for which a proposal holds where the branch has not told how it makes its prices.
_VALID_DAYS = Pricing.model_fields["valid_days"].default
_SAME_DAY = "the same day"
# The rule that warns of open flowers.
_FLOWERS = "open-flowers"
# As people say them.
_UNITS = {"in": "inch"}


class ProposalLine(Statement):
    """A sentence for the customer; `part` is where it stands."""

    part: ProposalPart


class ExpectedWeed(Output):
    """How much of a weed is gone over the season: in words, and of 100 plants."""

    name: str
    words: str
    low: float
    likely: float
    high: float


class VisitPurpose(Output):
    """One purpose of a visit.

    Attributes
    ----------
    what, why, expect : str
        What is done, why then, and what will be seen; the last two are empty where an earlier visit said them.
    as_on : int or None
        That visit.
    """

    what: str
    why: str
    expect: str
    as_on: int | None
    sources: tuple[str, ...]


class ProposalVisit(Output):
    """One visit: the days of its window in words, what it is for, and the areas where it is not all of them."""

    order: int
    date: Date
    when: str
    where: str
    purposes: tuple[VisitPurpose, ...]
    price: Money | None


class Proposal(Output):
    """The proposal of a year.

    Attributes
    ----------
    promise : str
        The year in one sentence.
    price : Money or None
        Of the year; None where it is unknown or the branch sets no prices: then it is written by hand.
    offered, valid_until : date
        When it is written, and the last day to sign: before the first visit's window closes.
    """

    season: int
    promise: str
    visits: tuple[ProposalVisit, ...]
    expected: tuple[ExpectedWeed, ...]
    lines: tuple[ProposalLine, ...]
    price: Money | None
    currency: str
    payment: str
    offered: Date
    valid_until: Date

    def of(self, part: ProposalPart) -> tuple[ProposalLine, ...]:
        """The lines of one part."""
        return tuple(line for line in self.lines if line.part == part)


def proposal(
    base: KnowledgeBase,
    asked: YearAsked,
    plan: YearPlan,
    price: YearPrice | None,
    pricing: Pricing | None,
    today: Date,
    *,
    brief: bool = False,
) -> Proposal:
    """The proposal of a planned year, written on a day.

    Parameters
    ----------
    brief : bool
        Whether a visit is said in two sentences at most, its weeds in part by their number.

    Raises
    ------
    ValueError
        For a plan on which nothing is ever applied: there is nothing to propose.
    """
    calls = calls_of(plan, price)
    if not calls:
        raise ValueError("a year without a visit is no proposal")
    controls = season_controls(plan)
    last = today + timedelta(days=pricing.valid_days if pricing is not None else _VALID_DAYS)
    closes = calls[0].window.end
    return Proposal(
        season=plan.year,
        promise=promise(base, [call.date for call in calls], tuple(controls.values())),
        visits=tuple(_visits(base, asked, calls, controls, brief)),
        expected=tuple(
            ExpectedWeed(
                name=one.name, words=level_words(base, one.likely), low=one.low, likely=one.likely, high=one.high
            )
            for one in sorted(controls.values(), key=lambda one: (-one.likely, one.name))
        ),
        lines=tuple(_lines(base, asked, calls)),
        price=price.price if price is not None else None,
        currency=price.currency if price is not None else plan.currency,
        payment=pricing.payment if pricing is not None else "",
        offered=today,
        valid_until=min(last, closes) if today <= closes else last,
    )


def season_controls(plan: YearPlan) -> dict[str, YearControl]:
    """What is expected of each weed on the whole property, by its id; of its worst area where only areas are told."""
    found: dict[str, YearControl] = {}
    for one in plan.control:
        before = found.get(one.weed)
        if before is None or one.area is None or (before.area is not None and one.likely < before.likely):
            found[one.weed] = one
    return found


def _visits(
    base: KnowledgeBase, asked: YearAsked, calls: Sequence[Call], controls: Mapping[str, YearControl], brief: bool
) -> Iterator[ProposalVisit]:
    names = {area.id: area.name or area.id.replace("-", " ") for area in asked.areas}
    first: dict[str, int] = {}
    for call, every in zip(calls, purposes(base, asked.zone, calls), strict=True):
        told = in_brief(every) if brief else every
        treated = dict.fromkeys(part.area for part in call.parts)
        yield ProposalVisit(
            order=call.order,
            date=call.date,
            when=window_words(call.window.start, call.window.end),
            where="" if len(treated) == len(names) else limb([names[key] for key in treated]),
            purposes=tuple(
                _purpose(base, one, _SAME_DAY if place else f"about {day_said(call.date)}", controls, first, brief)
                for place, one in enumerate(told)
            ),
            price=call.price.price if call.price is not None else None,
        )
        for one in told:
            first.setdefault(one.purpose, call.order)


def _purpose(
    base: KnowledgeBase,
    told: For,
    when: str,
    controls: Mapping[str, YearControl],
    first: Mapping[str, int],
    brief: bool,
) -> VisitPurpose:
    """A purpose in words; `first` tells on which visit each purpose was explained."""
    as_on = first.get(told.purpose)
    known = [controls[key] for key in told.weeds if key in controls]
    names = [base.weeds[key].name for key in told.weeds]
    values = {
        "weeds": some(names) if brief else limb(names),
        "when": when,
        "likely": likely_words(known) if known else "",
    }
    said = {s.part: s for s in base.proposal.values() if told.purpose in s.when}
    shown = [said["what"], *([] if as_on is not None else [said["why"], *([said["expect"]] if known else [])])]
    texts = {sentence.part: _filled(sentence, **values) for sentence in shown}
    return VisitPurpose(
        what=texts["what"],
        why=texts.get("why", ""),
        expect=texts.get("expect", ""),
        as_on=as_on,
        sources=source_ids(tuple(citation for sentence in shown for citation in sentence.sources)),
    )


def _lines(base: KnowledgeBase, asked: YearAsked, calls: Sequence[Call]) -> Iterator[ProposalLine]:
    parts = [part for call in calls for part in call.parts]
    cases = {"always", *(key for area in asked.areas for key in area.surroundings)}
    cases |= {"soil"} if any(treats_soil(base, part) for part in parts) else set()
    cases |= {"leaf"} if any(treats_leaves(base, part) for part in parts) else set()
    # What flowers on the day of a visit is met by bees, whoever told of it.
    cases |= {"bloom-in-turf"} if any(c.code == _FLOWERS for part in parts for c in part.cautions) else set()
    for place in PARTS:
        for said in sorted(base.proposal.values(), key=lambda one: (one.order, one.id)):
            if said.part == place and cases & set(said.when):
                yield ProposalLine(code=said.id, part=place, text=_filled(said), sources=source_ids(said.sources))


def _filled(said: ProposalSentence, **values: str) -> str:
    figures = {name: f"{a.value:g} {_UNITS.get(a.unit, a.unit)}" for name, a in said.figures.items()}
    return said.text.format(**figures, **values)
