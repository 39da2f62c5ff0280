"""The demo branch: its properties, what was seen on them, the weather and what was sprayed. All of it is invented.

Run as ``python -m demo_data.branch_simulator`` to write the files of `branch/` again. Who and where stands as plain
data in `branch_places.py`, the weather in `branch_weather.py`, and what was sprayed in `branch_sprays.py`. What is
drawn here, from a seed of each property, is what a visit finds there.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import timedelta
from pathlib import Path

import numpy as np

from demo_data.branch_places import (
    ADDRESSES,
    BRANCH,
    MOWN,
    MOWN_FOR_SPORT,
    PLACES,
    SPORTS,
    TOWNS,
    WATERED,
    Ground,
    Place,
)
from demo_data.branch_sprays import sprayed
from demo_data.branch_weather import DAYS, HOURS, JULY, OCTOBER, daily, hours

FOLDER = Path(__file__).resolve().parent / "branch"
SEED = 20270713
PROPERTIES = (
    *("property", "customer", "customer_address", "address", "zone", "technician", "latitude", "longitude"),
    *("property_notes", "plans", "area", "turf", "size", "unit", "site_use", "slope", "surroundings"),
    *("mowing_height", "irrigation", "stand", "emerged", "stress", "area_notes"),
)
NOTES = (
    *("property", "area", "weed", "stage", "tillers", "leaves", "cover_pct", "date", "by", "priority", "note", "key"),
)
# Places that are scouted for the autumn round; all others were scouted for the summer one.
AUTUMN = (
    *("3 Willow Lane", "6 Willow Lane", "11 Willow Lane", "16 Willow Lane", "25 Willow Lane", "30 Willow Lane"),
    *("1 Meadow Court", "2 Meadow Court", "4 Meadow Court", "5 Ridge Street", "9 Ridge Street"),
    *("Linnetby Church Ground", "3 Alder Lane", "22 Creamery Lane", "27 Mill Street", "41 Quarry Road"),
    *("33 Ferry Road",),
)
# Days between which was scouted.
SUMMER_DAYS, AUTUMN_DAYS = ("2027-06-22", "2027-07-12"), ("2027-09-22", "2027-10-02")
SUNDAY = 6
# What is found, by what lies there: weed, weight by which it is met, and its usual cover [percent].
Found = tuple[tuple[str, float, float], ...]
SUN: Found = (
    *(("smooth-crabgrass", 9, 8), ("large-crabgrass", 3, 7), ("white-clover", 7, 10), ("broadleaf-plantain", 5, 4)),
    *(("dandelion", 4, 4), ("spotted-spurge", 4, 4), ("yellow-nutsedge", 3, 5), ("yellow-foxtail", 3, 5)),
    *(("black-medic", 2, 6), ("yellow-woodsorrel", 2, 3), ("buckhorn-plantain", 2, 3)),
)
SHADE: Found = (
    *(("ground-ivy", 9, 15), ("wild-violet", 8, 10), ("white-clover", 4, 7), ("broadleaf-plantain", 3, 4)),
    *(("dandelion", 3, 3), ("yellow-woodsorrel", 2, 3), ("smooth-crabgrass", 2, 4)),
)
WET: Found = (
    *(("yellow-nutsedge", 12, 12), ("smooth-crabgrass", 6, 8), ("white-clover", 5, 8), ("ground-ivy", 3, 8)),
    *(("dandelion", 3, 3), ("broadleaf-plantain", 3, 4)),
)
WORN: Found = (
    *(("goosegrass", 10, 9), ("prostrate-knotweed", 9, 8), ("smooth-crabgrass", 6, 7), ("white-clover", 4, 7)),
    *(("broadleaf-plantain", 5, 5),),
)
AUTUMN_SUN: Found = (
    *(("dandelion", 9, 6), ("common-chickweed", 6, 6), ("henbit", 5, 5), ("annual-bluegrass", 5, 6)),
    *(("white-clover", 3, 6), ("broadleaf-plantain", 3, 4)),
)
AUTUMN_SHADE: Found = (
    *(("ground-ivy", 10, 16), ("wild-violet", 9, 11), ("dandelion", 5, 4), ("common-chickweed", 5, 6)),
    *(("henbit", 3, 4), ("annual-bluegrass", 4, 6)),
)
SUMMER_OF = {"sun": SUN, "shade": SHADE, "wet": WET, "worn": WORN}
AUTUMN_OF = {"sun": AUTUMN_SUN, "shade": AUTUMN_SHADE, "wet": AUTUMN_SUN, "worn": AUTUMN_SUN}
# A preemergence herbicide in April leaves so much of the weight and the cover of annual grasses.
GRASSES, LEFT_WEIGHT, LEFT_COVER = ("smooth-crabgrass", "large-crabgrass", "yellow-foxtail", "goosegrass"), 0.55, 0.5
# Stages in which a weed is met between two days of the year; where several are met, any of them.
STAGES: dict[str, tuple[tuple[str, str, str], ...]] = {
    "smooth-crabgrass": (
        ("06-15", "06-24", "4-5-leaf"),
        ("06-20", "07-14", "1-3-tiller"),
        ("07-07", "07-14", "multi-tiller"),
    ),
    "large-crabgrass": (("06-15", "06-29", "4-5-leaf"), ("06-25", "07-14", "1-3-tiller")),
    "yellow-foxtail": (("06-15", "06-30", "4-5-leaf"), ("06-28", "07-14", "1-3-tiller")),
    "goosegrass": (("06-15", "07-04", "4-5-leaf"), ("07-03", "07-14", "1-3-tiller")),
    "yellow-nutsedge": (("06-15", "07-14", "5-8-leaf"),),
    "white-clover": (("06-15", "07-14", "flowering"), ("09-15", "10-10", "vegetative")),
    "ground-ivy": (("06-15", "07-10", "seed-set"), ("07-11", "07-14", "vegetative"), ("09-15", "10-10", "vegetative")),
    "wild-violet": (("06-15", "07-14", "seed-set"), ("09-15", "10-10", "vegetative")),
    "broadleaf-plantain": (("06-15", "07-14", "flowering"), ("09-20", "10-10", "vegetative")),
    "buckhorn-plantain": (("06-15", "07-14", "flowering"),),
    "dandelion": (("06-15", "07-14", "vegetative"), ("09-15", "10-10", "vegetative")),
    "spotted-spurge": (
        ("06-15", "07-05", "seedling"),
        ("06-20", "07-14", "vegetative"),
        ("07-05", "07-14", "flowering"),
    ),
    "black-medic": (("06-15", "07-14", "flowering"),),
    "yellow-woodsorrel": (("06-15", "07-14", "vegetative"), ("06-24", "07-14", "flowering")),
    "prostrate-knotweed": (("06-15", "06-30", "vegetative"), ("06-28", "07-14", "flowering")),
    "common-chickweed": (("09-20", "10-10", "seedling"),),
    "henbit": (("09-20", "10-10", "seedling"),),
    "annual-bluegrass": (("09-20", "10-10", "1-3-leaf"),),
}
TILLERS, LEAVES = {"1-3-tiller": (1, 3), "multi-tiller": (4, 8)}, {"1-3-leaf": (2, 3), "4-5-leaf": (4, 5)}
# How a note says where it was seen, and what somebody asked for.
SEEN = {
    "smooth-crabgrass": ("along the drive", "thin spots by the curb", "on the south side"),
    "yellow-nutsedge": ("in the low corner", "where the downspout ends"),
    "ground-ivy": ("from under the hedge", "under the trees"),
    "wild-violet": ("under the trees", "along the fence"),
    "goosegrass": ("in the worn goal mouth", "on the path that is walked"),
    "prostrate-knotweed": ("on the path that is walked", "around the gate"),
    "white-clover": ("in patches", "bees on it"),
}
SAYS, ASKED, ASKED_PRIORITY = 0.4, 0.08, 3


@dataclass(frozen=True)
class Note:
    """A weed as a visit found it; `counts` are tillers and leaves, empty where they are not counted."""

    weed: str
    stage: str
    counts: tuple[object, object]
    cover: int
    priority: int
    text: str


def as_noted(percent: float) -> int:
    """Cover as it is written down: steps of five from ten on, single percents below, never nothing.

    >>> [as_noted(percent) for percent in (0.2, 3.4, 12.6)]
    [1, 3, 15]
    """
    step = 5 if percent >= 10 else 1
    return int(np.clip(step * np.floor(percent / step + 0.5), 1, 100))


def stage_on(weed: str, day: str, chance: np.random.Generator) -> str:
    """A stage in which a weed is met on a day."""
    met = [stage for first, last, stage in STAGES[weed] if first <= day[5:] <= last]
    return met[int(chance.integers(len(met)))]


def seen_on(area: Ground, day: str, treated: bool, autumn: bool, chance: np.random.Generator) -> list[Note]:
    """What a visit finds on an area: two or three weeds, each at one stage."""
    met = (AUTUMN_OF if autumn else SUMMER_OF)[area.kind]
    held = [treated and weed in GRASSES for weed, _, _ in met]
    weights = np.array([weight * (LEFT_WEIGHT if less else 1) for (_, weight, _), less in zip(met, held, strict=True)])
    drawn = chance.choice(len(met), 2 + int(chance.random() < 1 / 4), replace=False, p=weights / weights.sum())
    notes = []
    for at in sorted(int(number) for number in drawn):
        weed, _, usual = met[at]
        stage = stage_on(weed, day, chance)
        cover = as_noted(usual * (LEFT_COVER if held[at] else 1) * float(np.exp(chance.normal(0, 0.6))))
        tillers, leaves = (
            int(chance.integers(known[stage][0], known[stage][1] + 1)) if stage in known else ""
            for known in (TILLERS, LEAVES)
        )
        words = SEEN.get(weed, ())
        text = words[int(chance.integers(len(words)))] if words and chance.random() < SAYS else ""
        priority = ASKED_PRIORITY if chance.random() < ASKED else 1
        notes.append(Note(weed, stage, (tillers, leaves), cover, priority, text))
    return notes


def day_between(span: tuple[str, str], chance: np.random.Generator) -> str:
    """A day of work between two days, which count."""
    first, last = (Date.fromisoformat(text) for text in span)
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    return [day.isoformat() for day in days if day.weekday() != SUNDAY][
        int(chance.integers(sum(day.weekday() != SUNDAY for day in days)))
    ]


def notes() -> Iterable[dict[str, object]]:
    """The notes of every property: one visit each, in the order of the days."""
    treated = {
        (str(item["record"]["property_name"]), str(item["record"]["area_name"]))
        for item in sprayed(daily())
        if str(item["record"]["date"]) < "2027-05-01"
    }
    rows = []
    for number, place in enumerate(PLACES):
        chance = np.random.default_rng([SEED, number])
        autumn = place.name in AUTUMN
        day = day_between(AUTUMN_DAYS if autumn else SUMMER_DAYS, chance)
        for area in place.areas:
            for note in seen_on(area, day, (place.name, area.name) in treated, autumn, chance):
                rows.append(
                    {
                        "property": place.name,
                        "area": area.name,
                        "weed": note.weed,
                        "stage": note.stage,
                        "tillers": note.counts[0],
                        "leaves": note.counts[1],
                        "cover_pct": note.cover,
                        "date": day,
                        "by": place.technician,
                        "priority": note.priority,
                        "note": note.text,
                    }
                )
    rows.sort(key=lambda row: str(row["date"]))
    return ({**row, "key": f"demo-note-{number:03d}"} for number, row in enumerate(rows, start=1))


def properties() -> Iterable[dict[str, object]]:
    """The properties, one row an area."""
    for number, place in enumerate(PLACES):
        chance = np.random.default_rng([SEED, number, 1])
        _, north, east = TOWNS[place.town]
        off = chance.uniform(-0.008, 0.008, 2)
        address = f"{place.name}, {place.town}"
        whole: dict[str, object] = {
            "property": place.name,
            "customer": place.billed,
            "customer_address": ADDRESSES.get(place.customer, address),
            "address": address,
            "zone": BRANCH["zone"],
            "technician": place.technician,
            "latitude": f"{BRANCH['latitude'] + north + off[0]:.4f}",
            "longitude": f"{BRANCH['longitude'] + east + off[1]:.4f}",
            "property_notes": place.notes,
            "plans": place.plans,
        }
        yield from ({**whole, **_area(place, area)} for area in place.areas)


def _area(place: Place, area: Ground) -> dict[str, object]:
    mown = MOWN_FOR_SPORT if area.use == SPORTS else MOWN[area.turf[0]] if area.turf else None
    return {
        "area": area.name,
        "turf": "; ".join(area.turf),
        "size": f"{area.size:g}",
        "unit": area.unit,
        "site_use": area.use,
        "slope": area.slope or "flat",
        "surroundings": area.near,
        "mowing_height": f"{mown:g} in" if mown is not None else "",
        "irrigation": "system" if place.name in WATERED else "none",
        "stand": area.stand,
        "emerged": area.emerged,
        "stress": area.stress,
        "area_notes": area.notes,
    }


def table(header: Sequence[str], rows: Iterable[dict[str, object]]) -> bytes:
    """Rows as the bytes of a file."""
    text = io.StringIO()
    writer = csv.DictWriter(text, header, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode("utf-8")


def files() -> dict[str, bytes]:
    """Everything of the branch as the bytes of its files, by file name."""
    lines = ",\n".join(json.dumps(item) for item in sprayed(daily()))
    return {
        "branch.json": f"{json.dumps(BRANCH, indent=2)}\n".encode(),
        "properties.csv": table(PROPERTIES, properties()),
        "notes.csv": table(NOTES, notes()),
        "forecast-july.csv": table(HOURS, hours(JULY)),
        "forecast-october.csv": table(HOURS, hours(OCTOBER)),
        "daily-2027.csv": table(DAYS, daily()),
        "records.json": f"[\n{lines}\n]\n".encode(),
    }


def main() -> None:
    """Write the files again."""
    FOLDER.mkdir(exist_ok=True)
    for name, content in files().items():
        (FOLDER / name).write_bytes(content)


if __name__ == "__main__":
    main()
