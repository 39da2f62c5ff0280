"""Curves of control against rate."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.trials.curve import NoFit, dose_curves, fit_curve, lack_of_fit, log_logistic
from app.trials.output import DoseCurve
from app.trials.trial import Treatment
from tests.trials.made import table_of

RATES = np.array([0.0, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0])


# A lower limit of zero: a numeric derivative steps in proportion to the parameter, and so not at all.
@example(slope=4.0, lower=0.0, upper=70.0, ed50=1.0, sign=-1)
@settings(max_examples=30, deadline=None)
@given(st.floats(0.8, 4), st.floats(0, 10), st.floats(70, 99), st.floats(0.2, 1.5), st.sampled_from([-1, 1]))
def test_known_parameters_are_found_again(slope: float, lower: float, upper: float, ed50: float, sign: int) -> None:
    dose = np.repeat(RATES, 3)
    curve = fit_curve(dose, log_logistic(dose, sign * slope, lower, upper, math.log(ed50)))
    assert curve.parameters[:3] == pytest.approx([sign * slope, lower, upper], rel=1e-4, abs=1e-3)
    assert math.exp(curve.parameters[3]) == pytest.approx(ed50, rel=1e-4)
    # A share of the way between the limits: from below where control rises, from above where it falls.
    for share in (10.0, 50.0, 90.0):
        found, _, _ = curve.effective(share, 0.05)
        way = (curve.at(found) - lower) / (upper - lower)
        assert 100 * (way if sign < 0 else 1 - way) == pytest.approx(share, abs=1e-2)


@pytest.mark.parametrize("unit", [0.001, 1000.0])
def test_another_unit_of_the_dose_moves_ed50_alone(unit: float) -> None:
    rng = np.random.default_rng(4)
    dose = np.repeat(RATES, 4)
    value = log_logistic(dose, -2, 3, 95, math.log(0.4)) + rng.normal(0, 4, len(dose))
    one, two = fit_curve(dose, value), fit_curve(dose * unit, value)
    assert two.parameters[:3] == pytest.approx(one.parameters[:3], rel=1e-5)
    assert two.effective(90, 0.05) == pytest.approx(tuple(unit * x for x in one.effective(90, 0.05)), rel=1e-4)


def test_a_limit_beyond_what_can_be_is_held_at_the_edge() -> None:
    # The rates end where control still rises: by itself the curve would level off at 120 %.
    dose = np.repeat([0.125, 0.25, 0.5, 1.0, 2.0], 3)
    value = log_logistic(dose, -1.2, 0, 120, math.log(0.8)) + np.tile([-2.0, 0.0, 2.0], 5)
    free = fit_curve(dose, value, lower=0.0)
    assert free.parameters[2] == pytest.approx(120, abs=1)
    held = fit_curve(dose, value, lower=0.0, within=(0.0, 100.0))
    assert tuple(held.parameters[1:3]) == (0.0, 100.0)
    assert (free.df, held.df) == (len(dose) - 3, len(dose) - 2)
    assert not held.covariance[1:3].any()
    assert held.residual_se**2 * held.df > free.residual_se**2 * free.df


def test_control_that_rises_to_the_last_rate_is_held_at_the_edge() -> None:
    # A power of the dose has no upper limit at all.
    dose = np.repeat([0.125, 0.25, 0.5, 1.0, 2.0], 3)
    value = 12 + 80 * np.sqrt(dose / 2) + np.tile([-2.0, 0.0, 2.0], 5)
    with pytest.raises(NoFit, match="does not settle"):
        fit_curve(dose, value, lower=0.0)
    assert fit_curve(dose, value, lower=0.0, within=(0.0, 100.0)).parameters[2] == 100


def test_too_few_rates_and_flat_figures_are_refused() -> None:
    dose = np.repeat([0.0, 1.0, 2.0, 4.0], 3)
    with pytest.raises(NoFit, match="4 rates do not fix a curve of four parameters; five or more"):
        fit_curve(dose, np.arange(12.0))
    with pytest.raises(NoFit, match="every plot has the same figure"):
        fit_curve(np.repeat(RATES, 2), np.full(14, 100.0))


def test_lack_of_fit_sees_another_shape() -> None:
    rng = np.random.default_rng(8)
    dose = np.repeat(RATES, 4)
    right = log_logistic(dose, -2, 0, 95, math.log(0.4)) + rng.normal(0, 3, len(dose))
    wrong = right + np.where(dose == 1.0, -30, 0)
    fits = lack_of_fit(dose, right, fit_curve(dose, right)), lack_of_fit(dose, wrong, fit_curve(dose, wrong))
    assert fits[0] is not None
    assert fits[1] is not None
    assert fits[0] > 0.05 > fits[1]


def series(rows: dict[float, list[float]], check: list[float] | None, **told: str) -> tuple[DoseCurve, ...]:
    """Rates of one active [lb ae/acre] and the check."""
    treatments = {
        f"rate {rate}": Treatment.model_validate(
            {
                "name": f"rate {rate}",
                "actives": [
                    {"active": "triclopyr", "rate": {"value": rate, "unit": "lb ae/acre"}}
                    | ({"form": told["form"]} if rate > 0.4 and "form" in told else {})
                ],
            }
        )
        for rate in rows
    }
    plots = {f"rate {rate}": row for rate, row in rows.items()}
    if check is not None:
        treatments["nontreated"] = Treatment(name="nontreated")
        plots["nontreated"] = check
    return dose_curves(table_of("rcbd", plots), treatments, "dandelion", 0.05)


RISING = {0.125: [10.0, 14, 8], 0.25: [28.0, 35, 30], 0.5: [60.0, 55, 66], 1.0: [84.0, 88, 80], 2.0: [93.0, 95, 91]}


def test_a_series_has_a_curve_in_the_unit_of_its_rates() -> None:
    (curve,) = series(RISING, [0.0, 0.0, 0.0])
    assert curve.fitted
    assert curve.unit == "lb ae/acre"
    assert curve.doses == (0.0, 0.125, 0.25, 0.5, 1.0, 2.0)
    assert curve.lower == 0
    # Untreated plots that are zero by what they are stand in the picture and not in the error: 15 plots, 3 parameters.
    assert curve.df == 12
    assert len(curve.plots) == 18
    assert curve.slope is not None
    assert curve.slope < 0
    assert [item.share_pct for item in curve.effective] == [50, 90]
    assert all(item.low is not None and item.low < item.dose < (item.high or 0) for item in curve.effective)


def test_an_untreated_rate_that_varies_is_fitted() -> None:
    (curve,) = series(RISING, [0.0, 6.0, 3.0])
    assert curve.fitted
    assert curve.df == 14
    assert curve.lower != 0


def test_two_forms_are_not_one_series() -> None:
    # Two rates of one form and three of another: one curve at most, and not of all five.
    curves = series(RISING, [0.0, 0.0, 0.0], form="ester")
    assert [curve.doses for curve in curves] == [(0.0, 0.5, 1.0, 2.0)]


def test_control_that_falls_with_the_rate_has_no_curve() -> None:
    (curve,) = series(dict(zip(RISING, reversed(RISING.values()), strict=True)), None)
    assert not curve.fitted
    assert "does not rise" in curve.text
    assert curve.effective == ()
