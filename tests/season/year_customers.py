"""Random customers of a year over the real ids, and what the engine says of each visit of their plans."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from app.engine.expect import expect
from app.engine.output import Application
from app.engine.situation import ExpectRequest
from app.season.year import YearAsked
from app.season.year_output import YearPlan, YearVisit
from knowledge.base import KnowledgeBase
from tests.engine.strategies import BASE

YEAR = 2027
# Turf that usually stands in each zone, and weeds that usually stand in it. Common practice, no source.
TURF = {
    "cool-humid": ("kentucky-bluegrass", "perennial-ryegrass", "tall-fescue", "fine-fescue"),
    "cool-arid": ("kentucky-bluegrass", "tall-fescue", "buffalograss"),
    "transition": ("tall-fescue", "kentucky-bluegrass", "zoysiagrass-japonica", "common-bermudagrass"),
    "warm-humid": ("hybrid-bermudagrass", "st-augustinegrass", "centipedegrass", "zoysiagrass-japonica"),
    "warm-arid": ("common-bermudagrass", "hybrid-bermudagrass", "tall-fescue"),
}
COOL_WEEDS = (
    *("smooth-crabgrass", "large-crabgrass", "goosegrass", "yellow-foxtail", "annual-bluegrass", "yellow-nutsedge"),
    *("dandelion", "white-clover", "ground-ivy", "wild-violet", "broadleaf-plantain", "prostrate-knotweed"),
    *("common-chickweed", "henbit", "black-medic", "prostrate-spurge", "canada-thistle", "quackgrass"),
)
WARM_WEEDS = (
    *("large-crabgrass", "southern-crabgrass", "goosegrass", "annual-bluegrass", "dallisgrass", "purple-nutsedge"),
    *("dollarweed", "virginia-buttonweed", "lawn-burweed", "henbit", "common-chickweed", "hop-clover", "doveweed"),
    *("spotted-spurge", "annual-sedge", "white-clover", "dandelion", "florida-betony", "chamberbitter"),
)
SITES = ("residential-lawn", "commercial-grounds", "school-grounds", "sports-turf", "golf-rough", "cemetery-park")


@st.composite
def past(draw: st.DrawFn, year: int, last: date) -> list[dict[str, Any]]:
    """A few applications of a year at the usual rates, up to a day."""
    found = []
    for _ in range(draw(st.sampled_from([0, 0, 1, 3]))):
        key = draw(st.sampled_from(["prodiamine", "pendimethalin", "2-4-d", "dicamba", "quinclorac", "triclopyr"]))
        usual = BASE.actives[key].rates[0].usual
        day = draw(st.dates(date(year, 1, 1), last))
        found.append({"date": day.isoformat(), "active": key, "rate": {"value": usual.value, "unit": usual.unit}})
    return found


@st.composite
def payloads(draw: st.DrawFn, most_weeds: int = 5, most_visits: int = 5, by: str = "either") -> dict[str, Any]:
    """A year as plain data, sound in itself; its visits told by dates, by count or either way."""
    zone = draw(st.sampled_from(sorted(TURF)))
    turf = draw(st.sampled_from(TURF[zone]))
    warm = BASE.turf[turf].season == "warm-season"
    usual = st.sampled_from(WARM_WEEDS if warm else COOL_WEEDS)
    weeds = draw(st.lists(usual, min_size=1, max_size=most_weeds, unique=True))
    start = draw(st.none() | st.dates(date(YEAR, 1, 1), date(YEAR, 7, 1)))
    first = start or date(YEAR, 1, 1)
    condition: dict[str, Any] = {"stand": "established"}
    if draw(st.sampled_from([False, False, True])):
        condition["seeding_planned"] = draw(st.dates(first, date(YEAR, 10, 15))).isoformat()
    days = sorted(draw(st.sets(st.dates(first, date(YEAR, 12, 15)), min_size=1, max_size=most_visits)))
    counted = {"count": draw(st.integers(1, most_visits))}
    dated = {"dates": [day.isoformat() for day in days]}
    visits = {"count": counted, "dates": dated}.get(by) or draw(st.sampled_from([counted, dated]))
    barred = st.lists(st.sampled_from(["2-4-d", "prodiamine", "dicamba"]), min_size=1, max_size=2, unique=True)
    forbid = [{"actives": draw(barred)}]
    told: dict[str, Any] = {
        "year": YEAR,
        "zone": zone,
        "site_use": draw(st.sampled_from(SITES)),
        "areas": [{"id": "front", "turf": [turf], "turf_condition": condition}],
        "weeds": [{"weed": weed, "pressure": draw(st.sampled_from(["low", "moderate", "high"]))} for weed in weeds],
        "visits": visits,
        "limits": {"max_products_per_visit": draw(st.integers(1, 3))},
        "applied_this_year": draw(past(YEAR, first)) if start is not None else [],
        "applied_last_year": draw(past(YEAR - 1, date(YEAR - 1, 12, 31))),
        "forbid": draw(st.just([]) | st.just(forbid)),
        "options": {"frontier": False, "time_limit_s": 20},
    }
    return {**told, "from": start.isoformat()} if start is not None else told


def customers(**changes: Any) -> st.SearchStrategy[YearAsked]:
    """Sound years."""
    return payloads(**changes).map(YearAsked.model_validate)


def actives_of(application: Application) -> list[dict[str, Any]]:
    """The actives of an application as they are asked for, each once with its whole rate."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for product in application.products:
        for part in product.actives:
            held = found.setdefault(
                (part.active, part.form),
                {"active": part.active, "form": part.form, "rate": {"value": 0.0, "unit": part.rate.unit}},
            )
            assert held["rate"]["unit"] == part.rate.unit
            held["rate"]["value"] += part.rate.value
    return list(found.values())


