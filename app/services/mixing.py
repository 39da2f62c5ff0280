"""Use cases of mixing: a plan as plain data in, what goes into each tank out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from app.engine.errors import FieldFault, InputError, UnknownId
from app.engine.product import Product
from app.mixing.calibration import (
    AnyCalibration,
    BoomCalibration,
    Calibrated,
    CourseCalibration,
    GunCalibration,
    MetricNozzleCheck,
    NozzleCheck,
    SpeedCheck,
)
from app.mixing.calibration import calibrate as engine_calibrate
from app.mixing.metric_calibration import (
    AnyMetricCalibration,
    MetricBoom,
    MetricCourse,
    MetricGun,
    MetricSpeed,
    calibrate_metric,
)
from app.mixing.mix import mix as engine_mix
from app.mixing.output import Mix
from app.mixing.plan import MixPlan
from app.services.knowledge_service import knowledge_base
from app.services.validation import validated

# Looks a product of the shelf up by its id.
Lookup = Callable[[str], Product]
SprayerLookup = Callable[[str], Mapping[str, Any]]

CALIBRATIONS: dict[str, type[AnyCalibration] | type[AnyMetricCalibration]] = {
    "boom": BoomCalibration,
    "course": CourseCalibration,
    "gun": GunCalibration,
    "nozzles": NozzleCheck,
    "speed": SpeedCheck,
    "boom-metric": MetricBoom,
    "course-metric": MetricCourse,
    "gun-metric": MetricGun,
    "nozzles-metric": MetricNozzleCheck,
    "speed-metric": MetricSpeed,
}


def mix(payload: Any, product: Lookup | None = None, sprayer: SprayerLookup | None = None) -> Mix:
    """What goes into each tank, for a plan given as plain data.

    A product may be named by its id on the shelf with a rate (`{"id": "...", "rate": {...}}`), as may an
    adjuvant, whose label then gives the rate where the plan does not, and a
    kept sprayer by `"sprayer": "..."`, which then gives carrier volume and tank where the plan does not.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    return engine_mix(knowledge_base(), validated(MixPlan, _filled(payload, product, sprayer)))


def calibrate(payload: Any) -> Calibrated:
    """Solve a calibration given as plain data; `method` says which.

    Raises
    ------
    InputError
        Naming every field that cannot be used.
    """
    method = payload.get("method") if isinstance(payload, dict) else None
    if not isinstance(method, str) or method not in CALIBRATIONS:
        raise InputError([FieldFault("method", f"must be one of {', '.join(CALIBRATIONS)}")])
    told = validated(CALIBRATIONS[method], payload)
    if isinstance(told, AnyMetricCalibration):
        return calibrate_metric(told)
    return engine_calibrate(knowledge_base(), told)


def _filled(payload: Any, product: Lookup | None, sprayer: SprayerLookup | None) -> Any:
    if not isinstance(payload, dict):
        return payload
    filled = dict(payload)
    named = filled.pop("sprayer", None)
    if named is not None:
        filled = {**_of_sprayer(named, sprayer), **{key: value for key, value in filled.items() if value is not None}}
    if isinstance(filled.get("products"), list):
        filled["products"] = [_of_shelf(item, number, product) for number, item in enumerate(filled["products"])]
    if isinstance(filled.get("adjuvant"), dict):
        filled["adjuvant"] = _adjuvant_of_shelf(filled["adjuvant"], product)
    return filled


def _adjuvant_of_shelf(told: dict[str, Any], product: Lookup | None) -> dict[str, Any]:
    """An adjuvant named by its id on the shelf, at the rate of the plan or of its label."""
    named = told.get("id")
    if not isinstance(named, str) or named in knowledge_base().adjuvants or product is None:
        return told
    try:
        held = product(named)
    except UnknownId:
        # Refused in the words of an adjuvant that is not known.
        return told
    if held.kind != "adjuvant":
        raise InputError([FieldFault("adjuvant.id", f"'{named}' is no adjuvant; name it under 'products'")])
    rate = told.get("rate")
    if rate is None and held.adjuvant_rate is not None:
        rate = held.adjuvant_rate.model_dump(mode="json")
    return {**told, "id": held.adjuvant, "rate": rate, "product": held.model_dump(mode="json", exclude_none=True)}


def _of_sprayer(named: Any, sprayer: SprayerLookup | None) -> dict[str, Any]:
    if not isinstance(named, str) or sprayer is None:
        what = "must be the id of a kept sprayer" if sprayer is not None else "names a sprayer, but none are kept here"
        raise InputError([FieldFault("sprayer", what)])
    try:
        told = sprayer(named)
    except UnknownId as error:
        raise InputError([FieldFault("sprayer", f"{error}")]) from error
    return {key: told[key] for key in ("carrier", "tank") if told.get(key) is not None}


def _of_shelf(item: Any, number: int, product: Lookup | None) -> Any:
    """A product named by its id alone, as it stands on the shelf, at the rate of the plan."""
    if not isinstance(item, dict) or "id" not in item or set(item) - {"id", "rate"}:
        return item
    if product is None:
        what = "names a product of the shelf, but no shelf is at hand here"
        raise InputError([FieldFault(f"products.{number}.id", what)])
    try:
        held = product(str(item["id"])).model_dump(mode="json", exclude_none=True)
    except UnknownId as error:
        raise InputError([FieldFault(f"products.{number}.id", f"{error}")]) from error
    return {**held, "rate": item["rate"]} if "rate" in item else held
