"""Analysis of variance and separation of means against printed worked examples.

The rows and figures stand with their source and basis in `plot_trials.yaml`; a figure is held to its last printed
digit.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from app.trials.fit import Fit, Table, TooFew, fitted
from app.trials.letters import letters
from app.trials.output import Separation
from app.trials.separation import separation, t_critical, tukey_critical
from app.trials.trial import Design
from tests.trials.made import table_of

# Every scalar stays the text that was printed, so that its digits are known.
CASES = {
    case["id"]: case
    for case in yaml.load(Path(__file__).with_name("plot_trials.yaml").read_text(encoding="utf-8"), yaml.BaseLoader)
}
BASES = ("published", "memory", "computed")


def told(kind: str) -> list[Any]:
    """The cases that hold a kind of figure, on every basis."""
    return [
        pytest.param(case, case[f"{basis}{kind}"], id=f"{name}-{basis}")
        for name, case in CASES.items()
        for basis in BASES
        if f"{basis}{kind}" in case
    ]


def agrees(value: float | None, printed: str) -> bool:
    """Whether a figure rounds to what is printed."""
    assert value is not None
    decimals = len(printed.partition(".")[2])
    return abs(value - float(printed)) <= 0.5 * 10.0**-decimals * (1 + 1e-6)


def fit_of(case: dict[str, Any]) -> Fit:
    return fitted(table_of(case["design"], {name: [float(v) for v in row] for name, row in case["rows"].items()}))


def separated(fit: Fit, alpha: float = 0.05) -> Separation:
    return separation(fit, fit.table, "percent", alpha)


def figures(fit: Fit) -> dict[str, float | None]:
    """The figures of an analysis under the names of the file."""
    rows = {row.source: row for row in fit.anova}
    found, strict = separated(fit), separated(fit, 0.01)
    assert fit.mse is not None
    answer: dict[str, float | None] = {
        "f": rows["treatment"].f,
        "p": rows["treatment"].p,
        "mse": rows["error"].ms,
        "residual_se": fit.mse**0.5,
        "grand_mean": found.grand_mean,
        "cv": found.cv_pct,
        "t": t_critical(0.05, fit.df),
        "lsd": found.lsd.value,
        "lsd1": strict.lsd.value,
        "q": tukey_critical(0.05, len(found.means), fit.df),
        "hsd": found.hsd.value,
        **{f"ss_{name}": row.ss for name, row in rows.items()},
        **{f"df_{name}": float(row.df) for name, row in rows.items()},
        **{f"ms_{name}": row.ms for name, row in rows.items()},
    }
    if "block" in rows:
        answer |= {"f_block": rows["block"].f, "p_block": rows["block"].p}
    return answer


@pytest.mark.parametrize(("case", "printed"), told(""))
def test_the_analysis_of_variance_gives_the_printed_figures(case: dict[str, Any], printed: dict[str, str]) -> None:
    found = figures(fit_of(case))
    wrong = {name: (found[name], text) for name, text in printed.items() if not agrees(found[name], text)}
    assert not wrong


@pytest.mark.parametrize(("case", "printed"), told("_means"))
def test_means_are_those_printed(case: dict[str, Any], printed: dict[str, str]) -> None:
    found = {row.treatment: row.mean for row in separated(fit_of(case)).means}
    assert set(found) == set(printed)
    assert not {name: (found[name], text) for name, text in printed.items() if not agrees(found[name], text)}


@pytest.mark.parametrize("method", ["lsd", "hsd"])
def test_letters_are_those_printed(method: str) -> None:
    cases = told(f"_{method}_letters")
    assert len(cases) >= 13
    for case, printed in (param.values for param in cases):
        means = separated(fit_of(case)).means
        assert {row.treatment: getattr(row, f"letter_{method}") for row in means} == printed, case["id"]


def test_pairs_of_the_sweet_potato_trial_have_their_printed_p() -> None:
    # Published: agricolae, LSD test without adjustment.
    case = CASES["sweet-potato-virus"]
    found = {"-".join(sorted((pair.a, pair.b))): pair.p for pair in separated(fit_of(case)).comparisons}
    assert set(found) == set(case["published_pairs"])
    assert all(agrees(found[pair], text) for pair, text in case["published_pairs"].items())


def test_six_comparisons_by_bonferroni_in_the_sweet_potato_trial() -> None:
    # Published: R-help, January 2016; an error rate of 0.05 shared by six comparisons.
    fit = fit_of(CASES["sweet-potato-virus"])
    found = separated(fit, 0.05 / 6)
    assert agrees(t_critical(0.05 / 6, fit.df), "3.478879")
    assert agrees(found.lsd.value, "13.4704")
    assert {row.treatment: row.letter_lsd for row in found.means} == {"oo": "a", "ff": "a", "cc": "ab", "fc": "b"}


def test_a_printed_verdict_is_not_followed_where_the_rows_say_otherwise() -> None:
    # The page calls 90 against 60 kg/ha not significant by a mean that its rows do not give: 0.65 > 0.621 (computed).
    (pair,) = [p for p in separated(fit_of(CASES["rice-nitrogen-rates"])).comparisons if {p.a, p.b} == {"90", "60"}]
    assert agrees(pair.difference, "0.65")
    assert pair.different_lsd
    assert not pair.different_hsd


def test_without_a_significant_f_test_the_least_difference_is_not_used() -> None:
    # Computed: unprotected, two groups of the seeding rates would come out apart.
    found = separated(fit_of(CASES["rice-seeding-rate"]))
    assert not found.protected
    assert not any(pair.different_lsd for pair in found.comparisons)
    names = [row.treatment for row in found.means]
    apart = np.zeros((len(names), len(names)), dtype=bool)
    for pair in found.comparisons:
        i, j = names.index(pair.a), names.index(pair.b)
        apart[i, j] = apart[j, i] = pair.p < 0.05
    unprotected = dict(zip(names, letters(apart, range(len(names))), strict=True))
    assert unprotected == CASES["rice-seeding-rate"]["computed_unprotected_letters"]


def test_variances_of_the_handout() -> None:
    # Published: course handout; variance of each fat.
    case = CASES["doughnut-fat-variant"]
    for row in separated(fit_of(case)).means:
        assert row.sd is not None
        assert agrees(row.sd**2, case["published_variances"][row.treatment])


def test_effects_of_the_insect_sprays() -> None:
    # Published: full table seen in an excerpt of an introductory book on R.
    case = CASES["insect-sprays"]
    found = separated(fit_of(case))
    for row in found.means:
        assert agrees(row.mean - found.grand_mean, case["published_effects"][row.treatment])


def test_the_square_root_changes_the_letters_of_the_insect_sprays() -> None:
    # Computed: counts need another scale than their own.
    fit = fit_of(CASES["insect-sprays"])
    root = fitted(fit.table.with_values(np.sqrt(fit.table.values)))
    found = separated(root)
    assert agrees(next(row.f for row in root.anova if row.source == "treatment"), "44.7993")
    assert agrees(root.mse, "0.39482")
    assert agrees(found.lsd.value, "0.5122")
    assert agrees(found.hsd.value, "0.7529")
    lsd = {row.treatment: row.letter_lsd for row in found.means}
    hsd = {row.treatment: row.letter_hsd for row in found.means}
    assert lsd == {"F": "a", "B": "a", "A": "a", "D": "b", "E": "b", "C": "c"}
    assert hsd == {"F": "a", "B": "a", "A": "a", "D": "b", "E": "bc", "C": "c"}


def test_plant_growth_tells_one_pair_apart() -> None:
    # Published: difference 0.865 (One-way ANOVA in R, teaching page); there Tukey's p is 0.012, below 0.05 alone.
    found = separated(fit_of(CASES["plant-growth"])).comparisons
    assert [(pair.a, pair.b) for pair in found if pair.different_hsd] == [("trt2", "trt1")]
    assert agrees(found[1].difference, "0.865")


def test_tukeys_intervals_of_the_tiny_example() -> None:
    # Published: Post-hoc test in R, university course notes.
    pairs = {(p.a, p.b): p for p in separated(fit_of(CASES["three-by-three"])).comparisons}
    for names, difference, low, high in (
        (("B", "A"), "2", "-0.505", "4.51"),
        (("C", "A"), "4", "1.49", "6.51"),
        (("C", "B"), "2", "-0.505", "4.51"),
    ):
        pair = pairs[names]
        assert agrees(pair.difference, difference)
        assert agrees(pair.hsd_low, low)
        assert agrees(pair.hsd_high, high)
        assert pair.different_hsd == (float(low) > 0)


# npk (Venables WN, Ripley BD 2002, help of the R package MASS), rows from memory: in each of six blocks four plots,
# nitrogen, phosphate and potash given (1) or not (0), and the yield of peas [lb/plot].
NPK = (
    (("011", 49.5), ("110", 62.8), ("000", 46.8), ("101", 57.0)),
    (("100", 59.8), ("111", 58.5), ("001", 55.5), ("010", 56.0)),
    (("010", 62.8), ("111", 55.8), ("100", 69.5), ("001", 55.0)),
    (("100", 62.0), ("111", 48.8), ("001", 45.5), ("010", 44.2)),
    (("110", 52.0), ("000", 51.5), ("101", 49.8), ("011", 48.8)),
    (("101", 57.2), ("110", 59.0), ("011", 53.2), ("000", 56.0)),
)


def peas(factors: tuple[int, ...]) -> Table:
    """The plots of peas, told apart by some of the three fertilizers."""
    cells = [(str(number), given, value) for number, block in enumerate(NPK, 1) for given, value in block]
    names = tuple("".join(given[factor] for factor in factors) for _, given, _ in cells)
    return Table("rcbd", names, tuple(block for block, *_ in cells), np.array([value for *_, value in cells]))


def sums(table: Table) -> dict[str, float]:
    return {row.source: row.ss for row in fitted(table).anova}


def test_sums_of_squares_of_the_peas() -> None:
    # Published: example output in the help of the R package MASS. Its error allows for all fertilizers at once, so only
    # the sums of squares can be compared.
    alone = [sums(peas((factor,))) for factor in range(3)]
    assert all(agrees(found["block"], "343.3") for found in alone)
    assert [agrees(found["treatment"], ss) for found, ss in zip(alone, ("189.3", "8.4", "95.2"), strict=True)] == [
        True
    ] * 3
    for pair, ss in (((0, 1), "21.3"), ((0, 2), "33.1"), ((1, 2), "0.5")):
        together = sums(peas(pair))["treatment"]
        # 33.135 (computed) is printed as 33.1.
        assert agrees(together - sum(alone[factor]["treatment"] for factor in pair), ss)
    means = {row.treatment: row.mean for row in separated(fitted(peas((0,)))).means}
    assert agrees(means["0"], "52.0667")
    assert agrees(means["1"], "57.6833")


def test_treatments_that_blocks_confound_are_refused() -> None:
    # Published: the interaction of all three fertilizers is confounded with blocks, so eight treatments are too many.
    with pytest.raises(TooFew, match="cannot be told apart"):
        fitted(peas((0, 1, 2)))


def warp(wool_in: str) -> Table:
    """Warp breaks of nine looms for each wool and tension; wool left out, as block, or as part of the treatment."""
    rows = CASES["warpbreaks-tension"]["rows"]
    cells = [(tension, "AB"[i // 9], float(value)) for tension, row in rows.items() for i, value in enumerate(row)]
    names = tuple(wool + tension if wool_in == "treatment" else tension for tension, wool, _ in cells)
    design: Design = "rcbd" if wool_in == "block" else "crd"
    return Table(design, names, tuple(wool for _, wool, _ in cells), np.array([value for *_, value in cells]))


def test_warp_breaks_with_wool_as_block() -> None:
    # Published: F values and Tukey differences of the additive model, unit test of the R package stp25stat.
    fit = fitted(warp("block"))
    rows = {row.source: row for row in fit.anova}
    assert agrees(rows["block"].f, "3.34")
    assert agrees(rows["treatment"].f, "7.54")
    found = separated(fit)
    assert [agrees(p.difference, d) for p, d in zip(found.comparisons, ("10.00", "14.72", "4.72"), strict=True)] == [
        True
    ] * 3
    # Computed with statsmodels.
    assert agrees(rows["block"].f, "3.3393")
    assert agrees(rows["block"].p, "0.0736")
    assert agrees(rows["treatment"].f, "7.5367")
    assert agrees(rows["treatment"].p, "0.0014")
    assert agrees(fit.mse, "134.95778")
    assert agrees(found.lsd.value, "7.7779")
    assert agrees(found.hsd.value, "9.3534")
    assert {row.treatment: row.letter_hsd for row in found.means} == {"L": "a", "M": "b", "H": "b"}


def test_warp_breaks_of_six_treatments() -> None:
    # Published (anova help of a statistics package): wool 450.7 and F 3.765, tension mean square 1017.1 and F 8.498
    # when the error is that of the interaction model.
    fit = fitted(warp("treatment"))
    assert agrees(fit.mse, "119.68981")  # computed with statsmodels
    assert fit.mse is not None
    wool = sums(warp("block"))["block"]
    tension = sums(warp("block"))["treatment"]
    assert agrees(wool, "450.7")
    assert agrees(wool / fit.mse, "3.765")
    assert agrees(tension / 2, "1017.1")
    assert agrees(tension / 2 / fit.mse, "8.498")
