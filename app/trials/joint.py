"""Mixtures against what their parts do alone: Colby's expectation with its confidence interval."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice, product

import numpy as np

from app.trials.fit import Fit, Floats
from app.trials.output import Joint, Word
from app.trials.separation import t_critical
from app.trials.trial import TreatedWith, Treatment
from app.trials.words import said_amount, said_figure, said_p

# Above this expectation observed and expected are both near 100 and cannot differ by much.
CAPPED = 90.0
_MOST_ANSWERS = 20
# Active, form, dimension and size of its rate, adjuvant, stage of the weed.
_Key = tuple[str, str, str, float, str, int, str]


def colby(parts: Sequence[float]) -> float:
    """Control expected of a mixture whose parts act independently (Colby 1967): survivors multiply.

    >>> colby([40, 60]), colby([50, 50, 50])
    (76.0, 87.5)
    """
    return 100 * (1 - float(np.prod([1 - part / 100 for part in parts])))


def departure(parts: Floats, observed: float, covariance: Floats) -> tuple[float, float]:
    """Observed minus expected, and its standard error by first derivatives (delta method; Blouin 2004, 2010).

    Parameters
    ----------
    parts : ndarray, shape (m,)
        Means of the parts alone [%].
    observed : float
        Mean of the mixture [%].
    covariance : ndarray, shape (m + 1, m + 1)
        Covariance of the means, the parts first and then the mixture.

    Examples
    --------
    >>> [round(x, 4) for x in departure(np.array([60.0, 50.0]), 92.0, np.diag([16.0, 25.0, 9.0]))]
    [12.0, 4.1231]
    """
    alive = 1 - parts / 100
    gradient = [-float(np.prod(np.delete(alive, index))) for index in range(len(parts))]
    slopes = np.array([*gradient, 1.0])
    return observed - colby([float(part) for part in parts]), float(np.sqrt(slopes @ covariance @ slopes))


def joints(
    fit: Fit, treatments: Mapping[str, Treatment], weed: str, alpha: float, additive_within: float
) -> tuple[Joint, ...]:
    """Every mixture of the table whose parts stand in it alone, at the same rates and with the same adjuvant.

    Parameters
    ----------
    fit : Fit
        The fit on the percent scale.
    treatments : mapping of str to Treatment
        What each treatment is made of.
    additive_within : float
        An interval inside so many points on both sides is called additive [percentage points].
    """
    index = {name: place for place, name in enumerate(fit.table.names)}
    if fit.mse is None:
        return ()
    found = []
    for mixture, parts in _mixtures([treatments[name] for name in fit.table.names], weed):
        places = [index[part.name] for part in parts] + [index[mixture.name]]
        means = fit.means[places]
        difference, se = departure(means[:-1], float(means[-1]), fit.covariance[np.ix_(places, places)])
        found.append(
            _judged(mixture.name, [p.name for p in parts], means, difference, se, fit.df, alpha, additive_within)
        )
    return tuple(found)


def _judged(
    mixture: str,
    parts: Sequence[str],
    means: Floats,
    difference: float,
    se: float,
    df: int,
    alpha: float,
    additive_within: float,
) -> Joint:
    from scipy.special import stdtr

    expected = colby([float(mean) for mean in means[:-1]])
    reach = t_critical(alpha, df) * se
    low, high = difference - reach, difference + reach
    p = 2 * float(stdtr(df, -abs(difference) / se))
    word: Word
    if low > 0:
        word = "synergistic"
    elif high < 0:
        word = "antagonistic"
    else:
        word = "additive" if max(-low, high) <= additive_within else "not told apart"
    figures = (
        f"{said_figure(float(means[-1]))} % observed against {said_figure(expected)} % expected if the parts act "
        f"independently (difference {said_amount(difference, 'points')}, {100 * (1 - alpha):.3g} % interval "
        f"{said_figure(low)} to {said_figure(high)}, {said_p(p)})"
    )
    ends = {
        "synergistic": "more than independent action explains: synergistic against Colby's expectation.",
        "antagonistic": "less than independent action explains: antagonistic against Colby's expectation.",
        "additive": f"no difference from independent action beyond {additive_within:.0f} points: additive.",
        "not told apart": "the interval holds zero but is too wide to call it additive.",
    }
    text = f"{mixture}: {figures}; {ends[word]}"
    if expected > CAPPED:
        text += " Near 100 % the expectation is capped, so little can be told."
    return Joint(
        mixture=mixture,
        parts=tuple(parts),
        observed=float(means[-1]),
        expected=expected,
        difference=difference,
        low=low,
        high=high,
        p=p,
        word=word,
        text=text,
    )


def _mixtures(treatments: Sequence[Treatment], weed: str) -> Iterator[tuple[Treatment, tuple[Treatment, ...]]]:
    singles: dict[_Key, list[Treatment]] = {}
    for treatment in treatments:
        if len(treatment.actives) == 1:
            singles.setdefault(_key(treatment, treatment.actives[0], weed), []).append(treatment)
    for mixture in treatments:
        if len(mixture.actives) < 2:
            continue
        alone = [singles.get(_key(mixture, active, weed), []) for active in mixture.actives]
        # A part that stands several times gives several answers; their number is bounded.
        for parts in islice(product(*alone), _MOST_ANSWERS):
            if len({part.name for part in parts}) == len(parts):
                yield mixture, parts


def _key(treatment: Treatment, told: TreatedWith, weed: str) -> _Key:
    """What a part and its mixture must share: active, form, rate, adjuvant, sprays, and stage of the weed."""
    # A rate that neither tells is taken as the same: the file says so by naming the mixture after its parts.
    quantity = told.rate.quantity if told.rate is not None else None
    rate = ("", -1.0) if quantity is None else (quantity.dimension, round(quantity.base, 6))
    shared = (treatment.adjuvant or "none", treatment.applications, treatment.stages.get(weed, ""))
    return told.active, told.form or "", *rate, *shared
