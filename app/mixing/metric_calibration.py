"""Calibration in metric units: the same equations, told in litres, metres and kilometres an hour.

L/min = L/ha x km/h x W [m] / 600, which follows from the units: 10,000 m2 a hectare over 1000/60 m a minute
for each km/h.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import FieldError, Input
from app.engine.output import Amount
from app.mixing.calibration import Calibrated
from knowledge.quantities import Quantity

_M2_PER_HA = 10_000
_METRES_A_MINUTE_AND_KM_H = 1000 / 60
METRIC_CONSTANT = _M2_PER_HA / _METRES_A_MINUTE_AND_KM_H
_ML_PER_L = 1000
_SECONDS = 60
_KM_H_AND_METRES_A_SECOND = 3.6
_KM_PER_MILE, _M_PER_FOOT, _CM_PER_INCH = 1.609344, 0.3048, 2.54


class MetricBoom(Input):
    """L/min = L/ha x km/h x W / 600: give three of the four; W is the width one nozzle sprays [m]."""

    method: Literal["boom-metric"] = "boom-metric"
    l_per_ha: float | None = Field(default=None, ge=1e-3, le=1e6)
    l_per_min: float | None = Field(default=None, ge=1e-4, le=1e5)
    km_h: float | None = Field(default=None, ge=1e-3, le=200)
    width_m: float | None = Field(default=None, ge=1e-4, le=150)

    @model_validator(mode="after")
    def _one_is_left_open(self) -> MetricBoom:
        names = ("l_per_ha", "l_per_min", "km_h", "width_m")
        left = [name for name in names if getattr(self, name) is None]
        if len(left) != 1:
            what = "leave exactly one of l_per_ha, l_per_min, km_h, width_m open"
            raise FieldError(left[1] if len(left) > 1 else "l_per_ha", what)
        return self


class MetricCourse(Input):
    """One nozzle caught over a course of known length: mL x 10 / (W x length [m]) is L/ha."""

    method: Literal["course-metric"] = "course-metric"
    width_m: float = Field(ge=1e-4, le=150)
    course_m: float = Field(default=100, ge=1, le=1e4)
    caught_ml: float = Field(ge=1e-2, le=1e6)


class MetricGun(Input):
    """A walking spray gun by timed area: how long a known area takes, and what flows in a known time."""

    method: Literal["gun-metric"] = "gun-metric"
    area_m2: float = Field(ge=1e-2, le=1e5)
    seconds: float = Field(ge=1e-3, le=1e5)
    caught_ml: float = Field(ge=1e-2, le=1e6)
    caught_seconds: float = Field(ge=1e-3, le=1e5)


class MetricSpeed(Input):
    """Ground speed from the time a distance takes."""

    method: Literal["speed-metric"] = "speed-metric"
    metres: float = Field(ge=1e-3, le=1e5)
    seconds: float = Field(ge=1e-3, le=1e5)


AnyMetricCalibration = MetricBoom | MetricCourse | MetricGun | MetricSpeed


def calibrate_metric(told: AnyMetricCalibration) -> Calibrated:
    """Solve a calibration that is told in metric units for what is not told.

    Returns
    -------
    Calibrated
        `carrier` in L/ha and the working in metric; the other figures in the units that `Calibrated` names.
    """
    if isinstance(told, MetricBoom):
        return _boom(told)
    if isinstance(told, MetricCourse):
        litres = told.caught_ml * _M2_PER_HA / _ML_PER_L / (told.width_m * told.course_m)
        work = f"{told.caught_ml:g} mL x 10 / ({told.width_m:g} m x {told.course_m:g} m) = {litres:.4g} L/ha"
        return _found("course-metric", litres, (work,), width=told.width_m, course=told.course_m)
    if isinstance(told, MetricSpeed):
        speed = told.metres / told.seconds * _KM_H_AND_METRES_A_SECOND
        work = f"{told.metres:g} m x 3.6 / {told.seconds:g} s = {speed:.3g} km/h"
        return Calibrated(method="speed-metric", speed=speed / _KM_PER_MILE, working=(work,))
    flow = told.caught_ml / told.caught_seconds
    sprayed = flow * told.seconds / _ML_PER_L
    litres = sprayed * _M2_PER_HA / told.area_m2
    work_of_gun = (
        f"{told.caught_ml:g} mL in {told.caught_seconds:g} s, for the {told.seconds:g} s of the area: {sprayed:.3g} L",
        f"{sprayed:.3g} L on {told.area_m2:g} m2 = {litres / 100:.3g} L/100 m2 = {litres:.4g} L/ha",
    )
    return _found("gun-metric", litres, work_of_gun, flow=flow * _SECONDS / _ML_PER_L)


def _boom(told: MetricBoom) -> Calibrated:
    names = ("l_per_ha", "l_per_min", "km_h", "width_m")
    litres, flow, speed, width = (v if v is not None else 0.0 for v in (getattr(told, name) for name in names))
    if told.l_per_min is None:
        flow = litres * speed * width / METRIC_CONSTANT
        work = f"L/min = {litres:g} L/ha x {speed:g} km/h x {width:g} m / 600 = {flow:.4g} L/min"
    elif told.l_per_ha is None:
        litres = METRIC_CONSTANT * flow / (speed * width)
        work = f"L/ha = 600 x {flow:g} L/min / ({speed:g} km/h x {width:g} m) = {litres:.4g} L/ha"
    elif told.km_h is None:
        speed = METRIC_CONSTANT * flow / (litres * width)
        work = f"km/h = 600 x {flow:g} L/min / ({litres:g} L/ha x {width:g} m) = {speed:.4g} km/h"
    else:
        width = METRIC_CONSTANT * flow / (litres * speed)
        work = f"W = 600 x {flow:g} L/min / ({litres:g} L/ha x {speed:g} km/h) = {width:.4g} m"
    catch = f"That is {flow * _ML_PER_L:.4g} mL a minute from each nozzle."
    return _found("boom-metric", litres, (work, catch), flow=flow, speed=speed, width=width)


def _found(
    method: str,
    litres: float,
    working: tuple[str, ...],
    flow: float | None = None,
    speed: float | None = None,
    width: float | None = None,
    course: float | None = None,
) -> Calibrated:
    small = Quantity(litres, "L/ha").to("gal/1000 ft2").value
    return Calibrated(
        method=method,
        carrier=Amount(value=litres, unit="L/ha"),
        carrier_per_1000_ft2=Amount(value=small, unit="gal/1000 ft2"),
        flow=Quantity(flow, "L").to("gal").value if flow is not None else None,
        speed=speed / _KM_PER_MILE if speed is not None else None,
        width=width * 100 / _CM_PER_INCH if width is not None else None,
        course_length=course / _M_PER_FOOT if course is not None else None,
        working=working,
    )
