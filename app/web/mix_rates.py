"""Rates of a label, as the mix form offers them for the turf that is told."""

from __future__ import annotations

from collections.abc import Sequence

from app.engine.product import LabelRate, Product
from app.web.choices import TURF_SCOPES
from app.web.units import System, rate
from knowledge.base import KnowledgeBase, applies_to_turf
from knowledge.quantities import Quantity

ENDS = ("low", "middle", "high")


def label_lines(base: KnowledgeBase, product: Product, turf: str, *, spot: bool) -> tuple[LabelRate, ...]:
    """The lines of a label that hold on a turf, one a purpose; where no turf is told, the only line or none."""
    lines = [line for line in product.rates if (line.purpose == "spot") == spot]
    if spot and not lines:
        lines = list(product.rates)
    if turf not in base.turf:
        return tuple(lines) if len(lines) == 1 else ()
    best: dict[str, tuple[int, LabelRate]] = {}
    for line in lines:
        fits = applies_to_turf(line.turf, base.turf[turf])
        if fits >= 0 and fits > best.get(line.purpose, (-1, line))[0]:
            best[line.purpose] = (fits, line)
    return tuple(line for _, line in best.values())


def _steps(line: LabelRate) -> dict[str, Quantity]:
    low, high = line.low.quantity, line.high.quantity.to(line.low.unit)
    return dict(zip(ENDS, (low, Quantity((low.value + high.value) / 2, low.unit), high), strict=True))


def rate_choices(lines: Sequence[LabelRate], system: System) -> dict[str, str]:
    """Low, middle and high end of each line with its figure, by the value of the form's field."""
    found = {}
    for line in lines:
        steps = _steps(line)
        single = steps["low"].base == steps["high"].base
        for end in ("high",) if single else ENDS:
            words = "as the label says" if single else {"low": "lowest", "middle": "middle", "high": "highest"}[end]
            purpose = f", {line.purpose}" if len(lines) > 1 else ""
            found[_key(lines, line, end)] = f"{rate(steps[end], system)} ({words}{purpose})"
    return found


def _key(lines: Sequence[LabelRate], line: LabelRate, end: str) -> str:
    return end if len(lines) == 1 else f"{end}-{line.purpose}"


def chosen_rate(lines: Sequence[LabelRate], chosen: str) -> Quantity | None:
    """The rate that a value of the field names; None where the lines do not tell it."""
    for line in lines:
        for end, quantity in _steps(line).items():
            if chosen == _key(lines, line, end):
                return quantity
    return None


def lines_said(product: Product, system: System) -> tuple[str, ...]:
    """Every line of a label's rates in words."""
    return tuple(
        f"{', '.join(TURF_SCOPES.get(key, key.replace('-', ' ')) for key in line.turf)}: "
        f"{rate(line.low, system)} to {rate(line.high, system)} ({line.purpose})"
        for line in product.rates
    )
