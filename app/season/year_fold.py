"""Equal situations of many properties: what changes a plan, in one order, without what does not."""

from __future__ import annotations

import hashlib
import json
import math
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from typing import Any

from app.season.year import YearAsked
from app.season.year_output import YearPlan

# Figures of an area's number, so that no name of one is the beginning of another's.
_DIGITS = 2
# Unlike areas weigh by their share of the ground, which counts in tenths.
_TENTHS = 10
_TENTH_FT2 = 1000
# Shares are taken from sizes in any unit, whose rounding must not decide between two tenths.
_DECIMALS = 6
_ROUNDING = 1e-9
_HUNG = ("applied_this_year", "applied_last_year", "locks")


@dataclass(frozen=True)
class Folded:
    """A situation that equal properties share.

    Attributes
    ----------
    fold : str
        What tells it from others: the SHA-256 of what is asked, in hexadecimal.
    asked : YearAsked
        The situation: its areas called `area-01` and so on, without names; sizes only where unlike areas share it.
    areas : dict
        Which area of the situation each area of the property is, by its id there.
    """

    fold: str
    asked: YearAsked
    areas: dict[str, str]


def folded(asked: YearAsked) -> Folded:
    """Fold what is asked for a property.

    A plan is per 1000 ft2, so names and sizes change nothing, nor does the order in which areas, weeds, turfs and
    what was applied are told. Areas of which the same is told are planned alike, so they are one area here. Unlike
    areas weigh by their share of the ground, where every size is told.

    A situation departs from what its property asks in two ways: shares count in whole tenths, and what was applied
    last year counts as applied on the last day of its month, at its rate rounded up to two figures. Later and more
    is never less strict, so what is planned for the situation holds on the property.

    Returns
    -------
    Folded
        Equal `fold` exactly where the same is asked.
    """
    plain = asked.model_dump(mode="json", by_alias=True)
    plain["applied_last_year"] = [_last_year(item) for item in plain["applied_last_year"]]
    plain["locks"] = [{**lock, "actives": sorted(lock["actives"])} for lock in plain["locks"]]
    every = [area["id"] for area in plain["areas"]]
    alike: dict[str, list[str]] = {}
    for key in every:
        alike.setdefault(_told_of(plain, key, every), []).append(key)
    groups = _in_order(asked, alike)
    called = {f"area-{number:0{_DIGITS}d}": keys for number, (keys, _) in enumerate(groups, start=1)}
    sizes = {name: tenths for name, (_, tenths) in zip(called, groups, strict=True)}
    whole = _renamed(plain, called, sizes)
    return Folded(
        digest(whole), YearAsked.model_validate(whole), {key: name for name, keys in called.items() for key in keys}
    )


def _last_year(item: Mapping[str, Any]) -> dict[str, Any]:
    day = Date.fromisoformat(item["date"])
    last = day.replace(day=monthrange(day.year, day.month)[1])
    value = item["rate"]["value"]
    step = 10.0 ** (math.floor(math.log10(value)) - 1) if value > 0 else 1.0
    rounded = float(f"{math.ceil(value / step - _ROUNDING) * step:.6g}")
    return {**item, "date": last.isoformat(), "rate": {**item["rate"], "value": rounded}}


def _in_order(asked: YearAsked, alike: Mapping[str, list[str]]) -> list[tuple[list[str], int | None]]:
    """The groups of like areas by what is told of them and their tenths of the ground, None where these say nothing."""
    size = {area.id: area.area.quantity.base for area in asked.areas if area.area is not None}
    tells = len(alike) > 1 and len(size) == len(asked.areas)
    whole = sum(size.values())

    def tenths(keys: list[str]) -> int | None:
        share = round(_TENTHS * sum(size[key] for key in keys) / whole, _DECIMALS) if tells else None
        return max(round(share), 1) if share is not None else None

    return [(alike[told], tenths(alike[told])) for told in sorted(alike)]


