"""Strict JSON: one meaning for every reader, or none."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doors.api.parsing import LARGEST_INTEGER, strict_object
from doors.api.problems import ProblemError


def refused(raw: bytes) -> list[tuple[str, str | None]]:
    """Return code and pointer of each mistake found in `raw`, which must be refused as JSON."""
    with pytest.raises(ProblemError) as caught:
        strict_object(raw)
    assert caught.value.problem.code == "malformed_json"
    return [(error.code, error.pointer) for error in caught.value.errors]


@pytest.mark.parametrize(
    ("raw", "code", "pointer"),
    [
        (b"", "not_json", ""),
        (b'{"a": 1,}', "not_json", ""),
        (b'{"a": 60,5}', "not_json", ""),
        (b'{"a": "\xff"}', "not_utf8", ""),
        ('{"a": 1}'.encode("utf-16"), "not_utf8", ""),
        (b"[1]", "not_an_object", ""),
        (b'"text"', "not_an_object", ""),
        (b"null", "not_an_object", ""),
        (b"[" * 100_000, "too_deep", ""),
        (b'{"a": [1, -Infinity]}', "not_finite", "/a/1"),
        (b'{"a": {"b/c": 1, "b/c": 2}}', "duplicate_key", "/a/b~1c"),
        (b'{"a": "x\\u0000"}', "unstorable_text", "/a"),
        (b'{"a": ["\\ud800"]}', "unstorable_text", "/a/0"),
        (b'{"a": 9007199254740993}', "out_of_range", "/a"),
        (b'{"a": {"b": [0, -9007199254740993]}}', "out_of_range", "/a/b/1"),
        (b'{"a": ' + b"9" * 5_000 + b"}", "too_long", "/a"),
    ],
)
def test_what_is_not_strict_is_refused_with_its_place(raw: bytes, code: str, pointer: str) -> None:
    """Nothing ambiguous or unstorable passes; the pointer names the place where there is one."""
    assert refused(raw) == [(code, pointer)]


def test_every_mistake_is_named_at_once() -> None:
    """A caller learns of all mistakes by one request."""
    raw = b'{"a": NaN, "b": {"c": 1, "c": 2}, "d": ["\\u0000"]}'
    assert refused(raw) == [
        ("not_finite", "/a"),
        ("duplicate_key", "/b/c"),
        ("unstorable_text", "/d/0"),
    ]


def test_numbers_are_kept_as_written() -> None:
    """No number passes through a binary float."""
    found = strict_object(b'{"a": 60.000000000000001, "b": 1e3, "c": %d}' % LARGEST_INTEGER)
    assert found == {"a": Decimal("60.000000000000001"), "b": Decimal("1e3"), "c": LARGEST_INTEGER}
    assert type(found["c"]) is int


def test_unusual_but_sound_text_passes() -> None:
    """Pairs of surrogates, emoji and long words are text like any other."""
    text = "ab\U0001f6aa" + "x" * 10_000
    assert strict_object(json.dumps({"a": text}).encode()) == {"a": text}


@given(st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    """No bytes lead to an unforeseen error."""
    try:
        assert isinstance(strict_object(raw), dict)
    except ProblemError as error:
        assert error.errors  # noqa: PT017 (either outcome is right, an unforeseen one is not)


TEXT = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=8)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-LARGEST_INTEGER, LARGEST_INTEGER) | TEXT,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
        max_leaves=10,
    )
)
def test_strict_json_means_what_it_means_elsewhere(value: object) -> None:
    """What is sound is read as the standard library reads it."""
    raw = json.dumps({"a": value}, ensure_ascii=False).encode()
    assert strict_object(raw) == json.loads(raw)
