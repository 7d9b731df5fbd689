"""The body of a request: one strict JSON object, read by the rules library's own reader."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import IO, Any

from django.conf import settings
from rest_framework.parsers import BaseParser

from doors.api.problems import At, ProblemError
from rules.errors import InputError, escaped
from rules.strict_json import read_json

LARGEST_WITH_TRACES = 5_000_000  # bytes: 200,000 samples of 24 bytes, and all else
LARGEST_INTEGER = 2**53 - 1  # beyond it, a reader that knows doubles alone sees another number


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
        context = parser_context or {}
        request, view = context["request"], context["view"]
        if request.headers.get("Content-Encoding", "identity") != "identity":
            raise ProblemError("unsupported_media_type", "Send the body uncompressed.")
        limit = getattr(view, "largest_body", None) or settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        raw = stream.read(limit + 1)
        if len(raw) > limit:
            raise ProblemError("too_large", f"A JSON body holds at most {limit} bytes.")
        return strict_object(raw)


def strict_object(raw: bytes) -> dict[str, Any]:
    """Return the JSON object that `raw` is; raise `malformed_json` with every mistake in it."""
    try:
        found = read_json(raw)
    except InputError as error:
        mistakes = [At(each.code, each.message, each.pointer) for each in error.problems]
        raise ProblemError.in_fields("malformed_json", mistakes) from error
    if not isinstance(found, dict):
        wrong = At("not_an_object", "The body must be a JSON object.", "")
        raise ProblemError.in_fields("malformed_json", [wrong])
    if mistakes := list(_too_large(found, "")):
        raise ProblemError.in_fields("malformed_json", mistakes)
    return found


def _too_large(value: object, pointer: str) -> Iterator[At]:
    if isinstance(value, int) and abs(value) > LARGEST_INTEGER:
        yield At("out_of_range", f"Whole numbers go up to {LARGEST_INTEGER}.", pointer)
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _too_large(inner, f"{pointer}/{escaped(key)}")
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _too_large(inner, f"{pointer}/{index}")
