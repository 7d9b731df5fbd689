"""Strict JSON: what two readers could take differently, or a database cannot keep, is refused.

Every mistake that has a place is named with its JSON Pointer, all of them at once.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import IO, Any

from django.conf import settings
from rest_framework.parsers import BaseParser

from doors.api.problems import At, ProblemError
from rules.errors import escaped

DEEPEST = 32
LARGEST_INTEGER = 2**53  # beyond it, readers that know doubles alone see another number
LONGEST_NUMBER = 64  # characters
MOST_REPORTED = 100

_SURROGATE = re.compile("[\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class _Bad:
    """Stands in the tree where a value cannot be accepted."""

    code: str
    detail: str


class StrictJSONParser(BaseParser):
    """Reads a body of application/json into an object of plain values.

    Numbers with a fraction or an exponent become `Decimal`, exactly as written.
    """

    media_type = "application/json"

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> dict[str, Any]:
        """Return the object; raise what is wrong with the body otherwise."""
        request = (parser_context or {})["request"]
        if request.headers.get("Content-Encoding", "identity") != "identity":
            raise ProblemError("unsupported_media_type", "Send the body uncompressed.")
        limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        raw = stream.read(limit + 1)
        if len(raw) > limit:
            raise ProblemError("too_large", f"A JSON body holds at most {limit} bytes.")
        return strict_object(raw)


def strict_object(raw: bytes) -> dict[str, Any]:
    """Return the JSON object that `raw` is; raise `malformed_json` for anything else."""
    try:
        found = json.loads(
            raw.decode("utf-8"),
            object_pairs_hook=_object,
            parse_int=_integer,
            parse_float=_decimal,
            parse_constant=_constant,
        )
    except UnicodeDecodeError as error:
        raise _malformed("not_utf8", f"Byte {error.start} is not UTF-8.") from error
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise _malformed("not_json", f"{error.msg}, {where}.") from error
    except RecursionError as error:
        raise _malformed("too_deep", f"More than {DEEPEST} levels.") from error
    if mistakes := list(_first(_mistakes(found, "", 1))):
        raise ProblemError.in_fields("malformed_json", mistakes)
    if not isinstance(found, dict):
        raise _malformed("not_an_object", "The body must be a JSON object.")
    return found


def _mistakes(value: object, pointer: str, depth: int) -> Iterator[At]:
    match value:
        case _Bad():
            yield At(value.code, value.detail, pointer)
        case str():
            yield from _in_text(value, pointer)
        case dict() | list() if depth > DEEPEST:
            yield At("too_deep", f"More than {DEEPEST} levels.", pointer)
        case dict():
            for key, inner in value.items():
                wrong = list(_in_text(key, pointer))
                yield from wrong or _mistakes(inner, f"{pointer}/{escaped(key)}", depth + 1)
        case list():
            for index, inner in enumerate(value):
                yield from _mistakes(inner, f"{pointer}/{index}", depth + 1)


def _in_text(text: str, pointer: str) -> Iterator[At]:
    if "\x00" in text:
        yield At("control_character", "A NUL cannot stand in a text or a name.", pointer)
    if _SURROGATE.search(text):
        yield At("lone_surrogate", "An unpaired surrogate is no character.", pointer)


def _first(mistakes: Iterator[At]) -> Iterator[At]:
    for _, mistake in zip(range(MOST_REPORTED), mistakes, strict=False):
        yield mistake


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in pairs:
        found[key] = _Bad("duplicate_key", "This name stands twice.") if key in found else value
    return found


def _integer(text: str) -> int | _Bad:
    if len(text) > LONGEST_NUMBER or abs(int(text)) > LARGEST_INTEGER:
        return _Bad("out_of_range", f"Whole numbers go up to {LARGEST_INTEGER}.")
    return int(text)


def _decimal(text: str) -> Decimal | _Bad:
    if len(text) > LONGEST_NUMBER:
        return _Bad("too_long", f"A number has at most {LONGEST_NUMBER} characters.")
    try:
        return Decimal(text)
    except InvalidOperation:
        return _Bad("out_of_range", "The exponent is too large.")


def _constant(text: str) -> _Bad:
    return _Bad("not_a_number", f"{text} is no number of JSON.")


def _malformed(code: str, detail: str) -> ProblemError:
    return ProblemError.in_fields("malformed_json", [At(code, detail, "")])
