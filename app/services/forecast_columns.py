"""The columns of a table of weather: headings of many spellings, with the unit that stands in them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.services.csv_text import refused

Kind = Literal["time", "temperature", "speed", "depth", "percent"]
System = Literal["us", "metric"]

# Known names with the headings that mean them, as `plain` writes them.
HOURLY: dict[str, tuple[Kind, tuple[str, ...]]] = {
    "start": (
        "time",
        (
            "time",
            "datetime",
            "timestamp",
            "dateandtime",
            "datehour",
            "localtime",
            "validtime",
            "valid",
            "hourbeginning",
        ),
    ),
    "date": ("time", ("day", "localdate")),
    "hour": ("time", ("timeofday", "clock")),
    "temp": ("temperature", ("temperature", "airtemp", "airtemperature", "drybulb", "temp2m", "temperature2m", "t2m")),
    "rh": ("percent", ("humidity", "relativehumidity", "relhumidity", "relhum", "relativehumidity2m", "hum")),
    "wind": ("speed", ("windspeed", "surfacewind", "wspd", "sustainedwind", "windavg", "windspeed10m")),
    "gust": ("speed", ("gusts", "windgust", "windgusts", "gustspeed", "maxwind", "windgusts10m")),
    "rain": (
        "depth",
        ("precip", "precipitation", "rainfall", "rainamount", "precipamount", "precipitationamount", "qpf"),
    ),
    "rain_chance": (
        "percent",
        (
            *("pop", "chanceofrain", "rainchance", "precipchance", "chanceofprecipitation", "precipprobability"),
            *("precipitationprobability", "probabilityofprecipitation", "precipitationpotential", "rainprobability"),
        ),
    ),
    "cloud": ("percent", ("clouds", "cloudcover", "skycover", "cloudiness", "sky", "cloudamount")),
    "soil_temp": ("temperature", ("soil", "soiltemp", "soiltemperature", "groundtemp", "soiltemperature6cm")),
}
DAILY: dict[str, tuple[Kind, tuple[str, ...]]] = {
    "date": ("time", ("day", "time", "datetime", "localdate")),
    "min": (
        "temperature",
        ("tmin", "mint", "low", "mintemp", "mintemperature", "minimum", "temperaturemin", "lowtemp"),
    ),
    "max": (
        "temperature",
        ("tmax", "maxt", "high", "maxtemp", "maxtemperature", "maximum", "temperaturemax", "hightemp"),
    ),
    "soil_temp": ("temperature", ("soil", "soiltemp", "soiltemperature", "groundtemp", "meansoil")),
    "rain": ("depth", ("precip", "precipitation", "rainfall", "rainamount")),
}
# Units by kind, in the spellings that people write, as `unit_of` knows them.
UNITS: dict[str, dict[str, str]] = {
    "temperature": {
        **dict.fromkeys(("f", "degf", "degreesf", "fahrenheit", "°f", "ºf"), "F"),
        **dict.fromkeys(("c", "degc", "degreesc", "celsius", "centigrade", "°c", "ºc"), "C"),
    },
    "speed": {
        **dict.fromkeys(("mph", "mi/h", "mileshour", "milesperhour"), "mph"),
        **dict.fromkeys(("kmh", "km/h", "kph", "kmph", "kmhour", "kmperhour"), "km/h"),
        **dict.fromkeys(("ms", "m/s", "mps", "meterspersecond", "metrespersecond"), "m/s"),
        **dict.fromkeys(("kn", "kt", "kts", "knot", "knots"), "kn"),
    },
    "depth": {**dict.fromkeys(("in", "inch", "inches", '"'), "in"), "mm": "mm", "cm": "cm"},
    "percent": dict.fromkeys(("%", "pct", "percent"), "%"),
    "time": {},
}
# What a figure without a unit counts in, once the table is said to be in this system.
USUAL: dict[System, dict[str, str]] = {
    "us": {"temperature": "F", "speed": "mph", "depth": "in", "percent": "%"},
    "metric": {"temperature": "C", "speed": "km/h", "depth": "mm", "percent": "%"},
}
_SPELLINGS = {spelling for units in UNITS.values() for spelling in units}
_ENDING = re.compile(r"^(?P<name>.*?)[\s_,:/(\[]+(?P<unit>[a-z°º%\"/]+|deg(?:rees)?[\s_]*[fc])[\s.)\]]*$")


@dataclass(frozen=True)
class Column:
    """Where a known column stands, how it is headed, and in which unit, where its heading says one."""

    index: int
    heading: str
    kind: Kind
    unit: str | None


def plain(text: str) -> str:
    """A heading without case, signs and spaces."""
    return re.sub(r"[^a-z0-9]+", "", text.casefold())


def parted(heading: str) -> tuple[str, str | None]:
    """A heading and the unit at its end, as it is spelled.

    >>> parted("Wind Speed (km/h)"), parted("temp_f"), parted("rain")
    (('wind speed', 'km/h'), ('temp', 'f'), ('rain', None))
    """
    told = " ".join(heading.casefold().split())
    found = _ENDING.match(told)
    if found is not None:
        spelled = re.sub(r"[\s_]+", "", found["unit"])
        if spelled in _SPELLINGS:
            return found["name"].strip(), spelled
    return told, None


def is_known(heading: str, known: dict[str, tuple[Kind, tuple[str, ...]]]) -> bool:
    """Whether a heading is one that is read."""
    return _meant(heading, known) is not None


def _meant(heading: str, known: dict[str, tuple[Kind, tuple[str, ...]]]) -> tuple[str, str | None] | None:
    for text, unit in ((heading, None), parted(heading)):
        key = plain(text)
        for name, (_, others) in known.items():
            if key and (key == plain(name) or key in others):
                return name, unit
    return None


def columns_of(header: Sequence[str], known: dict[str, tuple[Kind, tuple[str, ...]]]) -> dict[str, Column]:
    """Where each known column stands.

    Raises
    ------
    InputError
        Where two headings mean one thing, or a heading holds a unit of another kind.
    """
    found: dict[str, Column] = {}
    for index, cell in enumerate(header):
        heading = " ".join(cell.split())
        meant = _meant(heading, known)
        if meant is None:
            continue
        name, spelled = meant
        kind = known[name][0]
        unit = UNITS[kind].get(spelled) if spelled else None
        if spelled and unit is None:
            allowed = ", ".join(dict.fromkeys(UNITS[kind].values())) or "no unit"
            raise refused(f"the heading '{heading}' has the unit '{spelled}'; a {kind} is told in {allowed}")
        if name in found:
            raise refused(f"the headings '{found[name].heading}' and '{heading}' mean the same ({name}); keep one")
        found[name] = Column(index, heading, kind, unit)
    return found
