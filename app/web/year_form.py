"""The form of a year: what was typed, read into what is wished; and a wish as it would be typed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from werkzeug.datastructures import MultiDict

from app.engine.errors import FieldFault, InputError
from app.season.year import MOST_VISITS, Lock
from app.season.year_output import YearPlan, YearVisit
from app.services.knowledge_service import knowledge_base
from app.services.place_names import names, weed_id
from app.services.year_changes import number_days
from app.services.year_facts import MOST_WEEDS, FoundWeed
from app.services.year_question import YearWish

# Lines that are offered: for a first plan, and beside what is there already.
FIRST_VISITS, NEW_WEEDS, BANS, TANK = 6, 3, 4, 3
HELD = {"": "left to the plan", "keep": "as planned", "none": "nothing is sprayed", "other": "this tank"}
_BY_COUNT = "count"


@dataclass
class Typed:
    """The form as it was typed: its fields, its lines, and its faults by field."""

    fields: dict[str, str]
    areas_of: dict[str, list[str]]
    visits: int
    weeds: int
    faults: dict[str, str] = field(default_factory=dict)
    # Which field of the form a part of the wish came from: `locks.0` from `v2.hold.front`.
    places: dict[str, str] = field(default_factory=dict)

    def get(self, name: str) -> str:
        """What stands in a field."""
        return self.fields.get(name, "")


def typed_in(form: MultiDict[str, str]) -> Typed:
    """What the form sent."""
    fields = {key: value.strip() for key, value in form.items() if key != "csrf_token"}
    areas = {key: form.getlist(key) for key in form if key.endswith(".areas")}
    return Typed(fields, areas, _lines(fields, "v", MOST_VISITS + 1), _lines(fields, "w", MOST_WEEDS + NEW_WEEDS))


def _lines(fields: Mapping[str, str], stem: str, most: int) -> int:
    rows = [int(n) for key in fields if key[:1] == stem and (n := key[1:].partition(".")[0]).isdecimal()]
    return min(max(rows, default=-1) + 1, most)


def wished(typed: Typed, areas: Sequence[str]) -> dict[str, Any]:
    """What is wished, as plain data; what cannot be read is a fault of its field."""
    told: dict[str, Any] = {
        "site_use": typed.get("site_use") or None,
        "from": typed.get("from") or None,
        "catalog": typed.get("catalog") or "actives",
        "forecast": typed.get("forecast") or None,
        "limits": {
            "budget_per_1000_ft2": _figure(typed, "budget", None),
            "max_products_per_visit": _figure(typed, "most", 3),
        },
    }
    rows = sorted((r for r in range(typed.visits) if typed.get(f"v{r}.date")), key=lambda r: typed.get(f"v{r}.date"))
    by_count = typed.get("days") == _BY_COUNT
    if by_count:
        told["visits"] = {"count": _figure(typed, "count", 0)}
        typed.places["visits"] = "count"
    else:
        told["visits"] = {"dates": [typed.get(f"v{row}.date") for row in rows]}
        typed.places |= {f"visits.dates.{place}": f"v{row}.date" for place, row in enumerate(rows)}
        typed.places["visits"] = "v0.date"
    told["locks"], told["forbid"] = [], []
    for place, row in enumerate(rows, start=1):
        which = {"visit": place} if by_count else {"date": typed.get(f"v{row}.date")}
        _locks(typed, row, areas, which, told["locks"])
        _not_here(typed, row, which, told["forbid"])
    _bans(typed, told["forbid"])
    told["weeds"] = _weeds(typed, areas)
    if not told["weeds"] and "weeds" not in typed.faults:
        typed.faults["weeds"] = "tick at least one weed, or name one"
    return told


def _figure(typed: Typed, name: str, empty: float | None) -> float | int | None:
    text = typed.get(name).replace(",", ".")
    if not text:
        return empty
    try:
        value = float(text)
    except ValueError:
        typed.faults[name] = f"'{text[:20]}' is no number; write it in digits"
        return empty
    return int(value) if value.is_integer() else value


def _locks(typed: Typed, row: int, areas: Sequence[str], which: dict[str, Any], found: list[dict[str, Any]]) -> None:
    """What a visit must hold; the same on every area is one lock."""
    held: dict[str, list[str]] = {}
    for area in areas:
        name = f"v{row}.hold.{area}"
        # Whoever names a tank means it, whether or not it was also chosen.
        named = any(typed.get(f"v{row}.tank.{area}.{number}") for number in range(TANK))
        mode = typed.get(name) or ("other" if named else "")
        if mode == "keep":
            held[area] = [key for key in typed.get(f"v{row}.held.{area}").split(",") if key]
        elif mode == "none":
            held[area] = []
        elif mode == "other":
            held[area] = _tank(typed, row, area)
    alike = len(held) == len(areas) and all(sorted(item) == sorted(held[areas[0]]) for item in held.values())
    for area, actives in list(held.items())[: 1 if alike else None]:
        typed.places[f"locks.{len(found)}"] = f"v{row}.hold.{area}"
        found.append({**which, "area": None if alike else area, "actives": actives})


def _tank(typed: Typed, row: int, area: str) -> list[str]:
    """The actives of a tank that was typed, by their names or those of products."""
    found: list[str] = []
    for number in range(TANK):
        name = f"v{row}.tank.{area}.{number}"
        if typed.get(name):
            found += [key for key in _actives(typed, name) if key not in found]
    if not found and not any(f"v{row}.tank.{area}.{n}" in typed.faults for n in range(TANK)):
        typed.faults[f"v{row}.tank.{area}.0"] = "name what the tank holds, or leave the visit to the plan"
    return found


def _actives(typed: Typed, name: str) -> list[str]:
    """The actives that a field names; a product of the shelf stands for what it holds."""
    text = typed.get(name)
    # A product is offered with its actives behind it, so that no shelf is needed to read it.
    inside = text.rpartition("(")[2].removesuffix(")") if text.endswith(")") else text
    guess = names().guess(inside)
    if guess is None:
        typed.faults[name] = f"'{text[:60]}' is no active that is known; write its common name"
        return []
    return list(guess.actives)


def _not_here(typed: Typed, row: int, which: dict[str, Any], found: list[dict[str, Any]]) -> None:
    name = f"v{row}.not"
    if typed.get(name):
        for key in _actives(typed, name):
            typed.places[f"forbid.{len(found)}"] = name
            found.append({**which, "actives": [key]})


def _bans(typed: Typed, found: list[dict[str, Any]]) -> None:
    for number in range(BANS):
        name = f"ban{number}"
        if typed.get(name):
            actives = _actives(typed, name)
            if actives:
                typed.places[f"forbid.{len(found)}"] = name
                found.append({"actives": actives})


def _weeds(typed: Typed, areas: Sequence[str]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for row in range(typed.weeds):
        text = typed.get(f"w{row}.weed")
        if not text or (typed.get(f"w{row}.kept") and not typed.get(f"w{row}.on")):
            continue
        try:
            key = weed_id(f"w{row}.weed", text)
        except InputError as error:
            typed.faults[f"w{row}.weed"] = error.faults[0].message
            continue
        where = [area for area in typed.areas_of.get(f"w{row}.areas", []) if area in areas]
        resists = [part.strip() for part in typed.get(f"w{row}.resists").split(",") if part.strip()]
        typed.places[f"weeds.{len(found)}"] = f"w{row}.weed"
        found.append(
            {
                "weed": key,
                "pressure": typed.get(f"w{row}.pressure") or "moderate",
                "priority": _figure(typed, f"w{row}.priority", 1),
                "resistant_to": [names().active(item) or item for item in resists],
                "areas": where if 0 < len(where) < len(areas) else [],
            }
        )
    return found


_FIELDS = {
    "limits.budget_per_1000_ft2": "budget",
    "limits.max_products_per_visit": "most",
    "from": "from",
    "site_use": "site_use",
    "forecast": "forecast",
    "catalog": "catalog",
    "weeds": "weeds",
}
_OF_WEED = {"pressure": "pressure", "priority": "priority", "resistant_to": "resists"}


def blame(typed: Typed, faults: Iterable[FieldFault]) -> None:
    """Put faults at the fields they came from; what has none stands in the summary."""
    for fault in faults:
        path = fault.path
        stem = ".".join(path.split(".")[:2])
        name = typed.places.get(path) or typed.places.get(stem) or _FIELDS.get(path) or typed.places.get(_head(path))
        if stem.startswith("weeds.") and name is not None:
            part = _OF_WEED.get(path.split(".")[2] if path.count(".") > 1 else "", "weed")
            name = f"{name.partition('.')[0]}.{part}"
        typed.faults.setdefault(name or "", fault.message if name or not path else f"{path}: {fault.message}")


def _head(path: str) -> str:
    return path.split(".", maxsplit=1)[0]


def shown(wish: YearWish, weeds: Iterable[FoundWeed], plan: YearPlan | None, areas: Sequence[str]) -> Typed:
    """A wish as it would be typed; with a plan, its days and tanks line by line."""
    fields: dict[str, str] = {
        "site_use": wish.site_use or "",
        "from": wish.start.isoformat() if wish.start is not None else "",
        "catalog": wish.catalog,
        "forecast": wish.forecast or "",
        "budget": _text(wish.limits.budget_per_1000_ft2),
        "most": str(wish.limits.max_products_per_visit),
    }
    visits = wish.visits
    if visits is not None and visits.count is not None:
        fields |= {"days": _BY_COUNT if plan is None else "dates", "count": str(visits.count)}
    else:
        fields |= {"days": "dates", "count": str(len(visits.dates or ())) if visits is not None else ""}
    rows = _shown_visits(wish, plan, areas, fields)
    all_year = [item for item in wish.forbid if item.visit is None and item.date is None]
    fields |= {f"ban{n}": " + ".join(_names(item.actives)) for n, item in enumerate(all_year[:BANS])}
    count, where = _shown_weeds(wish, weeds, fields)
    return Typed(fields, where, rows, count)


def _shown_visits(wish: YearWish, plan: YearPlan | None, areas: Sequence[str], fields: dict[str, str]) -> int:
    """Fill in the lines of the visits; how many there are, empty ones among them."""
    days = number_days(plan) if plan is not None and plan.visits else {}
    told = wish.visits.dates if wish.visits is not None and wish.visits.dates is not None else None
    dates = sorted({*days.values()}) if days and (told is None or wish.start is None) else list(told or ())
    planned = {(visit.date, visit.area): visit for visit in plan.visits} if plan is not None else {}
    for row, day in enumerate(dates):
        fields[f"v{row}.date"] = day.isoformat()
        for area in areas:
            visit = planned.get((day, area))
            held = _actives_of(visit) if visit is not None else []
            fields[f"v{row}.held.{area}"] = ",".join(held)
            for lock in wish.locks:
                if lock.area in (None, area) and (lock.date or days.get(lock.visit or 0)) == day:
                    _shown_lock(lock, held, f"v{row}", area, fields)
        bans = [i for i in wish.forbid if len(i.actives) == 1 and (i.date or days.get(i.visit or 0)) == day]
        fields[f"v{row}.not"] = ", ".join(name for item in bans for name in _names(item.actives))
    return min(len(dates) + 1 if dates else FIRST_VISITS, MOST_VISITS + 1)


def _shown_lock(lock: Lock, held: Sequence[str], row: str, area: str, fields: dict[str, str]) -> None:
    mode = "none" if not lock.actives else "keep" if sorted(lock.actives) == sorted(held) else "other"
    fields[f"{row}.hold.{area}"] = mode
    if mode == "other":
        fields |= {f"{row}.tank.{area}.{n}": name for n, name in enumerate(_names(lock.actives)[:TANK])}


def _actives_of(visit: YearVisit) -> list[str]:
    products = [product for item in visit.applications for product in item.products]
    return list(dict.fromkeys(part.active for product in products for part in product.actives))


def _shown_weeds(
    wish: YearWish, weeds: Iterable[FoundWeed], fields: dict[str, str]
) -> tuple[int, dict[str, list[str]]]:
    """Fill in the lines of the weeds: those wished, ticked, then what else is known of the place, not ticked."""
    found = {item.weed.weed: item for item in weeds}
    wished_for = wish.weeds if wish.weeds is not None else tuple(item.weed for item in found.values())
    chosen = {weed.weed: weed for weed in wished_for[:MOST_WEEDS]}
    others = {key: item.weed for key, item in found.items() if key not in chosen}
    where: dict[str, list[str]] = {}
    row = -1
    for row, (key, weed) in enumerate(list({**chosen, **others}.items())[:MOST_WEEDS]):
        fields |= {
            f"w{row}.kept": "yes",
            f"w{row}.on": "yes" if key in chosen else "",
            f"w{row}.weed": key,
            f"w{row}.pressure": weed.pressure,
            f"w{row}.priority": f"{weed.priority:g}",
            f"w{row}.resists": ", ".join(weed.resistant_to),
            f"w{row}.whence": found[key].text if key in found else "named by hand",
        }
        where[f"w{row}.areas"] = list(weed.areas)
    return row + 1 + NEW_WEEDS, where


def _names(actives: Iterable[str]) -> list[str]:
    base = knowledge_base()
    return [base.actives[key].name if key in base.actives else key for key in actives]


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def lines_of(typed: Typed, areas: Sequence[str], area_names: Mapping[str, str]) -> dict[str, Any]:
    """What the form asks of its lines: what is planned on a visit, what is open, and which weeds stand first."""

    def planned_words(row: int) -> str:
        held = {area: typed.get(f"v{row}.held.{area}") for area in areas}
        if not typed.get(f"v{row}.date") or not any(held.values()):
            return "Hold, swap or leave out" if typed.get(f"v{row}.date") else "What it holds"
        told = {area: " + ".join(_names(keys.split(","))) if keys else "nothing" for area, keys in held.items()}
        if len(set(told.values())) == 1:
            return f"Planned: {next(iter(told.values()))}"
        return "Planned: " + "; ".join(f"{area_names[area]} {words}" for area, words in told.items())

    def is_set(row: int) -> bool:
        fields = (f"v{row}.not", *(f"v{row}.hold.{area}" for area in areas))
        return any(typed.get(name) for name in fields) or any(key.startswith(f"v{row}.") for key in typed.faults)

    def weed_set(row: int) -> bool:
        told = typed.get(f"w{row}.priority") not in ("", "1") or bool(typed.get(f"w{row}.resists"))
        return told or any(key.startswith(f"w{row}.") for key in typed.faults)

    def shown_first(row: int) -> bool:
        return not typed.get(f"w{row}.kept") or typed.get(f"w{row}.on") == "yes"

    late = [row for row in range(typed.weeds) if not shown_first(row)]
    return {
        "planned_words": planned_words,
        "is_set": is_set,
        "weed_set": weed_set,
        "shown_first": shown_first,
        "others": len(late),
        "first_weeds": typed.weeds - len(late),
        "late_fields": [f"w{row}.{part}" for row in late for part in ("weed", "pressure", "priority", "resists")],
    }
