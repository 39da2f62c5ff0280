"""The words in which a label's figures are typed, in a form's field or in a cell of a file, and written again.

Reading forgives spelling ("fl. oz. per 1,000 sq ft"), never a missing unit. What is written is read back
to the same value, to the last digit.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from app.engine.measures import Measure
from app.engine.product import LabelAdjuvant, LabelRate, Pack, ProductActive
from knowledge.quantities import UNITS

# An id cannot hold brackets, so this is never taken for one.
NONE_AT_ALL = "(none)"
PURPOSES = ("postemergence", "preemergence", "spot")
DAY_UNITS = {"": 1, "day": 1, "days": 1, "week": 7, "weeks": 7}
HOUR_UNITS = {"": 1, "hour": 1, "hours": 1, "h": 1, "day": 24, "days": 24}
TIMES = {"": 1, "time": 1, "times": 1, "application": 1, "applications": 1}

_NUMBER = r"[-+]?(?:[0-9]+(?:[.,][0-9]+)*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_MEASURE = re.compile(rf"\s*({_NUMBER})\s*(.*?)\s*", re.DOTALL)
_ITEM = re.compile(r'(?:[^;"]|"(?:[^"]|"")*")+')
_QUOTED = re.compile(r'\s*"((?:[^"]|"")*)"\s*$', re.DOTALL)
_CANONICAL = {unit.casefold(): unit for unit in UNITS}
# How labels spell a unit -> how it is written here; longer spellings first.
_SPELLINGS = (
    (r"\bfluid ounces?\b|\bfl\.? ?ozs?\b\.?", "fl oz"),
    (r"\bounces?\b|\bozs?\b\.?", "oz"),
    (r"\bpounds?\b|\blbs?\b\.?", "lb"),
    (r"\bgallons?\b|\bgals?\b\.?", "gal"),
    (r"\bquarts?\b|\bqts?\b\.?", "qt"),
    (r"\bpints?\b|\bpts?\b\.?", "pt"),
    (r"\bmillilit(?:re|er)s?\b", "ml"),
    (r"\blit(?:re|er)s?\b", "l"),
    (r"\bkilograms?\b", "kg"),
    (r"\bgrams?\b", "g"),
    (r"\bhectares?\b", "ha"),
    (r"\bacres\b|\bac\b", "acre"),
    (r"\b1,000\b", "1000"),
    (r"\bsq(?:uare)?\.? ?(?:ft|feet|foot)\b\.?|\bft\^?2\b|\bft²", "ft2"),
    (r"\bsq(?:uare)?\.? ?(?:m|met(?:re|er)s?)\b\.?|\bm\^?2\b|\bm²", "m2"),
    (r"\bby weight\b", "w/w"),
    (r"\bby volume\b", "v/v"),
)


class Unreadable(ValueError):
    """A text that is not what its field asks for, with the sentence that says what would be right."""


def number(text: str) -> float:
    """A plain number; a comma counts as the decimal sign where it cannot mean thousands.

    Raises
    ------
    Unreadable
        For anything else, "1,250" included, which may mean two things.
    """
    told = text.strip()
    if re.fullmatch(_NUMBER, told) is None:
        raise Unreadable(f"'{_short(told)}' is no number; write it in figures, for example 1.5")
    if "," in told:
        if re.fullmatch(r"[-+]?[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})", told) is None:
            raise Unreadable(f"'{_short(told)}' may mean two things; write it with a point or without the comma")
        told = told.replace(",", ".")
    if told.count(".") > 1:
        raise Unreadable(f"'{_short(told)}' is no number; write it with one point, for example 1.5")
    found = float(told)
    if found in (float("inf"), float("-inf")):
        raise Unreadable(f"'{_short(told)}' is too large a number")
    return found


def unit_named(text: str) -> str:
    """A unit as it is written here; a spelling that is not known stays as it is."""
    told = " ".join(text.split()).casefold()
    told = re.sub(r"\s+per\s+", "/", told)
    for spelling, written in _SPELLINGS:
        told = re.sub(spelling, written, told)
    told = re.sub(r"\s*/\s*", "/", told)
    told = re.sub(r"/a$", "/acre", told)
    told = re.sub(r"^%\s*(?=[vw])", "% ", told)
    return _CANONICAL.get(told, text.strip())


def measure(text: str, unit: str = "") -> dict[str, Any]:
    """A figure with its unit as plain data; `unit` is the one chosen beside it where none is typed.

    Raises
    ------
    Unreadable
        Where there is no number or no unit.
    """
    match = _MEASURE.fullmatch(text)
    if match is None:
        raise Unreadable(f"'{_short(text)}' is not a figure with its unit, for example 1.5 fl oz/1000 ft2")
    told = match.group(2) or unit
    if not told:
        raise Unreadable(f"'{_short(text)}' has no unit; write the number and its unit")
    return {"value": number(match.group(1)), "unit": unit_named(told)}


def temperature(text: str, unit: str = "") -> float:
    """An air temperature in degF, typed in F or C."""
    match = _MEASURE.fullmatch(text)
    if match is None:
        raise Unreadable(f"'{_short(text)}' is no temperature; write for example 85 F or 29 C")
    told = (match.group(2) or unit).replace("°", "").replace("deg", "").strip().upper()
    if told not in ("F", "C"):
        raise Unreadable(f"'{_short(text)}' does not say F or C; write for example 85 F or 29 C")
    value = number(match.group(1))
    return value if told == "F" else value * 9 / 5 + 32


def counted(text: str, units: dict[str, int]) -> float:
    """A number of hours, days or times; a bare number is in the first of the units."""
    match = _MEASURE.fullmatch(text)
    if match is None or match.group(2).casefold() not in units:
        named = " or ".join(name for name in units if name.endswith("s"))
        raise Unreadable(f"'{_short(text)}' is not a number of {named}")
    return number(match.group(1)) * units[match.group(2).casefold()]


def whole(text: str, units: dict[str, int]) -> int | float:
    """A whole number of hours, days or times; a broken one stays broken, so that it is refused."""
    found = counted(text, units)
    return int(found) if found == int(found) else found


def items(text: str) -> list[str]:
    """The parts of a cell between semicolons; one inside quotation marks does not part."""
    if text.count('"') % 2:
        raise Unreadable("a quotation mark is not closed")
    return [part.strip() for part in _ITEM.findall(text) if part.strip()]


def ids(text: str) -> list[str]:
    """Ids between commas or semicolons; `(none)` for an empty list."""
    if text.strip().casefold() == NONE_AT_ALL:
        return []
    return [part.strip() for part in re.split(r"[,;]", text) if part.strip()]


def actives(text: str) -> list[dict[str, Any]]:
    """Actives such as ``2-4-d as 2-4-d-dma 2.5 lb ae/gal``."""
    found = []
    for item in items(text):
        match = re.fullmatch(r"(\S+)(?:\s+as\s+(\S+))?\s+([-+.]?[0-9].*)", item)
        if match is None:
            what = "write the active, its form and its content, for example 2-4-d as 2-4-d-dma 2.5 lb ae/gal"
            raise Unreadable(f"'{_short(item)}' cannot be read; {what}")
        found.append({"active": match.group(1), "form": match.group(2), "content": measure(match.group(3))})
    return found


def rates(text: str) -> list[dict[str, Any]]:
    """Lines of rates such as ``tall-fescue: spot 1 to 2 fl oz/gal "note"``."""
    return [_rate_line(item) for item in items(text)]


def _rate_line(item: str) -> dict[str, Any]:
    note = ""
    if quoted := _QUOTED.search(item):
        note, item = quoted.group(1).replace('""', '"'), item[: quoted.start()]
    if '"' in item:
        raise Unreadable(f"'{_short(item)}' cannot be read; a note in quotation marks stands at the end of its line")
    turf, colon, rest = item.partition(":")
    if not colon:
        turf, rest = "all", item
    words = rest.split(None, 1)
    purpose = words[0] if words and words[0].casefold() in PURPOSES else ""
    figures = rest.strip()[len(purpose) :]
    low, high = span(figures)
    line = {"turf": ids(turf), "purpose": purpose.casefold() or PURPOSES[0], "low": low, "high": high}
    return {**line, "note": note} if note else line


def span(text: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Low and high of ``1.1 to 1.5 fl oz/1000 ft2``; one figure is both."""
    parts = re.split(r"\s+to\s+", text.strip())
    if len(parts) > 2 or not parts[0]:
        what = "write for example tall-fescue: postemergence 1.1 to 1.5 fl oz/1000 ft2"
        raise Unreadable(f"'{_short(text)}' is no rate; {what}")
    high = measure(parts[-1])
    return (measure(parts[0], high["unit"]) if len(parts) == 2 else high), high


