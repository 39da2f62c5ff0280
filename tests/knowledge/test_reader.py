"""Strict reading: what plain YAML lets pass in silence is reported with its place."""

from __future__ import annotations

import pytest

from knowledge.reader import read_text


def test_a_clean_file_is_read_without_problems() -> None:
    tree, problems = read_text("a.yaml", "id: a\nbands: [1, 2.5, 3]\nfrom: 04-01\nyes_please: true\nnothing: null\n")
    assert problems == []
    assert tree == {"id": "a", "bands": [1, 2.5, 3], "from": "04-01", "yes_please": True, "nothing": None}


@pytest.mark.parametrize("text", ["id: a\nid: b\n", "outer: {x: 1, x: 2}\n", "- {id: a, id: b}\n"])
def test_a_key_that_stands_twice_is_reported(text: str) -> None:
    _, problems = read_text("a.yaml", text)
    assert len(problems) == 1
    assert "stands twice" in problems[0].message
    assert problems[0].path.startswith("line ")


@pytest.mark.parametrize("word", ["yes", "no", "on", "Off", "N"])
def test_ambiguous_words_are_reported_and_stay_text(word: str) -> None:
    tree, problems = read_text("a.yaml", f"allowed: {word}\n")
    assert tree == {"allowed": word}
    assert "ambiguous" in problems[0].message


def test_a_quoted_word_is_plain_text() -> None:
    assert read_text("a.yaml", 'allowed: "no"\n') == ({"allowed": "no"}, [])


def test_days_stay_text_and_are_no_dates() -> None:
    assert read_text("a.yaml", "from: 2027-04-01\nto: 11:30\n")[0] == {"from": "2027-04-01", "to": "11:30"}


def test_broken_yaml_names_its_line() -> None:
    tree, problems = read_text("a.yaml", "id: a\nlist: [1, 2\n")
    assert tree is None
    assert "not readable" in problems[0].message
    assert problems[0].path.startswith("line ")
