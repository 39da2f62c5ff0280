"""Which scale the claims rest on."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import levene

from app.trials.fit import fitted
from app.trials.scale import arcsine, chosen, equal_spread
from tests.trials.made import table_of

UNEVEN = {
    "A": [2.0, 3.0, 1.0, 2.5, 3.5, 1.5],
    "B": [20.0, 70.0, 35.0, 85.0, 50.0, 60.0],
    "C": [97.0, 98.0, 99.0, 98.5, 97.5, 98.0],
}


def test_the_spread_is_tested_by_brown_and_forsythe() -> None:
    # Computed with scipy: Levene's test about the median.
    fit = fitted(table_of("crd", UNEVEN))
    expected = levene(*UNEVEN.values(), center="median").pvalue
    assert equal_spread(fit) == pytest.approx(float(expected), rel=1e-9)


def test_the_arcsine_is_taken_where_it_makes_the_spread_more_even() -> None:
    fit = fitted(table_of("crd", UNEVEN))
    angular = fitted(fit.table.with_values(arcsine(fit.table.values)))
    found = chosen(fit, angular)
    assert found.chosen == "arcsine"
    assert found.equal_spread_p is not None
    assert found.equal_spread_p_arcsine is not None
    assert found.equal_spread_p < 0.05
    assert found.equal_spread_p_arcsine > found.equal_spread_p


def test_an_even_spread_is_kept_as_rated() -> None:
    fit = fitted(table_of("crd", {"A": [20, 30, 25, 35], "B": [50, 60, 55, 65], "C": [70, 80, 75, 85]}))
    assert chosen(fit, fitted(fit.table.with_values(arcsine(fit.table.values)))).chosen == "percent"


@pytest.mark.parametrize("design", ["rcbd", "crd"])
def test_two_plots_a_treatment_say_nothing_of_the_spread(design: str) -> None:
    # Both lie equally far from their median, so the test would find an infinite F in any such trial.
    rng = np.random.default_rng(5)
    rows = {f"T{t}": rng.normal(50, 10, 2).tolist() for t in range(6)}
    fit = fitted(table_of(design, rows))  # type: ignore[arg-type]
    assert equal_spread(fit) is None
    found = chosen(fit, fit)
    assert found.chosen == "percent"
    assert "could not be tested" in found.reason


def test_two_treatments_in_blocks_mirror_each_other() -> None:
    # The residuals of one are those of the other with the sign turned.
    fit = fitted(table_of("rcbd", {"A": [1, 2, 1, 3], "B": [20, 90, 45, 70]}))
    assert fit.residuals[:4] == pytest.approx(-fit.residuals[4:])
    assert equal_spread(fit) is None


def test_an_even_spread_is_seldom_called_uneven() -> None:
    # 400 trials of eight alike treatments in four blocks: at most the binomial limit of 5 % (mean and three standard
    # deviations, 0.05 + 3 * 0.0109).
    rng = np.random.default_rng(11)
    found = []
    for _ in range(400):
        rows = {f"T{t}": rng.normal(50, 8, 4).tolist() for t in range(8)}
        found.append(equal_spread(fitted(table_of("rcbd", rows))))
    assert np.mean([p is not None and p < 0.05 for p in found]) <= 0.05 + 3 * 0.0109