def packs(text: str) -> list[dict[str, Any]]:
    """Packs such as ``2.5 gal = 145.00``; without a price it is not known."""
    found = []
    for item in items(text):
        size, equals, price = item.partition("=")
        found.append({"size": measure(size), "price": number(price) if equals else None})
    return found


def adjuvants(text: str) -> list[dict[str, Any]]:
    """What a label says of adjuvants, such as ``nis required; coc forbidden``."""
    found = []
    for item in items(text):
        words = item.split()
        if len(words) != 2:
            raise Unreadable(f"'{_short(item)}' cannot be read; write for example nis required")
        found.append({"id": words[0], "use": words[1].casefold()})
    return found


def written(value: float) -> str:
    """A number to its last digit, without a needless point."""
    return repr(float(value)).removesuffix(".0")


def measure_text(told: Measure) -> str:
    """A figure with its unit."""
    return f"{written(told.value)} {told.unit}"


def ids_text(told: Sequence[str] | None) -> str:
    """Ids, nothing where they were not told."""
    if told is None:
        return ""
    return ", ".join(told) or NONE_AT_ALL


def actives_text(told: Iterable[ProductActive]) -> str:
    """Actives with form and content."""
    return "; ".join(
        f"{part.active}{f' as {part.form}' if part.form else ''} {measure_text(part.content)}" for part in told
    )


def rates_text(told: Iterable[LabelRate]) -> str:
    """The label's table of rates."""
    return "; ".join(_rate_text(line) for line in told)


def _rate_text(line: LabelRate) -> str:
    low = written(line.low.value) if line.low.unit == line.high.unit else measure_text(line.low)
    figures = measure_text(line.high) if line.low == line.high else f"{low} to {measure_text(line.high)}"
    note = ' "{}"'.format(line.note.replace('"', '""')) if line.note else ""
    return f"{', '.join(line.turf)}: {line.purpose} {figures}{note}"


def packs_text(told: Iterable[Pack]) -> str:
    """Packs with their prices."""
    return "; ".join(
        measure_text(pack.size) + ("" if pack.price is None else f" = {price_text(pack.price)}") for pack in told
    )


def price_text(price: float) -> str:
    """A price with two decimals, or with as many as it has."""
    return f"{price:.2f}" if float(f"{price:.2f}") == price else written(price)


def adjuvants_text(told: Iterable[LabelAdjuvant]) -> str:
    """What the label says of each adjuvant."""
    return "; ".join(f"{item.id} {item.use}" for item in told)


def _short(text: str) -> str:
    told = " ".join(text.split())
    return told if len(told) <= 40 else f"{told[:37]}..."
