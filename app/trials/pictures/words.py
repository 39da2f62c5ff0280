"""Figures and short sentences as the pictures say them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from app.trials.output import MeanRow, Separation

_LONG_RUN = 5


def percent(value: float) -> str:
    """A share in whole percent, with a decimal where rounding would claim all or nothing.

    >>> percent(91.6), percent(99.7), percent(0.3), percent(-12.4)
    ('92 %', '99.7 %', '0.3 %', '−12 %')
    """
    return f"{figure(value)} %"


def figure(value: float) -> str:
    """A percentage without its sign."""
    whole = f"{value:.0f}"
    text = f"{value:.1f}" if whole in {"0", "-0", "100"} and f"{value:.1f}" not in {"0.0", "-0.0", "100.0"} else whole
    return "0" if text == "-0" else text.replace("-", "−")


def amount(value: float) -> str:
    """A rate or statistic to three figures, written out.

    >>> amount(0.012345), amount(1234.5), amount(2.0)
    ('0.0123', '1230', '2')
    """
    if value == 0:
        return "0"
    text = f"{float(f'{value:.3g}'):.10f}".rstrip("0").rstrip(".")
    return text.replace("-", "−")


def counted(number: int, one: str, more: str | None = None) -> str:
    """A number with its noun.

    >>> counted(1, "replicate"), counted(4, "replicate")
    ('1 replicate', '4 replicates')
    """
    return f"{number} {one if number == 1 else more or one + 's'}"


def design_in_short(text: str) -> str:
    """The name of a design; how it was told from the plots stays on the page.

    >>> design_in_short("Randomised complete blocks: 4 replicates, each with every treatment.")
    'randomised complete blocks'
    """
    name = text.split(":", maxsplit=1)[0].rstrip(".")
    return name[:1].lower() + name[1:]


def days(number: int) -> str:
    """Days after application."""
    return f"{counted(number, 'day')} after application"


def confidence(alpha: float | None) -> str:
    """A confidence interval with its level, where that is told."""
    return "confidence interval" if alpha is None else f"{amount(100 * (1 - alpha))} % confidence interval"


def letters(rows: Sequence[MeanRow], separation: Separation, what: str) -> str:
    """What the letters beside means say, and by which least difference."""
    if not any(row.letter_lsd for row in rows):
        return f"No letters: {what} could not be separated."
    unit = "degrees of the arcsine scale" if separation.scale == "arcsine" else "points"
    alpha = amount(separation.lsd.alpha)
    least = separation.lsd.value
    by = f"LSD at alpha {alpha}" if least is None else f"LSD {amount(least)} {unit} at alpha {alpha}"
    text = f"{what.capitalize()} that share a letter are not told apart ({by}"
    text += ")." if separation.lsd.exact or least is None else ", the mean over pairs, as replication is unequal)."
    if letters_differ(rows):
        text += " HSD: letters by the test that guards all pairs at once."
    if any(shortened(letter) != letter for row in rows for letter in (row.letter_lsd or "", row.letter_hsd or "")):
        text += " A dash stands for the letters between."
    if not separation.protected:
        text += " The F test finds no difference between treatments, so no letter proves one."
    return text


def shortened(letter: str) -> str:
    """Letters of a mean, a long run of them by its ends: with many treatments they would fill the picture.

    >>> shortened("abc"), shortened("cdefgh"), shortened("abdefg")
    ('abc', 'c–h', 'abdefg')
    """
    run = len(letter) >= _LONG_RUN and all(ord(b) - ord(a) == 1 for a, b in pairwise(letter))
    return f"{letter[0]}–{letter[-1]}" if run else letter


def letters_differ(rows: Sequence[MeanRow]) -> bool:
    """Whether Tukey's letters say something else."""
    return any(row.letter_hsd is not None and row.letter_hsd != row.letter_lsd for row in rows)
