"""Control over the rating dates: the area under the control curve, plot by plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from app.trials.fit import Table, TooFew, fitted
from app.trials.output import Course
from app.trials.separation import separation, within_percent
from app.trials.trial import CHECK, Design
from app.trials.words import said_figure

Values = Mapping[tuple[str, str], float | None]


def average_control(days: Sequence[float], control: Sequence[float]) -> float:
    """Area under the control curve by trapezoids, over its span: the average control [%].

    >>> average_control([7, 14, 28], [20, 60, 80])
    60.0
    """
    return float(np.trapezoid(control, days)) / (days[-1] - days[0])


def course(
    trial: str, weed: str, weed_name: str, design: Design, by_day: Mapping[int, Values], alpha: float
) -> Course | None:
    """The course of one weed over its dates, None where it was rated once.

    Parameters
    ----------
    by_day : mapping of int to mapping of (treatment, replicate) to float or None
        Control of each plot [%] at each rating date; None where it is missing.
    """
    days = sorted(by_day)
    if len(days) < 2:
        return None
    treatments = list(dict.fromkeys(treatment for day in days for treatment, _ in by_day[day]))
    points = {}
    for treatment in treatments:
        line = []
        for day in days:
            plots = [v for (name, _), v in by_day[day].items() if name == treatment and v is not None]
            if plots:
                line.append((day, float(np.mean(plots))))
        points[treatment] = tuple(line)
    whole = [key for key in by_day[days[0]] if all(by_day[day].get(key) is not None for day in days)]
    areas = {}
    for key in whole:
        control = [value for day in days if (value := by_day[day][key]) is not None]
        areas[key] = average_control([float(day) for day in days], control)
    # Only the check is zero by what it is; a treatment that did nothing is compared like any other.
    checks = [t for t in treatments if t.casefold() == CHECK]
    constant = [t for t in checks if all(areas[key] == 0 for key in whole if key[0] == t)]
    kept = [key for key in whole if key[0] not in constant]
    found = None
    span = f"from {days[0]} to {days[-1]} days after application"
    if kept:
        values = np.array([areas[key] for key in kept])
        table = Table(design, tuple(t for t, _ in kept), tuple(r for _, r in kept), values)
        try:
            found = within_percent(separation(fitted(table), table, "percent", alpha))
        except TooFew as error:
            text = f"Averages {span} are not compared: {error}."
    else:
        text = f"No plot shows control {span}."
    if found is not None:
        best = found.means[0]
        text = (
            f"{best.treatment} has the highest average control {span}, {said_figure(best.mean)} % "
            "(area under the control curve, over its days)"
            + ("." if found.protected else ", but no treatment can be told from another.")
        )
    return Course(
        trial=trial,
        weed=weed,
        weed_name=weed_name,
        first_day=days[0],
        last_day=days[-1],
        points=points,
        separation=found,
        text=text,
    )
