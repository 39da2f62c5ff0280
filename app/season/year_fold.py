"""Equal situations of many properties: what changes a plan, in one order, without what does not."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.season.year import YearAsked
from app.season.year_output import YearPlan

# Figures of an area's number, so that no name of one is the beginning of another's.
_DIGITS = 2


@dataclass(frozen=True)
class Folded:
    """A situation that equal properties share.

    Attributes
    ----------
    fold : str
        What tells it from others: the SHA-256 of what is asked, in hexadecimal.
    asked : YearAsked
        The situation, its areas called `area-01` and so on, without names and sizes.
    areas : dict
        Which area of the situation each area of the property is, by its id there.
    """

    fold: str
    asked: YearAsked
    areas: dict[str, str]


def folded(asked: YearAsked) -> Folded:
    """Fold what is asked for a property.

    A plan is per 1000 ft2, so sizes change nothing, nor do names, nor the order in which areas, weeds, turfs and
    what was applied are told. Areas are ordered by all that is told of them; two of which the same is told are
    exchangeable, so that either order asks the same.

    Returns
    -------
    Folded
        Equal `fold` exactly where the same is asked.
    """
    plain = asked.model_dump(mode="json", by_alias=True)
    plain["locks"] = [{**lock, "actives": sorted(lock["actives"])} for lock in plain["locks"]]
    every = [area["id"] for area in plain["areas"]]
    told = {key: _told_of(plain, key, every) for key in every}
    order = sorted(every, key=lambda key: told[key])
    called = {key: f"area-{number:0{_DIGITS}d}" for number, key in enumerate(order, start=1)}
    whole = _renamed(plain, called)
    return Folded(digest(whole), YearAsked.model_validate(whole), called)


def digest(plain: Mapping[str, Any]) -> str:
    """The SHA-256 of plain data, whatever the order of its keys."""
    return hashlib.sha256(_text(plain).encode()).hexdigest()


def unfolded(plan: YearPlan, areas: Mapping[str, str], names: Mapping[str, str]) -> YearPlan:
    """The plan of a situation as that of one property.

    Parameters
    ----------
    areas : mapping
        Which area of the situation each area of the property is, by its id there.
    names : mapping
        What the property calls its areas, by id.
    """
    back = {called: key for key, called in areas.items()}
    words = {called: names.get(key) or key for called, key in back.items()}
    return YearPlan.model_validate(_put_back(plan.model_dump(mode="json", by_alias=True), back, words))


def _text(plain: Any) -> str:
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _told_of(plain: Mapping[str, Any], key: str, every: list[str]) -> str:
    """All that is told of an area, in one order."""
    area = next(item for item in plain["areas"] if item["id"] == key)
    on = [weed["weed"] for weed in plain["weeds"] if key in (weed["areas"] or every)]
    hung = {
        name: sorted(_text({**item, "area": None}) for item in plain[name] if item["area"] == key)
        for name in ("applied_this_year", "applied_last_year", "locks")
    }
    return _text([_of_area(area, ""), sorted(on), hung])


def _of_area(area: Mapping[str, Any], called: str) -> dict[str, Any]:
    ordered = {name: sorted(area[name]) for name in ("turf", "surroundings")}
    return {**area, **ordered, "id": called, "name": "", "area": None}


def _renamed(plain: Mapping[str, Any], called: Mapping[str, str]) -> dict[str, Any]:
    def placed(item: Mapping[str, Any]) -> dict[str, Any]:
        # On a property of one area, that area and the whole property are the same.
        key = item["area"] if len(called) > 1 else None
        return {**item, "area": called[key] if key is not None else None}

    def on(weed: Mapping[str, Any]) -> dict[str, Any]:
        areas = sorted(called[key] for key in weed["areas"])
        resistant = sorted(set(weed["resistant_to"]))
        return {**weed, "areas": areas if len(areas) < len(called) else [], "resistant_to": resistant}

    hung = {
        name: sorted((placed(item) for item in plain[name]), key=_text)
        for name in ("applied_this_year", "applied_last_year", "locks")
    }
    forbid = [{**item, "actives": sorted(item["actives"])} for item in plain["forbid"]]
    return {
        **plain,
        **hung,
        "areas": sorted((_of_area(area, called[area["id"]]) for area in plain["areas"]), key=lambda area: area["id"]),
        "weeds": sorted((on(weed) for weed in plain["weeds"]), key=lambda weed: weed["weed"]),
        "local_rules": sorted(plain["local_rules"], key=_text),
        "forbid": sorted(forbid, key=_text),
    }


def _put_back(plain: Any, back: Mapping[str, str], words: Mapping[str, str]) -> Any:
    if isinstance(plain, dict):
        return {
            key: back.get(value, value) if key == "area" and isinstance(value, str) else _put_back(value, back, words)
            for key, value in plain.items()
        }
    if isinstance(plain, list):
        return [_put_back(value, back, words) for value in plain]
    if isinstance(plain, str):
        for called, name in words.items():
            plain = plain.replace(called, name)
    return plain
