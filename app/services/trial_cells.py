"""The cells of a file of plots, read into values; what cannot be read says what would be right."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date as Date
from typing import cast

from pydantic import TypeAdapter, ValidationError

from app.engine.errors import InputError
from app.engine.measures import Day, Rate
from app.engine.understood import nearest
from app.services.csv_text import FORMULA, unguarded
from app.services.label_text import Unreadable, measure, number
from app.services.trial_names import Names, plain
from app.services.validation import validated
from app.trials.trial import Design, Kind
from knowledge.base import KnowledgeBase
from knowledge.models.common import ALL_STAGES, SEASONS, STAGES_BY_LIFE_FORM, Season

MOST_DAYS = 730
MOST_ACTIVES = 5
MOST_APPLICATIONS = 12
_BLANK = frozenset(("", ".", "-", "–", "—", "na", "n/a", "nan"))
# Signs that no printed page or picture can hold.
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_FIRST_COMMA = re.compile(r"^(\s*[-+]?[0-9]*),([0-9]+)")
_LIST = re.compile(r";|(?<![eE])\+|,\s")
_NOTHING = re.compile(r"\s*0+(?:[.,]0*)?(?:\s+\S.*)?", re.DOTALL)
_DAY: TypeAdapter[Date] = TypeAdapter(Day)
_DESIGNS: dict[str, Design] = {
    "rcbd": "rcbd",
    "rcb": "rcbd",
    "crd": "crd",
    **{
        f"randomi{z}edcompleteblock{end}": "rcbd"
        for z in "sz"
        for end in ("", "s", "design")
    },
    **{f"completelyrandomi{z}ed{end}": "crd" for z in "sz" for end in ("", "design")},
}  # fmt: skip
_KINDS: dict[str, Kind] = {"plots": "plots", "plot": "plots", "lawns": "lawns", "lawn": "lawns"}
_SOME = 12


def is_blank(cell: str) -> bool:
    """Whether a cell says nothing: empty, a point, a dash or NA."""
    return cell.strip().casefold() in _BLANK


def pointed(cell: str) -> str:
    """A figure with a decimal comma, as files between semicolons write it, with its point."""
    return _FIRST_COMMA.sub(r"\1.\2", cell)


def text(cell: str, most: int) -> str:
    """A name, its white space made plain, of at most so many letters."""
    if FORMULA.match(cell) and not cell.startswith("'"):
        raise Unreadable(f"{_short(cell)} starts like a formula; write it without that sign, or after an apostrophe")
    told = " ".join(unguarded(cell).split())
    if _CONTROL.search(told):
        raise Unreadable("holds a sign that cannot be printed; type the cell again")
    if len(told) > most:
        raise Unreadable(f"{_short(told)} has {len(told):,} letters; write at most {most}")
    return told


def percent(cell: str) -> float:
    """A percentage from 0 to 100."""
    told = cell.strip().removesuffix("%").rstrip()
    try:
        found = number(told)
    except Unreadable as error:
        if "two things" in str(error):
            raise
        what = "write a percentage from 0 to 100, or leave the cell empty where it was not rated"
        raise Unreadable(f"{_short(cell)} is no figure; {what}") from error
    if not 0 <= found <= 100:
        raise Unreadable(f"{_short(cell)} is out of range; a percentage lies between 0 and 100")
    return found


def days(cell: str) -> int:
    """A whole number of days after application."""
    what = f"write whole days after application, 0 to {MOST_DAYS}"
    try:
        found = number(cell)
    except Unreadable as error:
        raise Unreadable(f"{_short(cell)} is no number of days; {what}") from error
    if found != int(found) or not 0 <= found <= MOST_DAYS:
        raise Unreadable(f"{_short(cell)} is no number of days that can be; {what}")
    return int(found)


def day(cell: str) -> Date:
    """A day of the calendar."""
    try:
        return _DAY.validate_python(cell.strip())
    except ValidationError as error:
        said = str(error.errors(include_url=False)[0]["msg"]).removeprefix("Value error, ")
        raise Unreadable(f"{_short(cell)}: {said}" if cell.strip() not in said else said) from error


def design(cell: str) -> Design:
    """The design of a trial."""
    if (found := _DESIGNS.get(plain(cell))) is None:
        what = "write rcbd (randomised complete blocks) or crd (completely randomised)"
        raise Unreadable(f"{_short(cell)} is no design that this knows; {what}")
    return found


def kind(cell: str) -> Kind:
    """Whether a trial is of plots or of treated lawns."""
    if (found := _KINDS.get(plain(cell))) is None:
        what = "write plots, or lawns for treated lawns rated without a check"
        raise Unreadable(f"{_short(cell)} is no kind of trial; {what}")
    return found


def season(cell: str) -> Season:
    """The season of the application."""
    told = "-".join(cell.casefold().split())
    if told not in SEASONS:
        raise Unreadable(f"{_short(cell)} is no season; write one of {', '.join(SEASONS)}")
    return cast(Season, told)


def stage(base: KnowledgeBase, weed: str, cell: str) -> str:
    """A growth stage that the weed can have."""
    told = "-".join(cell.casefold().split())
    known = STAGES_BY_LIFE_FORM[base.weeds[weed].life_form] if weed in base.weeds else ALL_STAGES
    if told not in known:
        whose = f"stage of {weed}" if weed in base.weeds else "stage"
        stages = f"nearest: {', '.join(nearest(told, known))}"
        raise Unreadable(f"{_short(cell)} is no {whose} that this knows; {stages}")
    return told


def adjuvant(base: KnowledgeBase, names: Names, cell: str) -> str:
    """An adjuvant of the knowledge base."""
    return _known(names.adjuvant(cell), "adjuvant", cell, base.adjuvants)


def applications(cell: str) -> int:
    """How often a treatment was sprayed."""
    if not cell.strip().isascii() or not cell.strip().isdigit() or not 1 <= int(cell.strip()[:4]) <= MOST_APPLICATIONS:
        raise Unreadable(f"{_short(cell)} must be a whole number of sprays, 1 to {MOST_APPLICATIONS}")
    return int(cell)


def turf(base: KnowledgeBase, names: Names, cell: str) -> str:
    """A turf of the knowledge base."""
    return _known(names.turf_id(cell), "turf", cell, base.turf)


def actives(base: KnowledgeBase, names: Names, cell: str) -> tuple[str, ...]:
    """Actives of the knowledge base, one or several between semicolons or plus signs; none for `none`."""
    if plain(cell) == "none":
        return ()
    whole = names.active(cell)
    parts = [cell] if whole is not None else [part.strip() for part in re.split(r"[;+]|(?<!\d),|,(?!\d)", cell)]
    found = tuple(_known(names.active(part), "active", part, base.actives) for part in parts)
    if len(set(found)) < len(found):
        raise Unreadable(f"{_short(cell)} names an active twice; give each once")
    if len(found) > MOST_ACTIVES:
        raise Unreadable(f"{_short(cell)} names {len(found)} actives; name at most {MOST_ACTIVES}")
    return found


def _known(found: str | None, what: str, cell: str, known: Iterable[str]) -> str:
    if found is None:
        near = ", ".join(nearest(cell.strip().casefold()[:80], known))
        raise Unreadable(f"{_short(cell)} is no {what} of the knowledge base; nearest: {near}")
    return found


def forms(cell: str) -> tuple[str | None, ...]:
    """Forms in the order of the actives; NA where one is not told."""
    return tuple(None if is_blank(part) else part.strip().casefold() for part in _LIST.split(cell))


def rates(cell: str, *, decimal_comma: bool = False) -> tuple[Rate | None, ...]:
    """Rates in the order of the actives; the last one's unit counts for those that have none. Nothing for a bare 0."""
    if _NOTHING.fullmatch(cell):
        return ()
    parts = [pointed(part.strip()) if decimal_comma else part.strip() for part in _LIST.split(cell)]
    last = "" if is_blank(parts[-1]) else str(measure(parts[-1])["unit"])
    return tuple(None if is_blank(part) else _rate(part, last) for part in parts)


def _rate(part: str, unit: str) -> Rate:
    try:
        return validated(Rate, measure(part, unit))
    except InputError as error:
        raise Unreadable(f"{_short(part)}: {error.faults[0].message}") from error


def _short(cell: str) -> str:
    told = " ".join(cell.split())
    return f"'{told}'" if len(told) <= 40 else f"'{told[:37]}...'"
