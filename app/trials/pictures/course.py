"""Control over the rating dates, a line a treatment."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from app.trials.output import Course, MeanRow
from app.trials.pictures.course_lines import AXIS, NAMES, NARROW_NAMES, Line, lines_on
from app.trials.pictures.paper import (
    MOST_DRAWN,
    NARROW,
    SMALL,
    WIDTH,
    opened,
    plain,
    sheet,
    wrapped,
)
from app.trials.pictures.picture import Picture
from app.trials.pictures.words import counted, design_in_short, letters, percent, shortened

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def course(course: Course, design_text: str = "") -> Picture:
    """Draw the control of one weed over the rating dates.

    Parameters
    ----------
    course : Course
        Means by treatment and date [% control].
    design_text : str
        The design in words, where it is known.

    Returns
    -------
    Picture
        Lines told apart by dash, marker and a label at their end. At most 40 treatments.
    """
    weed, trial = plain(course.weed_name), plain(course.trial)
    means = {row.treatment: row for row in course.separation.means} if course.separation else {}
    ordered = sorted(
        ((name, line) for name, line in course.points.items() if line), key=lambda item: (-item[1][-1][1], item[0])
    )
    title = f"{opened(weed)}: control {course.first_day} to {course.last_day} days after application"
    replicates = max((row.n for row in means.values()), default=0)
    within = tuple(row for row in means.values() if row.in_analysis)
    left = len(ordered) - MOST_DRAWN
    under = (
        f"Trial {trial}",
        counted(replicates, "replicate") if replicates else "",
        design_in_short(design_text),
    )
    average = f"Average: control over the {counted(course.last_day - course.first_day, 'day')} (area under the line)."
    foot = (
        "Points: mean of a treatment at a rating date.",
        f"{average} {letters(within, course.separation, 'averages')}" if course.separation else "",
        f"Left out of this picture: {counted(left, 'treatment')} that ended lower." if left > 0 else "",
    )

    def draw(width: float = WIDTH) -> Figure:
        room = NAMES if width > NARROW else NARROW_NAMES
        lines = tuple(
            Line(treatment, points, wrapped(treatment, room), _average(means.get(treatment), room))
            for treatment, points in ordered[:MOST_DRAWN]
        )
        page = sheet(title, under, foot, max(440.0, sum(line.tall for line in lines)) + AXIS, width)
        lines_on(page, lines, f"control of {weed} [%]")
        return page.figure

    return Picture(title, _alt(course, ordered, means), draw, partial(draw, NARROW))


def _average(row: MeanRow | None, room: float) -> tuple[str, ...]:
    if row is None:
        return ()
    letter = f" {shortened(row.letter_lsd)}" if row.letter_lsd else ""
    small = f" (HSD {shortened(row.letter_hsd)})" if row.letter_hsd and row.letter_hsd != row.letter_lsd else ""
    return wrapped(f"average {percent(row.mean)}{letter}{small}", room, SMALL)


def _alt(course: Course, ordered: list[tuple[str, tuple[tuple[int, float], ...]]], means: dict[str, MeanRow]) -> str:
    name, points = ordered[0]
    what = f"control of {plain(course.weed_name)} by {counted(len(ordered), 'treatment')}"
    text = (
        f"Lines of {what} in trial {plain(course.trial)}, {course.first_day} to {course.last_day} days after "
        f"application: highest at the end {plain(name)} ({percent(points[-1][1])} at {points[-1][0]} days)"
    )
    if means:
        best = max((row for row in means.values()), key=lambda row: (row.mean, row.treatment))
        letter = f", letter {best.letter_lsd}" if best.letter_lsd else ""
        text += f"; best on average {plain(best.treatment)} ({percent(best.mean)}{letter})"
    return text + "."
