"""Strict JSON: what would be read in two ways is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine.errors import InputError
from app.services.strict_json import MAX_BYTES, read_json


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (b'{"a": [1, 2.5, null, true, "x"]}', {"a": [1, 2.5, None, True, "x"]}),
        (b"\xef\xbb\xbf[]", []),
        ('{"a": {"b": 1}, "c": {"b": 2}}', {"a": {"b": 1}, "c": {"b": 2}}),
        (b'"caf\xc3\xa9"', "café"),
        (b" 3 ", 3),
    ],
)
def test_sound_json_is_read(text: bytes | str, value: object) -> None:
    assert read_json(text) == value


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"a": 1, "a": 1}', "twice"),
        ('[{"x": {"a": 1, "b": 2, "a": 3}}]', "twice"),
        ("NaN", "NaN is no JSON number"),
        ('{"a": -Infinity}', "-Infinity"),
        (b"\xff", "UTF-8"),
        (b"caf\xe9", "UTF-8"),
        ("", "line 1, column 1"),
        ("{", "line 1"),
        ("{'a': 1}", "line 1, column 2"),
        ("[1,\n2,\n]", "line 3"),
        ("[" * 100_000, "nested too deep"),
        ("1" * 10_000, "too long"),
        ("1 2", "line 1, column 3"),
    ],
)
def test_what_is_not_strict_is_refused_in_one_sentence(text: bytes | str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_json(text)
    (fault,) = caught.value.faults
    assert said in fault.message
    assert "\n" not in fault.message


def test_the_key_that_stands_twice_is_named() -> None:
    with pytest.raises(InputError) as caught:
        read_json('{"zone": "a", "date": 1, "zone": "b"}')
    assert caught.value.faults[0].path == "zone"


@pytest.mark.parametrize("letter", ["x", "é"])
def test_the_size_has_a_bound(letter: str) -> None:
    room = MAX_BYTES - 2
    text = '"' + letter * (room // len(letter.encode())) + '"'
    assert len(str(read_json(text.encode()))) == room // len(letter.encode())
    with pytest.raises(InputError, match="larger than 1024 KiB"):
        read_json(text.encode() + b"   ")


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    faults = 0
    try:
        read_json(data)
    except InputError as error:
        faults = len(error.faults)
    assert faults in (0, 1)
