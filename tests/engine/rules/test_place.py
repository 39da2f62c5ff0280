"""Rules of the place: sites, surroundings and local rules."""

from __future__ import annotations

from typing import Any

import pytest

from knowledge.base import KnowledgeBase
from tests.engine.made import fact, outcomes, question, with_active


@pytest.mark.parametrize(("site", "found"), [("sports-turf", ["stop"]), ("residential-lawn", [])])
def test_some_sites_are_barred(base: KnowledgeBase, site: str, found: list[str]) -> None:
    made = with_active(base, sites_barred=[fact(site_uses=["sports-turf", "school-grounds"], text="The label.")])
    assert outcomes("site-use", question(made, told={"site_use": site})) == found


@pytest.mark.parametrize(
    ("near", "found"),
    [(["tree-roots"], ["stop"]), (["slope"], ["warning"]), (["tree-roots", "slope"], ["stop", "warning"]), ([], [])],
)
def test_what_stands_near_bars_or_warns(base: KnowledgeBase, near: list[str], found: list[str]) -> None:
    rules = [fact(id="tree-roots", outcome="stop", text="Roots."), fact(id="slope", outcome="caution", text="Runoff.")]
    made = with_active(base, surroundings=rules)
    assert outcomes("surroundings", question(made, told={"surroundings": near})) == found


@pytest.mark.parametrize(
    ("rule", "found"),
    [
        ({"kind": "ban-active", "active": "2-4-d"}, ["stop"]),
        ({"kind": "ban-active", "active": "dicamba"}, []),
        ({"kind": "ban-form", "form": "2-4-d-dma"}, ["stop"]),
        ({"kind": "ban-form", "form": "2-4-d-ehe"}, []),
        ({"kind": "ban-group", "group": "4"}, ["stop"]),
        ({"kind": "ban-group", "group": "2"}, []),
    ],
)
def test_a_local_ban_is_a_stop(base: KnowledgeBase, rule: dict[str, Any], found: list[str]) -> None:
    assert outcomes("local-rule", question(base, told={"local_rules": [rule]})) == found


@pytest.mark.parametrize(
    ("start", "end", "last_day", "found"),
    [
        ("2027-05-20", "2027-05-20", 0, ["stop"]),
        ("2027-05-21", "2027-06-30", 0, []),
        ("2027-05-01", "2027-05-19", 0, []),
        ("2027-06-17", "2027-06-17", 28, ["stop"]),
        ("2027-06-18", "2027-06-30", 28, []),
        ("2027-05-25", "2027-06-01", 28, []),
    ],
)
def test_a_closed_season_bars_the_days_of_both_applications(
    base: KnowledgeBase, start: str, end: str, last_day: int, found: list[str]
) -> None:
    rule = {"kind": "closed-season", "from": start, "to": end, "note": "county ordinance"}
    assert outcomes("local-rule", question(base, told={"local_rules": [rule]}, last_day=last_day)) == found
