"""How days, weeds and figures are said to a customer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Date

from app.season.planned_words import limb
from app.season.year_output import YearControl
from knowledge.base import KnowledgeBase

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
# Parameters from which on so much of a weed is said to be gone, the most first.
_LEVELS = (
    ("proposal-nearly-all", "nearly all of it"),
    ("proposal-most", "most of it"),
    ("proposal-more-than-half", "more than half"),
    ("proposal-half", "about half"),
    ("proposal-some", "some of it"),
)
_LITTLE = "little of it"
# The levels that a promise names, as they stand before the weeds.
_OF = {
    "nearly all of it": "nearly all of",
    "most of it": "most of",
    "more than half": "more than half of",
    "about half": "about half of",
}
_NAMED = 3
_STEP, _ALL = 5, 100
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def day_said(day: Date) -> str:
    """A day of the season as a customer says it.

    >>> day_said(Date(2027, 4, 8))
    'April 8'
    """
    return f"{_MONTHS[day.month - 1]} {day.day}"


def window_words(start: Date, end: Date) -> str:
    """Days from one to another as a customer says them.

    >>> window_words(Date(2027, 4, 2), Date(2027, 4, 16)), window_words(Date(2027, 9, 28), Date(2027, 10, 8))
    ('April 2 to 16', 'September 28 to October 8')
    """
    if start == end:
        return day_said(start)
    same = (start.year, start.month) == (end.year, end.month)
    return f"{day_said(start)} to {end.day if same else day_said(end)}"


def count_said(count: int) -> str:
    """A count in words, as far as they are short.

    >>> count_said(6), count_said(13)
    ('six', '13')
    """
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def level_words(base: KnowledgeBase, likely: float) -> str:
    """How much of a weed is gone, in words."""
    return next((words for name, words in _LEVELS if likely >= base.parameter(name)), _LITTLE)


def likely_words(controls: Sequence[YearControl]) -> str:
    """What is expected of some weeds: of one its band, of several what is likely of each, in whole fives.

    Nobody promises all of a weed: where it comes to that, it is the least with "or more".
    """
    if len(controls) == 1:
        low, high = controls[0].low, controls[0].high
    else:
        low, high = min(one.likely for one in controls), max(one.likely for one in controls)
    first, last = (int(_STEP * round(value / _STEP)) for value in (low, high))
    if last >= _ALL:
        return f"{min(first, _ALL - _STEP)} percent or more"
    return f"about {first} percent" if first == last else f"{first} to {last} percent"


def promise(base: KnowledgeBase, days: Sequence[Date], controls: Sequence[YearControl]) -> str:
    """The year in one sentence: how many visits, when, and what will be gone of the weeds that are named."""
    by_level: dict[str, list[str]] = {}
    for one in sorted(controls, key=lambda control: -control.likely):
        by_level.setdefault(level_words(base, one.likely), []).append(one.name)
    told = [f"{_OF[level]} the {some(names)}" for level, names in by_level.items() if level in _OF]
    months = [_MONTHS[day.month - 1] for day in (days[0], days[-1])]
    when = f"in {months[0]}" if months[0] == months[1] else f"from {months[0]} to {months[1]}"
    visits = f"{count_said(len(days))} {'visit' if len(days) == 1 else 'visits'}".capitalize()
    if not told:
        return f"{visits} {when} to hold back the weeds of your lawn."
    first, *others = told
    rest = f", {', '.join(others[:-1])}{', and ' if others[:-1] else 'and '}{others[-1]}" if others else ""
    return f"{visits} {when}: over the season we expect {first} to be gone from your lawn{rest}."


def some(names: Sequence[str]) -> str:
    """Names in a sentence; the first two, and how many others, where they are more than three."""
    if len(names) <= _NAMED:
        return limb(names)
    left = len(names) - (_NAMED - 1)
    return f"{', '.join(names[: _NAMED - 1])} and {count_said(left)} other weeds"
