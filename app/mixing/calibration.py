"""Calibration of sprayers and spray guns: the usual equations, solved for what is not told.

Sources: GPM = GPA x MPH x W / 5940 and the 1/128-acre method as in Albany County Weed and Pest District,
Calibrating your sprayer; the area of 1/128 acre as in Waltz and Murphy, Calibrate sprayer.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from app.engine.measures import FieldError, Input
from app.engine.output import Amount, Output, Statement
from knowledge.base import KnowledgeBase
from knowledge.quantities import FT2_PER_ACRE, Quantity

# Inches of spray width times feet per minute of one mile an hour, over the square feet of an acre:
# 43560 ft2 x 12 in / 88 ft = 5940.
CONSTANT = FT2_PER_ACRE * 12 / 88
SQUARE_FEET_OF_128TH = FT2_PER_ACRE / 128
_FEET_PER_MINUTE_AND_MPH = 88
_INCHES_PER_FOOT = 12
_SECONDS = 60


class BoomCalibration(Input):
    """GPM = GPA x MPH x W / 5940: give three of the four; W is the width one nozzle sprays [in]."""

    method: Literal["boom"] = "boom"
    gpa: float | None = Field(default=None, ge=1e-3, le=1e5)
    gpm: float | None = Field(default=None, ge=1e-3, le=1e5)
    mph: float | None = Field(default=None, ge=1e-3, le=100)
    width_in: float | None = Field(default=None, ge=1e-3, le=5000)

    @model_validator(mode="after")
    def _one_is_left_open(self) -> BoomCalibration:
        names = ("gpa", "gpm", "mph", "width_in")
        left = [name for name in names if getattr(self, name) is None]
        if len(left) != 1:
            raise FieldError(left[1] if len(left) > 1 else "gpa", "leave exactly one of gpa, gpm, mph, width_in open")
        return self


class CourseCalibration(Input):
    """The 1/128-acre method: fluid ounces caught while 1/128 acre is sprayed equal gallons per acre.

    `width_in` is the nozzle spacing, or the width sprayed by hand; `seconds` is the time the course
    takes and may be left out, where `caught_fl_oz` was caught for that time.
    """

    method: Literal["course"] = "course"
    width_in: float = Field(ge=1e-3, le=5000)
    caught_fl_oz: float | None = Field(default=None, ge=1e-3, le=1e5)


class GunCalibration(Input):
    """A walking spray gun by timed area: how long a known area takes, and what flows in a known time."""

    method: Literal["gun"] = "gun"
    area_ft2: float = Field(ge=1e-3, le=1e6)
    seconds: float = Field(ge=1e-3, le=1e5)
    caught_fl_oz: float = Field(ge=1e-3, le=1e5)
    caught_seconds: float = Field(ge=1e-3, le=1e5)


class NozzleCheck(Input):
    """What each nozzle of a boom gives in the same time [fl oz]."""

    method: Literal["nozzles"] = "nozzles"
    caught_fl_oz: tuple[float, ...] = Field(min_length=2, max_length=200)

    @model_validator(mode="after")
    def _each_gives_something(self) -> NozzleCheck:
        _check_nozzles("caught_fl_oz", self.caught_fl_oz, "fl oz")
        return self


class MetricNozzleCheck(Input):
    """What each nozzle of a boom gives in the same time [mL]."""

    method: Literal["nozzles-metric"] = "nozzles-metric"
    caught_ml: tuple[float, ...] = Field(min_length=2, max_length=200)

    @model_validator(mode="after")
    def _each_gives_something(self) -> MetricNozzleCheck:
        _check_nozzles("caught_ml", self.caught_ml, "mL")
        return self


def _check_nozzles(field: str, all_caught: tuple[float, ...], unit: str) -> None:
    for number, caught in enumerate(all_caught):
        if not 0 <= caught <= 1e6:
            raise FieldError(f"{field}.{number}", f"must be what the nozzle gave in {unit}, zero or more")
    if sum(all_caught) <= 0:
        raise FieldError(field, "no nozzle gave anything; catch each for the same time")


class SpeedCheck(Input):
    """Ground speed from the time a distance takes."""

    method: Literal["speed"] = "speed"
    feet: float = Field(ge=1e-3, le=1e5)
    seconds: float = Field(ge=1e-3, le=1e5)


AnyCalibration = BoomCalibration | CourseCalibration | GunCalibration | NozzleCheck | MetricNozzleCheck | SpeedCheck


class Calibrated(Output):
    """What a calibration comes to; null what it does not tell.

    `carrier` is in gal/acre (in L/ha where the measures were metric) and `carrier_per_1000_ft2` in
    gal/1000 ft2; `flow` in gal/min per nozzle, `speed` in mph, `width` in in, `course_length` in ft; `off`
    are the numbers of nozzles (from 1) that differ too much from the mean.
    """

    method: str
    carrier: Amount | None = None
    carrier_per_1000_ft2: Amount | None = None
    flow: float | None = None
    speed: float | None = None
    width: float | None = None
    course_length: float | None = None
    off: tuple[int, ...] = ()
    working: tuple[str, ...]
    advice: tuple[Statement, ...] = ()


def calibrate(base: KnowledgeBase, told: AnyCalibration) -> Calibrated:
    """Solve a calibration for what is not told."""
    if isinstance(told, BoomCalibration):
        return _boom(told)
    if isinstance(told, CourseCalibration):
        return _course(told)
    if isinstance(told, GunCalibration):
        return _gun(told)
    if isinstance(told, SpeedCheck):
        speed = told.feet * _SECONDS / (told.seconds * _FEET_PER_MINUTE_AND_MPH)
        work = f"{told.feet:g} ft x 60 / ({told.seconds:g} s x 88) = {speed:.3g} mph"
        return Calibrated(method="speed", speed=speed, working=(work,))
    if isinstance(told, MetricNozzleCheck):
        return _nozzles(base, told.method, told.caught_ml, "mL")
    return _nozzles(base, told.method, told.caught_fl_oz, "fl oz")


def _carrier(gpa: float) -> dict[str, Amount]:
    small = Quantity(gpa, "gal/acre").to("gal/1000 ft2").value
    return {
        "carrier": Amount(value=gpa, unit="gal/acre"),
        "carrier_per_1000_ft2": Amount(value=small, unit="gal/1000 ft2"),
    }


def _boom(told: BoomCalibration) -> Calibrated:
    names = ("gpa", "gpm", "mph", "width_in")
    gpa, gpm, mph, width = (value if value is not None else 0.0 for value in (getattr(told, name) for name in names))
    if told.gpm is None:
        gpm = gpa * mph * width / CONSTANT
        work = f"GPM = {gpa:g} GPA x {mph:g} MPH x {width:g} in / 5940 = {gpm:.4g} gal/min"
    elif told.gpa is None:
        gpa = CONSTANT * gpm / (mph * width)
        work = f"GPA = 5940 x {gpm:g} GPM / ({mph:g} MPH x {width:g} in) = {gpa:.4g} gal/acre"
    elif told.mph is None:
        mph = CONSTANT * gpm / (gpa * width)
        work = f"MPH = 5940 x {gpm:g} GPM / ({gpa:g} GPA x {width:g} in) = {mph:.4g} mph"
    else:
        width = CONSTANT * gpm / (gpa * mph)
        work = f"W = 5940 x {gpm:g} GPM / ({gpa:g} GPA x {mph:g} MPH) = {width:.4g} in"
    catch = f"That is {gpm * 128:.4g} fl oz a minute from each nozzle."
    return Calibrated(method="boom", **_carrier(gpa), flow=gpm, speed=mph, width=width, working=(work, catch))


def _course(told: CourseCalibration) -> Calibrated:
    length = SQUARE_FEET_OF_128TH * _INCHES_PER_FOOT / told.width_in
    work = [f"1/128 acre is {SQUARE_FEET_OF_128TH:.1f} ft2: a course of {length:.1f} ft at {told.width_in:g} in."]
    if told.caught_fl_oz is None:
        work.append("Time the course at working speed, catch one nozzle for that time, and read ounces as gal/acre.")
        return Calibrated(method="course", width=told.width_in, course_length=length, working=tuple(work))
    work.append(f"{told.caught_fl_oz:g} fl oz caught in the time of the course = {told.caught_fl_oz:g} gal/acre")
    return Calibrated(
        method="course",
        **_carrier(told.caught_fl_oz),
        width=told.width_in,
        course_length=length,
        working=tuple(work),
    )


def _gun(told: GunCalibration) -> Calibrated:
    flow = told.caught_fl_oz / told.caught_seconds
    gallons = flow * told.seconds / 128
    small = gallons * 1000 / told.area_ft2
    gpa = Quantity(small, "gal/1000 ft2").to("gal/acre").value
    work = (
        f"{told.caught_fl_oz:g} fl oz in {told.caught_seconds:g} s, for the {told.seconds:g} s of the area: "
        f"{gallons:.3g} gal",
        f"{gallons:.3g} gal on {told.area_ft2:g} ft2 = {small:.3g} gal/1000 ft2 = {gpa:.3g} gal/acre",
    )
    return Calibrated(method="gun", **_carrier(gpa), flow=flow * _SECONDS / 128, working=work)


def _nozzles(base: KnowledgeBase, method: str, all_caught: tuple[float, ...], unit: str) -> Calibrated:
    mean = sum(all_caught) / len(all_caught)
    allowed = base.parameters["nozzle-variation"]
    off = tuple(
        number
        for number, caught in enumerate(all_caught, start=1)
        if abs(caught - mean) > mean * allowed.value / 100 * (1 + 1e-9)
    )
    said = (
        f"Clean or replace nozzle {', '.join(map(str, off))}: more than {allowed.value:g} % from the mean."
        if off
        else f"Every nozzle is within {allowed.value:g} % of the mean."
    )
    sources = tuple(citation.id for citation in allowed.sources)
    return Calibrated(
        method=method,
        off=off,
        working=(f"Mean of {len(all_caught)} nozzles: {mean:.3g} {unit}.",),
        advice=(Statement(code="nozzle-variation", text=said, sources=sources),),
    )
