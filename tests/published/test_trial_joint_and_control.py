"""Control from cover, Colby's expectation and quadrats against printed and reckoned figures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from app.trials.fit import Table, fitted
from app.trials.joint import colby, departure
from app.trials.rated import abbott, henderson_tilton
from app.trials.scale import arcsine, back
from tests.trials.made import table_of


def test_abbott_does_not_subtract() -> None:
    # Published: Abbott WS (1925) J Econ Entomol 18:265-267 prints that with 50 % dead in the check and 98 % in the
    # treated, subtraction gives only 48 %; the formula line is from memory, its 96 % computed.
    assert 98 - 50 == 48
    assert abbott(check=100 - 50, treated=100 - 98) == pytest.approx(96.0)


# Henderson CF, Tilton EW (1955) J Econ Entomol 48:157-161: formula from memory, cases computed.
@pytest.mark.parametrize(
    ("before", "after", "check_before", "check_after", "control"),
    [(40, 5, 50, 60, 89.5833), (300, 30, 500, 1000, 95.0), (20, 4, 25, 30, 83.3333), (30, 6, 28, 26, 78.4615)],
)
def test_henderson_and_tilton(
    before: float, after: float, check_before: float, check_after: float, control: float
) -> None:
    assert henderson_tilton(check_before, check_after, before, after) == pytest.approx(control, abs=5e-5)


# Common practice in turfgrass weed trials, no source; figures computed.
@pytest.mark.parametrize(("check", "treated", "control"), [(60, 9, 85.0), (60, 70, -16.67)])
def test_control_from_cover(check: float, treated: float, control: float) -> None:
    assert abbott(check, treated) == pytest.approx(control, abs=5e-3)


# Standard formula (Bartlett 1947, Biometrics 3:39-52); figures computed.
@pytest.mark.parametrize(
    ("percent", "degrees"),
    [
        (0, 0.0), (5, 12.921), (8, 16.43), (10, 18.435), (25, 30.0), (50, 45.0), (75, 60.0), (90, 71.565), (95, 77.079),
        (99, 84.261), (100, 90.0),
    ],
)  # fmt: skip
def test_the_arcsine_of_the_square_root(percent: float, degrees: float) -> None:
    (found,) = arcsine(np.array([float(percent)]))
    assert found == pytest.approx(degrees, abs=5e-4)
    assert back(float(found), "arcsine") == pytest.approx(percent, abs=1e-9)


def test_a_mean_that_is_transformed_back_is_not_the_plain_mean() -> None:
    # Computed.
    values = np.array([95.0, 90.0, 99.0, 100.0])
    assert values.mean() == 96.0
    assert back(float(arcsine(values).mean()), "arcsine") == pytest.approx(97.403, abs=5e-4)


# Computed: plain arithmetic of Colby's formula (Colby SR 1967, Weeds 15:20-22, formula from memory).
@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ((40, 60), 76.0), ((70, 80), 94.0), ((90, 30), 93.0), ((85, 10), 86.5), ((41, 41), 65.19), ((0, 75), 75.0),
        ((50, 50, 50), 87.5), ((20, 30, 40), 66.4),
    ],
)  # fmt: skip
def test_colby(parts: tuple[float, ...], expected: float) -> None:
    assert colby(parts) == pytest.approx(expected, abs=1e-9)


def test_the_departure_from_colby_by_the_delta_method() -> None:
    # Method published (Blouin, Webster and Zhang 2004, Weed Technology 18), example computed.
    difference, se = departure(np.array([60.0, 50.0]), 92.0, np.diag([4.0**2, 5.0**2, 3.0**2]))
    assert difference == pytest.approx(12.0)
    assert se == pytest.approx(4.1231, abs=5e-5)
    assert difference / se == pytest.approx(2.9104, abs=5e-5)
    assert 2 * norm.sf(difference / se) == pytest.approx(0.0036, abs=5e-5)


def test_quadrats_are_no_replicates() -> None:
    # Computed: plots are the error; four quadrats of a plot taken for plots raise F nearly fivefold.
    plots = {"A": [20, 30, 25], "B": [40, 55, 42], "C": [60, 50, 66]}
    rows = {row.source: row for row in fitted(table_of("crd", plots)).anova}
    assert rows["treatment"].ss == pytest.approx(1729.5556, abs=5e-5)
    assert rows["error"].ss == pytest.approx(313.3333, abs=5e-5)
    assert (rows["treatment"].df, rows["error"].df) == (2, 6)
    assert rows["treatment"].f == pytest.approx(16.5596, abs=5e-5)
    assert rows["treatment"].p == pytest.approx(0.003608, abs=5e-7)
    pooled = {name: [plot + offset for plot in row for offset in (-3, -1, 1, 3)] for name, row in plots.items()}
    wrong = {row.source: row for row in fitted(table_of("crd", pooled)).anova}
    assert wrong["treatment"].ss == pytest.approx(6918.2222, abs=5e-5)
    assert wrong["error"].ss == pytest.approx(1253.3333 + 180.0, abs=5e-5)
    assert (wrong["treatment"].df, wrong["error"].df) == (2, 33)
    assert wrong["treatment"].f == pytest.approx(79.64, abs=5e-3)


def test_quadrats_averaged_to_plots_give_the_right_test() -> None:
    # Computed: plot means lead to the same F as plots within treatments.
    offsets = np.array([-3.0, -1.0, 1.0, 3.0])
    plots = {"A": [20, 30, 25], "B": [40, 55, 42], "C": [60, 50, 66]}
    means = {name: [float((plot + offsets).mean()) for plot in row] for name, row in plots.items()}
    table: Table = table_of("crd", means)
    assert next(row.f for row in fitted(table).anova if row.source == "treatment") == pytest.approx(16.5596, abs=5e-5)
