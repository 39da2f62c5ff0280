"""Sentences that the figures support, and figures as people write them."""

from __future__ import annotations

from collections.abc import Sequence

from app.trials.output import Comparison, Separation


def said_p(p: float) -> str:
    """A probability as it is written in a report.

    >>> said_p(0.21), said_p(0.0123), said_p(0.00001), said_p(0.9999)
    ('p = 0.21', 'p = 0.012', 'p < 0.001', 'p > 0.99')
    """
    if p < 0.001:
        return "p < 0.001"
    if p > 0.99:
        return "p > 0.99"
    # A probability just below a usual bound must not be rounded onto it.
    digits = 4 if f"{p:.3f}" in ("0.050", "0.010", "0.100") else 3
    return f"p = {p:.{digits}f}" if p < 0.1 else f"p = {p:.2f}"


def said_figure(value: float) -> str:
    """A figure without decimals, or with one where it is small; never a minus before zero.

    >>> said_figure(13.6), said_figure(0.42), said_figure(-0.04), said_figure(-8.7)
    ('14', '0.4', '0', '-9')
    """
    text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.1f}"
    return "0" if text in ("-0.0", "0.0", "-0") else text


def said_amount(value: float, unit: str) -> str:
    """A figure with its unit, which stands in the singular for one.

    >>> said_amount(1.2, "points"), said_amount(14, "points")
    ('1 point', '14 points')
    """
    figure = said_figure(value)
    return f"{figure} {unit.removesuffix('s') if figure in ('1', '-1') else unit}"


def joined(names: Sequence[str], word: str = "and") -> str:
    """Names in a sentence; past five the rest is counted; names with a comma of their own are parted by semicolons.

    >>> joined(["A", "B", "C"]), joined(["A, with oil", "B", "C"])
    ('A, B and C', 'A, with oil; B; and C')
    """
    shown = list(names[:5])
    part, last = ("; ", f"; {word} ") if any(", " in name for name in names) else (", ", f" {word} ")
    if len(names) > 5:
        return f"{part.join(shown)}{last}{len(names) - 5} more"
    return f"{part.join(shown[:-1])}{last}{shown[-1]}" if len(shown) > 1 else "".join(shown)


def compared(pair: Comparison, means: tuple[float, float], unit: str, alpha: float) -> str:
    """One comparison in words: what may be said of two means, and on what figures."""
    figures = (
        f"{said_p(pair.p)}, difference {said_amount(pair.difference, unit)}, "
        f"{100 * (1 - alpha):.3g} % interval {said_figure(pair.low)} to {said_figure(pair.high)}"
    )
    shown = f"{said_figure(means[0])} % against {said_figure(means[1])} %"
    if pair.different_lsd:
        tukey = "by Fisher's LSD and Tukey's HSD" if pair.different_hsd else "by Fisher's LSD, not by Tukey's HSD"
        return f"{pair.a} gave more control than {pair.b}: {shown} ({figures}; different {tukey})."
    if pair.different_hsd:
        return f"{pair.a} and {pair.b}: {shown} ({figures}); different by Tukey's HSD, though not by the F test."
    if pair.p < alpha:
        return f"{pair.a} and {pair.b}: {shown} ({figures}); not told apart, since the F test of all finds nothing."
    if pair.difference == 0:
        return f"{pair.a} and {pair.b} have the same mean: {shown} ({figures})."
    return f"{pair.a} has the higher mean, not different from {pair.b}: {shown} ({figures})."


def headline(found: Separation, weed: str, days: int, alpha: float) -> str:
    """The sentence that a report may open with."""
    first = found.means[0]
    when = f"{days} days after application"
    lead = f"{first.treatment}: {said_figure(first.mean)} % control of {weed} {when}, the highest mean"
    if not found.comparisons:
        return f"{lead}; every plot of a treatment was rated alike, so no difference can be tested."
    if not found.protected:
        p = next(row.p for row in found.anova if row.source == "treatment")
        assert p is not None, "comparisons are made only where there is an error"
        return f"{lead}, but no treatment can be told from another (F test, {said_p(p)})."
    others = [pair for pair in found.comparisons if pair.a == first.treatment]
    same = [pair.b for pair in others if not pair.different_lsd]
    worse = [pair.b for pair in others if pair.different_lsd]
    method = f"Fisher's LSD at {100 * alpha:.3g} %"
    if not same:
        others_said = {1: "the other", 2: "both others"}.get(len(worse), f"all {len(worse)} others")
        return f"{lead}, better than {others_said} ({method})."
    if not worse:
        return f"{lead}, not different from {joined(same)} ({method})."
    stop = ";" if any(", " in name for name in (*same, *worse)) else ","
    return f"{lead}, not different from {joined(same)}{stop} better than {joined(worse)} ({method})."
