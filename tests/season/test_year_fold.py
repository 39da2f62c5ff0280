"""Equal situations fold into one, different ones do not, and a plan comes back under a property's own names."""

from __future__ import annotations

import random
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.season.year import YearAsked
from app.season.year_fold import digest, folded, unfolded
from tests.season.branch_years import asked, plan

_TURF = ("tall-fescue", "kentucky-bluegrass", "perennial-ryegrass", "fine-fescue")
_WEEDS = ("dandelion", "smooth-crabgrass", "white-clover", "wild-violet", "ground-ivy")
_ACTIVES = ("2-4-d", "dicamba", "prodiamine", "quinclorac")


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Any]:
    """A question of a year with one to four areas, as plain data."""
    keys = [f"place-{n}" for n in range(draw(st.integers(1, 4)))]
    areas = [
        {
            "id": key,
            "name": f"The {key}",
            "turf": draw(st.lists(st.sampled_from(_TURF), min_size=1, max_size=2, unique=True)),
            "area": draw(st.sampled_from((None, *({"value": v, "unit": "ft2"} for v in (2000, 4000, 9000))))),
            "turf_condition": {"stand": draw(st.sampled_from((None, "established")))},
            "surroundings": draw(st.lists(st.sampled_from(("tree-roots", "slope")), max_size=2, unique=True)),
        }
        for key in keys
    ]
    weeds = [
        {
            "weed": weed,
            "pressure": draw(st.sampled_from(("low", "high"))),
            "areas": draw(st.lists(st.sampled_from(keys), max_size=len(keys), unique=True)),
            "resistant_to": draw(st.lists(st.sampled_from(("2", "4")), max_size=2, unique=True)),
        }
        for weed in draw(st.lists(st.sampled_from(_WEEDS), min_size=1, max_size=4, unique=True))
    ]
    past = [
        {
            "date": f"2027-03-{draw(st.integers(1, 28)):02d}",
            "active": draw(st.sampled_from(_ACTIVES)),
            "rate": {"value": 0.5, "unit": "lb ai/acre"},
            "area": draw(st.sampled_from((None, *keys))),
        }
        for _ in range(draw(st.integers(0, 3)))
    ]
    lock = {"visit": 1, "actives": ["prodiamine", "dicamba"], "area": draw(st.sampled_from((None, *keys)))}
    return asked(areas=areas, weeds=weeds, applied_this_year=past, locks=draw(st.sampled_from(([], [lock]))))


