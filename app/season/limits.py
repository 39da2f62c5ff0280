"""What a tank asks of the weather, hour by hour: read from the facts of its actives and the labels of its products.

The same facts as the engine's rules of temperature, vapour and rain read (`app.engine.rules`), and in their words.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from pydantic import Field, model_validator

from app.engine.doses import Dose
from app.engine.measures import Carrier, FieldError, Input
from app.engine.product import Product
from knowledge.base import applies_to_turf, tolerance_for
from knowledge.models import Active, Citation, Form, Turf
from knowledge.models.common import Slug
from knowledge.quantities import Quantity

# An air limit that is exceeded closes the hour, leaves it open with a caution, or leaves it to be settled.
Weight = Literal["stop", "caution", "unknown"]


class AirLimit(Input):
    """Air temperature [degF] outside which a tank is stopped or cautioned, and why.

    `weight` is `unknown` where it depends on something that was not told; `settled_by` then names that field.
    """

    code: Slug = "temperature"
    min_f: float | None = Field(default=None, ge=-80, le=140)
    max_f: float | None = Field(default=None, ge=-80, le=140)
    weight: Weight = "stop"
    why: str = Field(default="", max_length=500)
    settled_by: str | None = None
    sources: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _limits_something(self) -> AirLimit:
        if self.min_f is None and self.max_f is None:
            raise FieldError("max_f", "is required, or min_f")
        if self.min_f is not None and self.max_f is not None and self.min_f >= self.max_f:
            raise FieldError("min_f", f"{self.min_f:g} F is not below max_f of {self.max_f:g} F")
        return self


class DryLimit(Input):
    """Hours after the spray that must stay without rain, and why."""

    code: Slug = "rainfast"
    hours: float = Field(gt=0, le=168)
    why: str = Field(default="", max_length=500)
    sources: tuple[str, ...] = ()


class Limits(Input):
    """What a tank or product asks of the weather beside what the house asks of every spray.

    Attributes
    ----------
    name : str
        The tank, as people call it; empty where the house's limits alone count.
    air, dry : tuple
        Limits of air temperature and of hours without rain, each with its reason.
    max_wind_mph : float, optional
        Steady wind [mph] above which this tank is not sprayed, by its label.
    carrier : Carrier, optional
        The least carrier volume.
    """

    name: str = Field(default="", max_length=200)
    air: tuple[AirLimit, ...] = Field(default=(), max_length=60)
    dry: tuple[DryLimit, ...] = Field(default=(), max_length=30)
    max_wind_mph: float | None = Field(default=None, ge=1, le=60)
    wind_why: str = Field(default="", max_length=500)
    carrier: Carrier | None = None

    @property
    def max_temp_f(self) -> float | None:
        """The lowest ceiling of air temperature that stops [degF]."""
        return min((a.max_f for a in self.air if a.weight == "stop" and a.max_f is not None), default=None)

    @property
    def rainfast_hours(self) -> float:
        """The longest time that must stay without rain [h]."""
        return max((item.hours for item in self.dry), default=0.0)


@dataclass(frozen=True)
class Sprayed:
    """An active in a tank: in which form (None where it was not told), from which product, for which use."""

    active: Active
    form: Form | None = None
    product: Product | None = None
    preemergence: bool = False


def sprayed(dose: Dose) -> Sprayed:
    """A dose of the engine as a part of a tank."""
    product = dose.product.product if dose.product is not None else None
    line = dose.product.line if dose.product is not None else None
    before = dose.timing == "preemergence" or (line is not None and line.purpose == "preemergence")
    return Sprayed(dose.active, None if dose.form_assumed else dose.form, product, before)


def limits_of(
    parts: Sequence[Sprayed], turf: Sequence[Turf] = (), site_use: str | None = None, name: str = ""
) -> Limits:
    """What a tank of these parts asks of the weather.

    Parameters
    ----------
    parts : sequence of Sprayed
        The actives of the tank; of doses, by `sprayed`.
    turf : sequence of Turf
        The turfs to be sprayed. Where none is told, what holds on some turf alone is left to be settled.
    site_use : str, optional
        Use of the turf.
    name : str
        What the tank is called; its actives where nothing is given.
    """
    products = {part.product.name: part.product for part in parts if part.product is not None}
    air = [limit for part in parts for limit in (*_vapour(part), *_temperature(part, turf, site_use))]
    dry = [limit for part in parts for limit in _rainfast(part)]
    wet_soil = {part.product.name for part in parts if part.product is not None and part.preemergence}
    for product in products.values():
        air += _label_air(product)
        dry += _label_dry(product) if product.name not in wet_soil else ()
    floors = [part.active.carrier_floor.value for part in parts if part.active.carrier_floor is not None]
    floors += [item.carrier_floor.quantity for item in products.values() if item.carrier_floor is not None]
    return Limits(
        name=name or " + ".join(dict.fromkeys([*products, *(p.active.name for p in parts if p.product is None)])),
        air=tuple(dict.fromkeys(air)),
        dry=tuple(dict.fromkeys(dry)),
        carrier=_carrier(max(floors, key=lambda quantity: quantity.base, default=None)),
    )


def _carrier(floor: Quantity | None) -> Carrier | None:
    return Carrier(value=floor.value, unit=floor.unit) if floor is not None and floor.value > 0 else None


def _ids(citations: Iterable[Citation]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(citation.id for citation in citations))


def _vapour(part: Sprayed) -> Iterator[AirLimit]:
    """Forms that give off vapour; where the form is not told, any of them may be in the tank."""
    for form in part.active.forms if part.form is None else (part.form,):
        if form.max_air_f is None:
            continue
        why = f"{part.active.name} as {form.name} gives off vapour above {form.max_air_f:g} F"
        told = part.form is not None or len(part.active.forms) == 1
        yield AirLimit(
            code="volatility",
            max_f=form.max_air_f,
            weight="stop" if told else "unknown",
            why=why,
            settled_by=None if told else "tank.actives.form",
            sources=_ids(form.sources),
        )


def _temperature(part: Sprayed, turf: Sequence[Turf], site_use: str | None) -> Iterator[AirLimit]:
    """What turf and active ask of the air; the facts of the turf first."""
    for one in turf:
        record = tolerance_for(one, part.active.id, site_use or "")
        if record is not None and record.tolerance != "S":
            yield from _range(part, one.name, record.min_air_f, record.max_air_f, "stop", "", record.sources)
    for item in part.active.air_temperature:
        weight: Weight = "stop" if item.outcome == "stop" else "caution"
        if not turf:
            # Which turf is sprayed is not told: what holds on some of them alone may matter here.
            on, weight = ("turf", weight) if "all" in item.turf else ("some turf", "unknown")
            yield from _range(part, on, item.min_f, item.max_f, weight, item.text, item.sources)
        for one in turf:
            if applies_to_turf(item.turf, one) >= 0:
                yield from _range(part, one.name, item.min_f, item.max_f, weight, item.text, item.sources)


def _range(
    part: Sprayed,
    turf: str,
    low: float | None,
    high: float | None,
    weight: Weight,
    text: str,
    sources: tuple[Citation, ...],
) -> Iterator[AirLimit]:
    if low is None and high is None:
        return
    ends = (f"above {low:g} F" if low is not None else "", f"below {high:g} F" if high is not None else "")
    said = f": {text.rstrip('.')}" if text else ""
    yield AirLimit(
        code="temperature",
        min_f=low,
        max_f=high,
        weight=weight,
        why=f"{part.active.name} on {turf} wants air {' and '.join(end for end in ends if end)}{said}",
        settled_by="tank.turf" if weight == "unknown" else None,
        sources=_ids(sources),
    )


def _rainfast(part: Sprayed) -> Iterator[DryLimit]:
    fact = part.active.rainfast_hours
    granular = part.product is not None and part.product.granular
    if fact is not None and fact.value > 0 and not part.preemergence and not granular:
        why = f"{part.active.name} needs {fact.value:g} hours without rain or irrigation"
        yield DryLimit(code="rainfast", hours=fact.value, why=why, sources=_ids(fact.sources))


def _label_air(product: Product) -> Iterator[AirLimit]:
    if product.max_air_f is not None:
        why = f"the label of {product.name} stops at {product.max_air_f:g} F"
        yield AirLimit(code="label-temperature", max_f=product.max_air_f, why=why)


def _label_dry(product: Product) -> Iterator[DryLimit]:
    if product.rainfast_hours and not product.granular:
        why = f"the label of {product.name} asks for {product.rainfast_hours:g} hours without rain"
        yield DryLimit(code="label-rainfast", hours=product.rainfast_hours, why=why)