def applied(plan: YearPlan) -> list[tuple[date, str, dict[str, Any]]]:
    """What a plan applies: day, area, and the application as it is told to the engine."""
    return [
        (tank.date, visit.area, {"date": tank.date.isoformat(), "active": part["active"], "rate": part["rate"]})
        for visit in plan.visits
        for tank in visit.applications
        for part in actives_of(tank)
    ]


def condition_on(condition: dict[str, Any], day: date) -> dict[str, Any]:
    """The turf on a day: after its seeding a stand of seedlings that came up two weeks later at the latest."""
    planned = condition.get("seeding_planned")
    if planned is None or day <= date.fromisoformat(planned):
        return condition
    weeks = max(0.0, (day - date.fromisoformat(planned) - timedelta(days=14)).days / 7)
    return {"stand": "seedling", "weeks_since_emergence": weeks}


def stops_of(base: KnowledgeBase, asked: YearAsked, plan: YearPlan) -> Iterator[tuple[YearVisit, Sequence[str]]]:
    """What the engine's rules stop of each visit, when all that the plan did before it counts as applied."""
    plain = asked.model_dump(mode="json", by_alias=True)
    areas = {area["id"]: area for area in plain["areas"]}
    done = applied(plan)
    for visit in plan.visits:
        for tank in visit.applications:
            earlier = [past for day, area, past in done if day < tank.date and area == visit.area]
            before = [
                {name: past[name] for name in ("date", "active", "rate")}
                for past in (*plain["applied_last_year"], *plain["applied_this_year"])
                if past["area"] in (None, visit.area)
            ]
            area = areas[visit.area]
            situation = {
                "date": tank.date.isoformat(),
                "zone": plain["zone"],
                "site_use": plain["site_use"],
                "turf": area["turf"],
                "turf_condition": condition_on(area["turf_condition"], tank.date),
                "targets": [{"weed": weed["weed"]} for weed in plain["weeds"]][:12],
                "surroundings": area["surroundings"],
                "applied_this_year": [*before, *earlier],
                "local_rules": plain["local_rules"],
            }
            adjuvant = {"id": tank.adjuvant.id} if tank.adjuvant is not None else None
            every = actives_of(tank)
            # A stated program holds five actives at most; the rules ask of each by itself.
            for held in (every[at : at + 5] for at in range(0, len(every), 5)):
                program = {"applications": [{"day": 0, "actives": held, "adjuvant": adjuvant}]}
                found = expect(base, ExpectRequest.model_validate({"situation": situation, "program": program}))
                yield visit, [f"{stop.code}: {stop.text}" for stop in found.stops]
