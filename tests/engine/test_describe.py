"""A program in words and figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.engine.citations import cautions_said, cited, source_ids, stops_said
from app.engine.describe import Spray, amount, groups_of, injury_of, program_id, program_name, words
from app.engine.rules import Finding
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from knowledge.models import ALL_STAGES, Citation
from knowledge.quantities import parse_quantity
from tests.conftest import plain
from tests.engine.made import dose, with_active, with_tolerance


def _sprays(base: KnowledgeBase, *tanks: tuple[str, ...], adjuvant: str = "none", gap: int = 28) -> tuple[Spray, ...]:
    return tuple(
        Spray(number * gap, tuple(dose(base, key=key) for key in tank), adjuvant) for number, tank in enumerate(tanks)
    )


@pytest.mark.parametrize(
    ("tanks", "adjuvant", "name"),
    [
        ([("triclopyr",)], "none", "triclopyr"),
        ([("triclopyr", "2-4-d")], "none", "triclopyr + 2,4-D"),
        ([("triclopyr", "2-4-d")] * 2, "none", "triclopyr + 2,4-D, twice, 28 days apart"),
        ([("triclopyr",)], "nis", "triclopyr with non-ionic surfactant"),
        ([("triclopyr",), ("2-4-d",)], "none", "triclopyr, then 2,4-D 28 days later"),
    ],
)
def test_a_program_in_a_few_words(base: KnowledgeBase, tanks: list[tuple[str, ...]], adjuvant: str, name: str) -> None:
    assert program_name(_sprays(base, *tanks, adjuvant=adjuvant), base) == name


def test_an_id_says_what_a_program_is_made_of(base: KnowledgeBase) -> None:
    one = _sprays(base, ("triclopyr", "2-4-d"))
    assert program_id(one) == program_id(_sprays(base, ("2-4-d", "triclopyr")))
    different: list[Any] = [
        _sprays(base, ("triclopyr",)),
        _sprays(base, ("triclopyr", "2-4-d"), ("triclopyr", "2-4-d")),
        _sprays(base, ("triclopyr", "2-4-d"), adjuvant="nis"),
        (replace(one[0], doses=(dose(base, "0.5 lb ae/acre", key="triclopyr"), one[0].doses[1])),),
        (replace(one[0], doses=(replace(one[0].doses[0], form=one[0].doses[0].active.forms[-1]), one[0].doses[1])),),
    ]
    ids = [program_id(sprays) for sprays in (one, *different)]
    assert len(set(ids)) == len(ids)
    assert all(len(key) == 12 for key in ids)


def test_groups_rise_and_stand_once(base: KnowledgeBase) -> None:
    assert groups_of(_sprays(base, ("prodiamine", "2-4-d"), ("triclopyr",))) == (3, 4)


@pytest.mark.parametrize(("text", "value"), [("1.23456 lb ae/acre", 1.235), ("0.00012345 lb ae/acre", 0.0001234)])
def test_amounts_are_shown_at_four_digits(text: str, value: float) -> None:
    assert amount(parse_quantity(text)).value == pytest.approx(value, rel=1e-3)
    assert amount(parse_quantity("1120.851156 g ae/ha"), "lb ae/acre").value == 1.0


def test_every_stage_has_its_words() -> None:
    said = {stage: words(stage) for stage in ALL_STAGES}
    assert said["not-emerged"] == "not yet emerged"
    assert len(set(said.values())) == len(said)


@pytest.mark.parametrize(
    ("records", "kind"),
    [
        (({"class": "T"}, {"class": "I", "condition": "in spring"}), "I"),
        (({"class": "T"}, {"class": "T"}), "T"),
        (({"class": "S"}, {"class": "I", "condition": "in spring"}), "S"),
        (({"class": "unknown"}, {"class": "I", "condition": "in spring"}), "unknown"),
        (({"class": "S"}, {"class": "unknown"}), "S"),
    ],
)
def test_the_least_tolerated_active_decides(
    base: KnowledgeBase, records: tuple[dict[str, Any], dict[str, Any]], kind: str
) -> None:
    made = with_tolerance(with_active(base), records[0])
    made = with_tolerance(made, records[1], key="mcpa")
    understood = understand(Situation.model_validate(plain()), made)
    (shown,) = injury_of(understood, _sprays(made, ("2-4-d", "mcpa")), [12.34])
    assert shown.tolerance == kind
    assert shown.likely_pct == (None if kind == "unknown" else 12.3)


def test_sources_stand_once_in_their_order() -> None:
    cites = [Citation(id="b", at="1"), Citation(id="a"), Citation(id="b", at="2")]
    assert source_ids(cites) == ("b", "a")


def test_cited_sources_say_whether_they_were_seen(base: KnowledgeBase) -> None:
    found = cited(base, ["common-practice", *list(base.sources)[:40], "common-practice"])
    assert list(found) == sorted(found)
    for key, shown in found.items():
        source = base.sources[key]
        usual = "published" if source.seen else "memory"
        assert shown.basis == ("common-practice" if source.kind == "common-practice" else usual)


def test_equal_findings_are_said_once_and_the_gravest_first(base: KnowledgeBase) -> None:
    values = {"active": "2,4-D", "hours": "6", "told": "2"}
    findings = [
        Finding("rainfast", "unknown", values, settled_by="forecast.rain_free_hours"),
        Finding("rainfast", "warning", values),
        Finding("rainfast", "warning", dict(values)),
        Finding("local-rule", "stop", {"active": "2,4-D", "note": "here"}),
    ]
    said = cautions_said(base, findings)
    assert [(c.severity, c.settled_by) for c in said] == [("warning", None), ("caution", "forecast.rain_free_hours")]
    (stop,) = stops_said(base, [*findings, findings[-1]])
    assert stop.text == "A local rule bars 2,4-D: here."
