"""Control over the rating dates."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from app.trials.course import average_control, course
from app.trials.design import design_of
from app.trials.fit import fitted
from tests.trials.made import table_of

ROWS = {
    14: {"A": [20.0, 30, 25], "B": [60.0, 50, 55], "nontreated": [0.0, 0, 0]},
    28: {"A": [50.0, 66, 55], "B": [90.0, 80, 85], "nontreated": [0.0, 0, 0]},
    56: {"A": [70.0, 60, 80], "B": [95.0, 90, 99], "nontreated": [0.0, 0, 0]},
}


def by_day(rows: dict[int, dict[str, list[float]]]) -> dict[int, dict[tuple[str, str], float | None]]:
    return {
        day: {(name, str(rep)): value for name, row in told.items() for rep, value in enumerate(row, 1)}
        for day, told in rows.items()
    }


def test_the_average_is_the_area_by_trapezoids() -> None:
    # Computed with scipy.
    days, control = [14.0, 28.0, 56.0], [20.0, 50.0, 70.0]
    assert average_control(days, control) == pytest.approx(float(trapezoid(control, days)) / 42)


def test_averages_are_analysed_like_a_rating() -> None:
    found = course("T", "dandelion", "dandelion", "rcbd", by_day(ROWS), 0.05)
    assert found is not None
    assert found.separation is not None
    areas = {
        name: [average_control([14, 28, 56], [ROWS[day][name][i] for day in ROWS]) for i in range(3)]
        for name in ("A", "B")
    }
    fit = fitted(table_of("rcbd", areas))
    assert found.separation.anova == fit.anova
    assert found.points["A"] == ((14, 25.0), (28, 57.0), (56, 70.0))
    assert (found.first_day, found.last_day) == (14, 56)
    assert found.text.startswith("B has the highest average control from 14 to 56 days")


def test_a_treatment_that_does_nothing_is_compared_and_the_check_is_not() -> None:
    idle = {day: {**rows, "C": [0.0, 0.0, 0.0]} for day, rows in ROWS.items()}
    found = course("T", "dandelion", "dandelion", "rcbd", by_day(idle), 0.05)
    assert found is not None
    assert found.separation is not None
    assert {row.treatment for row in found.separation.means} == {"A", "B", "C"}


def test_a_plot_that_was_lost_once_has_no_average() -> None:
    values = by_day(ROWS)
    values[28][("A", "2")] = None
    found = course("T", "dandelion", "dandelion", "rcbd", values, 0.05)
    assert found is not None
    assert found.separation is not None
    assert {row.treatment: row.n for row in found.separation.means} == {"A": 2, "B": 3}
    assert found.points["A"][1] == (28, pytest.approx(52.5))


def test_one_date_is_no_course() -> None:
    assert course("T", "dandelion", "dandelion", "rcbd", by_day({14: ROWS[14]}), 0.05) is None


def test_a_best_average_that_is_not_told_apart_is_not_called_better() -> None:
    rng = np.random.default_rng(2)
    rows = {day: {name: rng.uniform(20, 80, 3).tolist() for name in "AB"} for day in (14, 28)}
    found = course("T", "dandelion", "dandelion", "rcbd", by_day(rows), 0.05)
    assert found is not None
    assert found.separation is not None
    assert not found.separation.protected
    assert "no treatment can be told from another" in found.text


@pytest.mark.parametrize(
    ("cells", "design"),
    [
        ([(t, r) for t in "ABC" for r in "1234"], "rcbd"),
        ([(t, r) for t in "ABC" for r in "1234"][:-2], "rcbd"),
        ([(t, f"{t}{r}") for t in "ABC" for r in "1234"], "crd"),
    ],
    ids=["blocks", "two-plots-short", "running-numbers"],
)
def test_the_design_is_read_off_the_labels(cells: list[tuple[str, str]], design: str) -> None:
    found, text = design_of(cells, None)
    assert found == design
    assert design_of(cells, "crd") == ("crd", "Completely randomised, as told.")
    assert ("tell it" in text) == (design == "rcbd")