def _said_otherwise(told: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """The same question from a property that calls and orders everything in another way, and is of another size."""
    called = {area["id"]: f"other-{chance.random():.12f}".replace(".", "-") for area in told["areas"]}

    def mixed(items: list[Any]) -> list[Any]:
        return chance.sample(items, len(items))

    def there(item: dict[str, Any]) -> dict[str, Any]:
        return {**item, "area": called[item["area"]] if item.get("area") else None}

    factor = chance.uniform(0.2, 20)
    areas = [
        {
            **area,
            "id": called[area["id"]],
            "name": "Elsewhere",
            # All of them larger or smaller alike: the share of each stays.
            "area": area["area"] and {**area["area"], "value": area["area"]["value"] * factor},
            "turf": mixed(area["turf"]),
            "surroundings": mixed(area["surroundings"]),
        }
        for area in told["areas"]
    ]
    weeds = [
        {**weed, "areas": mixed([called[key] for key in weed["areas"]]), "resistant_to": mixed(weed["resistant_to"])}
        for weed in told["weeds"]
    ]
    return {
        **told,
        "areas": mixed(areas),
        "weeds": mixed(weeds),
        "applied_this_year": mixed([there(item) for item in told["applied_this_year"]]),
        "locks": [{**there(lock), "actives": mixed(lock["actives"])} for lock in told["locks"]],
    }


@given(questions(), st.integers(0, 2**32))
def test_the_same_asked_in_another_order_of_another_size_folds(told: dict[str, Any], seed: int) -> None:
    one = folded(YearAsked.model_validate(told))
    other = folded(YearAsked.model_validate(_said_otherwise(told, random.Random(seed))))
    assert one.fold == other.fold
    assert one.asked == other.asked


@given(questions(), questions())
def test_two_questions_fold_exactly_where_some_order_of_their_areas_makes_them_equal(
    one: dict[str, Any], other: dict[str, Any]
) -> None:
    # Every order of the areas is tried, which is what the ordering by what is told of them must agree with.
    left, right = (folded(YearAsked.model_validate(told)) for told in (one, other))
    assert (left.fold == right.fold) == (left.asked == right.asked) == _same_somehow(one, other)


def _same_somehow(one: dict[str, Any], other: dict[str, Any]) -> bool:
    left, right = _merged(one), _merged(other)
    if len(left["areas"]) != len(right["areas"]):
        return False
    keys = [area["id"] for area in left["areas"]]
    wanted = _as_sets(left, {key: key for key in keys})
    return any(
        _as_sets(right, dict(zip([area["id"] for area in right["areas"]], order, strict=True))) == wanted
        for order in permutations(keys)
    )


def _merged(told: dict[str, Any]) -> dict[str, Any]:
    """The question with like areas as one, and its share of the ground where every size is told."""
    areas = told["areas"]
    known = all(area["area"] for area in areas)
    groups: list[list[dict[str, Any]]] = []
    for area in areas:
        like = next((group for group in groups if _alike(told, group[0], area)), None)
        if like is not None:
            like.append(area)
        else:
            groups.append([area])
    whole = sum(area["area"]["value"] for area in areas) if known else 0
    first = [
        {**group[0], "share": round(10 * sum(a["area"]["value"] for a in group) / whole) if known else None}
        for group in groups
    ]
    kept = {area["id"] for area in first}
    hung = {
        name: [item for item in told[name] if item["area"] is None or item["area"] in kept]
        for name in ("applied_this_year", "locks")
    }
    every = [area["id"] for area in areas]
    weeds = [{**weed, "areas": [key for key in weed["areas"] or every if key in kept]} for weed in told["weeds"]]
    return {**told, **hung, "areas": first, "weeds": weeds}


def _alike(told: dict[str, Any], one: dict[str, Any], other: dict[str, Any]) -> bool:
    def of(area: dict[str, Any]) -> Any:
        on = {weed["weed"] for weed in told["weeds"] if not weed["areas"] or area["id"] in weed["areas"]}
        past = sorted((p["date"], p["active"]) for p in told["applied_this_year"] if p["area"] == area["id"])
        locks = sum(lock["area"] == area["id"] for lock in told["locks"])
        near = frozenset(area["surroundings"])
        return frozenset(area["turf"]), area["turf_condition"]["stand"], near, on, past, locks

    return bool(of(one) == of(other))


def _as_sets(told: dict[str, Any], called: dict[str, str]) -> Any:
    """A question as sets, so that no order is left in it; on one area, that area and all of them are the same."""
    alone = len(called) == 1

    def where(key: str | None) -> str:
        return "" if key is None or alone else called[key]

    areas = frozenset(
        (
            *(called[a["id"]], frozenset(a["turf"]), a["turf_condition"]["stand"], frozenset(a["surroundings"])),
            None if alone else a["share"],
        )
        for a in told["areas"]
    )
    weeds = frozenset(
        (w["weed"], w["pressure"], frozenset(called[k] for k in w["areas"]), frozenset(w["resistant_to"]))
        for w in told["weeds"]
    )
    past = sorted((p["date"], p["active"], where(p["area"])) for p in told["applied_this_year"])
    return areas, weeds, past, [where(lock["area"]) for lock in told["locks"]]


@pytest.mark.parametrize(
    "change",
    [
        {"zone": "transition"},
        {"site_use": "commercial-grounds"},
        {"year": 2028},
        {"visits": {"count": 4}},
        {"catalog": "shelf"},
        {"limits": {"max_products_per_visit": 2}},
        {"limits": {"budget_per_1000_ft2": 9.5}},
        {"weeds": [{"weed": "dandelion", "priority": 2}]},
        {"weeds": [{"weed": "dandelion", "pressure": "high"}]},
        {"forbid": [{"actives": ["dicamba"]}]},
        {"local_rules": [{"kind": "ban-active", "active": "dicamba"}]},
        {"spring_shift_days": 5},
        {"weather": {"daily": [{"date": "2027-03-01", "min_f": 30, "max_f": 50}]}},
        {"from": "2027-06-01"},
    ],
    ids=str,
)
def test_what_changes_a_plan_does_not_fold(change: dict[str, Any]) -> None:
    plain = folded(YearAsked.model_validate(asked())).fold
    assert folded(YearAsked.model_validate(asked(**change))).fold != plain


def _sprayed(day: str, value: float = 1.0, active: str = "dicamba") -> str:
    past = {"date": day, "active": active, "rate": {"value": value, "unit": "lb ae/acre"}, "area": "front"}
    return folded(YearAsked.model_validate(asked(applied_last_year=[past]))).fold


def test_what_was_applied_last_year_counts_by_its_month_and_never_as_less() -> None:
    assert _sprayed("2026-09-03") == _sprayed("2026-09-30")
    assert len({_sprayed(day) for day in ("2026-08-31", "2026-09-30", "2026-10-01")}) == 3
    assert _sprayed("2026-09-03", active="quinclorac") != _sprayed("2026-09-03")
    assert _sprayed("2026-09-03", 1.01) == _sprayed("2026-09-03", 1.1) != _sprayed("2026-09-03", 1.0)
    past = {"date": "2026-02-03", "active": "dicamba", "rate": {"value": 0.1234, "unit": "lb ae/acre"}}
    (found,) = folded(YearAsked.model_validate(asked(applied_last_year=[past]))).asked.applied_last_year
    assert (found.date.isoformat(), found.rate.value) == ("2026-02-28", 0.13)


def test_what_names_a_situation_does_not_hang_on_the_order_of_its_keys() -> None:
    assert digest({"a": 1, "b": [1, 2]}) == digest({"b": [1, 2], "a": 1})
    assert digest({"b": [2, 1]}) != digest({"b": [1, 2]})


def test_like_areas_are_one_and_unlike_ones_weigh_by_their_share() -> None:
    def told(*areas: tuple[str, float]) -> YearAsked:
        plain = [
            {"id": f"a{n}", "turf": [turf], "area": {"value": size, "unit": "ft2"}}
            for n, (turf, size) in enumerate(areas)
        ]
        return YearAsked.model_validate(asked(areas=plain))

    alone = folded(told(("tall-fescue", 5000)))
    assert folded(told(("tall-fescue", 900), ("tall-fescue", 70_000))).fold == alone.fold
    assert alone.asked.areas[0].area is None
    half, third = (
        ((turf, 5000.0) for turf in ("tall-fescue", "fine-fescue")),
        (("tall-fescue", 3e3), ("fine-fescue", 6e3)),
    )
    assert folded(told(*half)).fold != folded(told(*third)).fold
    near = folded(told(("tall-fescue", 3100), ("fine-fescue", 6000)))
    assert near.fold == folded(told(*third)).fold
    assert sorted(area.area.value for area in near.asked.areas if area.area is not None) == [3000, 7000]


def test_a_plan_comes_back_under_the_names_of_the_property() -> None:
    told = asked(
        areas=[
            {"id": "front", "name": "Front lawn", "turf": ["tall-fescue"]},
            {"id": "back", "name": "Back lawn", "turf": ["kentucky-bluegrass"]},
        ]
    )
    found = folded(YearAsked.model_validate(told))
    made = plan(areas=tuple(sorted(found.areas.values())), text="Two visits to area-01, one to area-02.")
    back = unfolded(made, found.areas, {"front": "Front lawn", "back": "Back lawn"})
    assert {visit.area for visit in back.visits} == {"front", "back"}
    names = {called: key for key, called in found.areas.items()}
    first, second = ({"front": "Front lawn", "back": "Back lawn"}[names[called]] for called in ("area-01", "area-02"))
    assert back.headline == f"Two visits to {first}, one to {second}."
    assert "area-0" not in back.model_dump_json()


def test_what_is_planned_for_like_areas_is_told_of_each() -> None:
    told = asked(areas=[{"id": key, "name": key.title(), "turf": ["tall-fescue"]} for key in ("front", "back")])
    found = folded(YearAsked.model_validate(told))
    assert set(found.areas.values()) == {"area-01"}
    back = unfolded(plan(text="Two visits to area-01."), found.areas, {"front": "Front", "back": "Back"})
    assert [(visit.number, visit.area) for visit in back.visits] == [
        (1, "front"),
        (1, "back"),
        (2, "front"),
        (2, "back"),
    ]
    assert back.headline == "Two visits to Front and Back."