def digest(plain: Mapping[str, Any]) -> str:
    """The SHA-256 of plain data, whatever the order of its keys."""
    return hashlib.sha256(_text(plain).encode()).hexdigest()


def unfolded(plan: YearPlan, areas: Mapping[str, str], names: Mapping[str, str]) -> YearPlan:
    """The plan of a situation as that of one property; what stands for several of its areas is told of each.

    Parameters
    ----------
    areas : mapping
        Which area of the situation each area of the property is, by its id there.
    names : mapping
        What the property calls its areas, by id.
    """
    back: dict[str, list[str]] = {}
    for key, called in areas.items():
        back.setdefault(called, []).append(key)
    words = {called: " and ".join(names.get(key) or key for key in keys) for called, keys in back.items()}
    return YearPlan.model_validate(_put_back(plan.model_dump(mode="json", by_alias=True), back, words))


def _text(plain: Any) -> str:
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _told_of(plain: Mapping[str, Any], key: str, every: list[str]) -> str:
    """All that is told of an area, in one order."""
    area = next(item for item in plain["areas"] if item["id"] == key)
    on = [weed["weed"] for weed in plain["weeds"] if key in (weed["areas"] or every)]
    return _text([_of_area(area, "", None), sorted(on), {name: _hung_on(plain[name], key) for name in _HUNG}])


def _hung_on(items: Sequence[Mapping[str, Any]], key: str | None) -> list[str]:
    return sorted(_text({**item, "area": None}) for item in items if item["area"] == key)


def _of_area(area: Mapping[str, Any], called: str, tenths: int | None) -> dict[str, Any]:
    ordered = {name: sorted(area[name]) for name in ("turf", "surroundings")}
    size = {"value": float(_TENTH_FT2 * tenths), "unit": "ft2"} if tenths is not None else None
    return {**area, **ordered, "id": called, "name": "", "area": size}


def _renamed(
    plain: Mapping[str, Any], called: Mapping[str, list[str]], tenths: Mapping[str, int | None]
) -> dict[str, Any]:
    first = {name: next(a for a in plain["areas"] if a["id"] == keys[0]) for name, keys in called.items()}

    def hung(items: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        # Where all areas are alike, what hangs on each of them hangs on the whole property.
        found = [json.loads(text) for text in _hung_on(items, None)]
        for name, area in first.items():
            where = name if len(called) > 1 else None
            found += [{**json.loads(text), "area": where} for text in _hung_on(items, area["id"])]
        return sorted(found, key=_text)

    def on(weed: Mapping[str, Any]) -> dict[str, Any]:
        places = [name for name, keys in called.items() if not weed["areas"] or keys[0] in weed["areas"]]
        resistant = sorted(set(weed["resistant_to"]))
        return {**weed, "areas": places if len(places) < len(called) else [], "resistant_to": resistant}

    forbid = [{**item, "actives": sorted(item["actives"])} for item in plain["forbid"]]
    return {
        **plain,
        **{name: hung(plain[name]) for name in _HUNG},
        "areas": [_of_area(area, name, tenths[name]) for name, area in first.items()],
        "weeds": sorted((on(weed) for weed in plain["weeds"]), key=lambda weed: weed["weed"]),
        "local_rules": sorted(plain["local_rules"], key=_text),
        "forbid": sorted(forbid, key=_text),
    }


def _put_back(plain: Any, back: Mapping[str, list[str]], words: Mapping[str, str]) -> Any:
    if isinstance(plain, dict):
        return {key: _put_back(value, back, words) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_put_back(item, back, words) for told in plain for item in _for_each(told, back)]
    if isinstance(plain, str):
        for called, name in words.items():
            plain = plain.replace(called, name)
    return plain


def _for_each(told: Any, back: Mapping[str, list[str]]) -> list[Any]:
    """What is told of an area of the situation, for each area of the property that it stands for."""
    if isinstance(told, dict) and isinstance(told.get("area"), str) and told["area"] in back:
        return [{**told, "area": key} for key in back[told["area"]]]
    return [told]
