"""What a customer is told of a planned year, in plain words."""

from __future__ import annotations

from datetime import date as Date

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def window_words(start: Date, end: Date) -> str:
    """Days from one to another as people say them.

    >>> window_words(Date(2027, 4, 2), Date(2027, 4, 16)), window_words(Date(2027, 9, 28), Date(2027, 10, 8))
    ('2 to 16 April', '28 September to 8 October')
    """
    last = f"{end.day} {_MONTHS[end.month - 1]}"
    if start == end:
        return last
    if (start.year, start.month) == (end.year, end.month):
        return f"{start.day} to {last}"
    return f"{start.day} {_MONTHS[start.month - 1]} to {last}"
