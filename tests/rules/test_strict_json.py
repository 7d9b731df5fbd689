"""JSON read exactly as written, and nothing ambiguous."""

import json
from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import strict_json
from rules.errors import InputError
from rules.strict_json import MAX_DEPTH, read_json


def refused(raw: bytes) -> list[tuple[str, str]]:
    """Pointer and code of every mistake."""
    with pytest.raises(InputError) as caught:
        read_json(raw)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        (b"24.10", Decimal("24.10")),
        (b"1e-3", Decimal("0.001")),
        (b"-0", 0),
        (b"123456789012345678901234567890", 123456789012345678901234567890),
        (b"\xef\xbb\xbf[1]", [1]),
        (b'"\\ud83d\\ude00"', "\U0001f600"),
        (b'{"a": null, "b": [true, "x"]}', {"a": None, "b": [True, "x"]}),
    ],
)
def test_read(raw: bytes, value: object) -> None:
    """Decimals keep their digits, whole letters are letters, a byte order mark is none."""
    assert read_json(raw) == value
    assert str(read_json(raw)) == str(value)


@pytest.mark.parametrize(
    ("raw", "pointer", "code"),
    [
        (b'{"a": 1, "a": 2}', "/a", "duplicate_key"),
        (b'[{"a": {"b": 1, "b": 1}}]', "/0/a/b", "duplicate_key"),
        (b'{"a/b": {"c~d": NaN}}', "/a~1b/c~0d", "not_finite"),
        (b"[1, -Infinity]", "/1", "not_finite"),
        (b"1e999", "", "out_of_range"),
        (b"[1e-999]", "/0", "out_of_range"),
        (b"[" + b"9" * 5000 + b"]", "/0", "too_long"),
        (b"[0." + b"1" * 5000 + b"]", "/0", "too_long"),
        (b'["\\u0000"]', "/0", "unstorable_text"),
        (b'{"x": "\\udc00"}', "/x", "unstorable_text"),
        (b'{"\\u0000": 1}', "", "unstorable_text"),
        (b"[" * 100_000, "", "too_deep"),
        (b"\xff", "", "not_utf8"),
        (b'["\xed\xa0\x80"]', "", "not_utf8"),
        (b'["a\nb"]', "", "not_json"),
        (b"[1,]", "", "not_json"),
        (b"", "", "not_json"),
        (b"{} {}", "", "not_json"),
    ],
)
def test_refused(raw: bytes, pointer: str, code: str) -> None:
    """Each mistake is named by its place in the document."""
    assert refused(raw) == [(pointer, code)]


def test_depth_is_counted_exactly() -> None:
    """MAX_DEPTH levels are read, one more is not."""
    assert read_json(b"[" * MAX_DEPTH + b"]" * MAX_DEPTH) is not None
    ((pointer, code),) = refused(b"[" * (MAX_DEPTH + 1) + b"]" * (MAX_DEPTH + 1))
    assert (pointer, code) == ("/0" * MAX_DEPTH, "too_deep")


def test_size(monkeypatch: pytest.MonkeyPatch) -> None:
    """A document larger than the limit is refused before it is parsed."""
    monkeypatch.setattr(strict_json, "MAX_BYTES", 10)
    assert read_json(b'"12345678"') == "12345678"
    assert refused(b'"123456789"') == [("", "too_large")]


def test_every_mistake_in_order() -> None:
    """All mistakes are named, in the order of the document."""
    raw = b'{"a": NaN, "b": [1e999, {"c": 1, "c": 2}], "d": "\\u0000"}'
    assert [pointer for pointer, _ in refused(raw)] == ["/a", "/b/0", "/b/1/c", "/d"]


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-(10**20), 10**20) | st.text("aä/~0\U0001f600"),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("ab/~"), inner),
        max_leaves=20,
    )
)
def test_ordinary_documents_are_read_as_by_anyone(document: object) -> None:
    """Where nothing is wrong the document is what any reader makes of it."""
    assert read_json(json.dumps(document).encode()) == document


@given(st.binary(max_size=40))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    """No bytes end in anything but a document or a refusal."""
    with suppress(InputError):  # anything else fails the test
        json.dumps(read_json(raw), default=str)


def test_more_parts_than_any_trace_are_refused_unread() -> None:
    """A million samples are refused before they are read, a broken one among them or not."""
    samples = b"[0,0]," * 1_000_000
    with pytest.raises(InputError) as refused:
        read_json(b'{"samples": [' + samples + b"oops")
    assert [(p.pointer, p.code) for p in refused.value.problems] == [("", "too_many")]
    assert read_json(b"[" + b"[0]," * 200_000 + b"[0]]")
