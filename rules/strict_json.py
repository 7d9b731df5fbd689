"""JSON as the command line reads it: numbers exactly as written, and nothing ambiguous.

Refused, each with the JSON Pointer of the place: a key that stands twice, NaN and infinities,
numbers longer or larger than any measurement, nesting beyond MAX_DEPTH, NUL and lone surrogates
in any text, and anything larger than MAX_BYTES or of more than MAX_PARTS lists and objects, before
it is read.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import partial

from rules.errors import InputError, Problem, escaped
from rules.quantities import decimal_text

MAX_BYTES = 32 * 1024 * 1024
MAX_PARTS = 500_000  # the longest trace, of 200,000 samples, and room for everything else
MAX_DEPTH = 32
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")  # PostgreSQL stores neither in a text
_ORDINARY_LENGTH = 20  # digits and sign that are read without a closer look


class _Refused:
    """Stands in the tree where something was wrong, until its place in it is known."""

    def __init__(self, code: str, message: str) -> None:
        self.code, self.message = code, message


def read_json(raw: bytes) -> object:
    """The document: objects, lists, texts, ints, Decimals, booleans and None.

    Raises InputError with every mistake and its place; a syntax error names line and column.
    """
    if len(raw) > MAX_BYTES:
        raise InputError.at("", "too_large", f"at most {MAX_BYTES // 1024**2} MiB are read")
    if raw.count(b"[") + raw.count(b"{") > MAX_PARTS:  # reading them to refuse them takes seconds
        raise InputError.at("", "too_many", f"at most {MAX_PARTS} lists and objects are read")
    document = _parsed(raw)
    problems = list(_problems(document))
    if problems:
        raise InputError(problems)
    return document


def _parsed(raw: bytes) -> object:
    try:
        return json.loads(
            raw.decode("utf-8-sig"),
            parse_float=partial(_number, Decimal),
            parse_int=partial(_number, int),
            parse_constant=lambda text: _Refused("not_finite", f"{text} is not a number"),
            object_pairs_hook=_object,
        )
    except UnicodeDecodeError as refused:
        raise InputError.at("", "not_utf8", f"not UTF-8 at byte {refused.start}") from refused
    except RecursionError as refused:
        raise InputError.at("", "too_deep", f"nested deeper than {MAX_DEPTH}") from refused
    except json.JSONDecodeError as refused:
        message = f"{refused.msg} at line {refused.lineno}, column {refused.colno}"
        raise InputError.at("", "not_json", message) from refused


def _number(kind: type[int | Decimal], text: str) -> object:
    if len(text) > _ORDINARY_LENGTH or "e" in text or "E" in text:
        try:
            decimal_text(text)
        except InputError as refused:
            return _Refused(refused.problems[0].code, refused.problems[0].message)
    return kind(text)


def _object(pairs: list[tuple[str, object]]) -> object:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen: set[str] = set()
    for key, _ in pairs:
        if key in seen:
            found[key] = _Refused("duplicate_key", "this key stands twice")
        seen.add(key)
    return found


def _problems(document: object) -> Iterator[Problem]:
    """Walk the tree without recursion, so that depth costs nothing but a refusal."""
    waiting: list[tuple[str, int, object]] = [("", 0, document)]
    while waiting:
        at, depth, value = waiting.pop()
        if isinstance(value, _Refused):
            yield Problem(at, value.code, value.message)
        elif isinstance(value, str):
            if _UNSTORABLE.search(value):
                yield Problem(at, "unstorable_text", "NUL or half a character in a text")
        elif isinstance(value, dict | list):
            if depth == MAX_DEPTH:
                yield Problem(at, "too_deep", f"nested deeper than {MAX_DEPTH}")
                continue
            yield from _bad_keys(at, value)
            waiting.extend(_children(at, depth + 1, value))


def _bad_keys(at: str, value: dict[str, object] | list[object]) -> Iterator[Problem]:
    if isinstance(value, dict):
        for key in value:
            if _UNSTORABLE.search(key):
                yield Problem(at, "unstorable_text", "NUL or half a character in a key")


def _children(
    at: str, depth: int, value: dict[str, object] | list[object]
) -> Iterator[tuple[str, int, object]]:
    """The parts of an object or a list that need a look, last first: the walk takes the last."""
    named = value.items() if isinstance(value, dict) else enumerate(value)
    parts = [(key, part) for key, part in named if isinstance(part, dict | list | str | _Refused)]
    for key, part in reversed(parts):
        yield f"{at}/{escaped(key)}", depth, part
