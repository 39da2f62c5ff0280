"""Choices of the question form, with the names people read."""

from __future__ import annotations

from typing import Any

from knowledge.base import KnowledgeBase
from knowledge.models import STAGES_BY_LIFE_FORM
from knowledge.quantities import AREA_UNITS

MONTHS = {
    str(number): name
    for number, name in enumerate(
        (
            *("January", "February", "March", "April", "May", "June"),
            *("July", "August", "September", "October", "November", "December"),
        ),
        start=1,
    )
}
STANDS = {
    "established": "established",
    "seedling": "seedling",
    "newly-sodded": "newly sodded",
    "newly-sprigged": "newly sprigged",
}
GREEN_UP = {"dormant": "dormant", "transition": "in transition", "active": "green and growing"}
STRESS = {name: name for name in ("none", "drought", "heat", "shade", "disease", "traffic")}
CATALOGS = {"actives": "every active ingredient", "shelf": "the products on my shelf"}
MOISTURE = {"dry": "dry", "adequate": "adequate", "wet": "wet"}
STAGE_WORDS = {
    "not-emerged": "not yet emerged",
    "1-3-leaf": "1 to 3 leaves",
    "4-5-leaf": "4 to 5 leaves, no tiller",
    "1-3-tiller": "1 to 3 tillers",
    "multi-tiller": "4 or more tillers",
    "heading": "heading",
    "mature": "mature",
    "2-4-leaf": "2 to 4 leaves",
    "5-8-leaf": "5 to 8 leaves",
    "seedling": "seedling",
    "vegetative": "vegetative",
    "flowering": "flowering",
    "seed-set": "seed set",
    "overwintering": "overwintering",
}
GROUP_WORDS = {"grass": "grasses", "sedge": "sedges", "broadleaf": "broadleaf weeds"}
# Where the knowledge speaks of several turfs at once.
TURF_SCOPES = {
    "all": "all turf",
    "cool-season": "cool-season turf",
    "warm-season": "warm-season turf",
    "cool-lawn": "cool-season lawn grasses",
    "bentgrass": "bentgrass and annual bluegrass",
    "warm-hardy": "hardier warm-season grasses",
    "warm-soft": "softer warm-season grasses",
}


def form_choices(base: KnowledgeBase) -> dict[str, Any]:
    """Every list the form offers."""
    stages = {
        words: {stage: STAGE_WORDS[stage] for stage in STAGES_BY_LIFE_FORM[form]} for form, words in GROUP_WORDS.items()
    }
    turf = {
        season.replace("-", " "): {t.id: t.name for t in base.turf.values() if t.season == season}
        for season in ("cool-season", "warm-season")
    }
    return {
        "weed_names": sorted((weed.name for weed in base.weed_names.values()), key=str.lower),
        "turf_choices": turf,
        "zone_choices": {zone.id: f"{zone.name}: {zone.where}" for zone in base.zones.values()},
        "month_choices": MONTHS,
        "site_choices": {site.id: site.name for site in base.sites.values()},
        "stage_choices": stages,
        "stand_choices": STANDS,
        "green_up_choices": GREEN_UP,
        "stress_choices": STRESS,
        "moisture_choices": MOISTURE,
        "catalog_choices": CATALOGS,
        "area_units": {unit: unit for unit in AREA_UNITS},
        "surrounding_choices": {item.id: item.name for item in base.surroundings.values()},
        "active_choices": {a.id: a.name for a in sorted(base.actives.values(), key=lambda a: a.name.lower())},
    }
