"""The register: every rule has its text, and every finding reads as a sentence."""

from __future__ import annotations

import pytest

from app.engine.rules import Finding, ask, registered
from knowledge.base import KnowledgeBase
from tests.engine.made import question


def test_rules_of_one_scope_are_a_part_of_all() -> None:
    scopes = ("dose", "adjuvant", "pair", "repeat")
    assert sorted(r.code for s in scopes for r in registered(s)) == sorted(r.code for r in registered())
    assert len({r.code for r in registered()}) == len(registered())


def test_asking_a_scope_asks_each_of_its_rules(base: KnowledgeBase) -> None:
    asked = question(base, told={"forecast": {}})
    found = ask(asked, "dose")
    assert found == tuple(f for r in registered("dose") for f in r.function(asked))
    assert {f.code for f in found} <= {r.code for r in registered("dose")}


@pytest.mark.parametrize(
    ("outcome", "severity"), [("unknown", "caution"), ("warning", "warning"), ("caution", "caution"), ("info", "info")]
)
def test_an_unknown_counts_as_a_caution(outcome: str, severity: str) -> None:
    assert Finding("x", outcome, {}).severity == severity  # type: ignore[arg-type]


def test_findings_that_say_the_same_merge() -> None:
    one = Finding("x", "stop", {"a": "1", "b": "2"})
    same = Finding("x", "stop", {"b": "2", "a": "1"}, settled_by="date")
    other = Finding("x", "stop", {"a": "1", "b": "3"})
    assert one.merged_key() == same.merged_key()
    assert one.merged_key() != other.merged_key()


def test_a_sentence_begins_with_a_capital(base: KnowledgeBase) -> None:
    finding = Finding("adjuvant-injury", "stop", {"adjuvant": "methylated seed oil", "active": "2,4-D", "why": "x."})
    assert finding.sentence(base) == "Methylated seed oil is not added to 2,4-D: x."
