"""What is found of a weed's stage on a date, and the words for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date as Date
from typing import Literal

from app.engine.describe import words
from app.engine.output import Caution
from app.engine.wording import capital
from app.season.daily import day_words, in_c, in_c_days, tidy
from knowledge.base import KnowledgeBase
from knowledge.models import Growth, Weed

By = Literal["degree-days", "calendar", "note"]
_FEW = 2


@dataclass(frozen=True)
class Found:
    """What one way of reckoning gives: the likeliest stage, the plausible ones in order, and what it rests on."""

    stage: str
    stages: tuple[str, ...]
    by: By
    warmth: float | None = None
    records: tuple[Growth, ...] = ()
    until: Date | None = None
    over: int | None = None
    off: int = 0


def cautions_of(base: KnowledgeBase, found: Found, scouted: Date, on: Date, *, by_warmth: bool) -> tuple[Caution, ...]:
    """What a technician should know before he relies on an aged note.

    Parameters
    ----------
    by_warmth : bool
        Whether growth from the noted stage is recorded by warmth, so that temperatures would serve.
    """
    days, said = (on - scouted).days, []
    if found.over is not None and on.toordinal() > found.over + base.parameter("growth-year-spread"):
        what = (
            f"by the calendar these plants are dead or dying from about {day_words(Date.fromordinal(found.over), on)}"
        )
        said.append(_caution(base, "growth-season-over", "warning", f"{capital(what)}; look again before you spray."))
    old = base.parameter("growth-note-old")
    if days >= old:
        what = f"The note is {days} days old; from {old:g} days on look again before you spray."
        said.append(_caution(base, "growth-note-old", "caution", what))
    elif len(found.stages) > _FEW:
        what = "The note leaves more than two stages open; look again before you spray."
        said.append(_caution(base, "growth-wide", "caution", what))
    outside = f"lies {found.off} day{'' if found.off == 1 else 's'} outside the calendar of this zone"
    if found.by == "note" and days:
        why = outside if found.off else "is of a stage whose time the calendar of this zone does not tell"
        said.append(_caution(base, "growth-not-aged", "caution", f"The note {why}; it stands as it was written."))
    elif found.off:
        what = f"The note {outside}; how fast such plants grow is a guess."
        said.append(_caution(base, "growth-off-calendar", "caution", what))
    if by_warmth and days and found.by != "degree-days":
        what = "With a temperature for each day from scouting to the date, growth would be reckoned by warmth."
        said.append(_caution(base, "growth-no-daily", "info", what, settled_by="daily"))
    return tuple(said)


def _caution(
    base: KnowledgeBase,
    code: str,
    severity: Literal["info", "caution", "warning"],
    text: str,
    settled_by: str | None = None,
) -> Caution:
    sources = tuple(c.id for c in base.parameters["growth-note-old"].sources)
    return Caution(code=code, severity=severity, text=text, settled_by=settled_by, sources=sources)


def sum_words(degree_days_f: float, base_f: float) -> str:
    """A sum of degree-days in words, both ways."""
    both = f"{in_c_days(degree_days_f):.0f} above {tidy(in_c(base_f))} C"
    return f"{degree_days_f:.0f} degree-days above {base_f:g} F ({both})"


def sentence(weed: Weed, stage: str, scouted: Date, on: Date, found: Found) -> str:
    """What is expected, in one sentence."""
    noted = f"{capital(weed.name)}: {words(stage)} on {day_words(scouted, on)}"
    if on == scouted:
        return f"{noted}, as noted."
    span = ""
    if len(found.stages) > 1:
        span = f" ({words(found.stages[0])} to {words(found.stages[-1])})"
    if found.by == "note":
        also = f"; {words(found.stages[-1])} may have come by then" if len(found.stages) > 1 else ""
        return f"{noted}; taken as it was noted for {day_words(on, scouted)}{also}."
    how = "by the calendar of its zone"
    if found.warmth is not None:
        sums = sum_words(found.warmth, found.records[0].base_f)
        how = f"by {sums}" if found.until is None else f"by {sums} to {day_words(found.until, on)} and from there {how}"
    return f"{noted}; {words(found.stage)} expected on {day_words(on, scouted)}{span}, {how}."
