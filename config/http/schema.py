"""How the views become the OpenAPI document: nothing in it is written twice.

Query parameters come from where the views check them, the Idempotency-Key from the decorator that
asks for it, and the problems from the table that the error handler uses.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from drf_spectacular.extensions import (
    OpenApiSerializerExtension,
    OpenApiSerializerFieldExtension,
)
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import get_doc
from drf_spectacular.utils import OpenApiParameter

from config.http.security import KEY
from doors.api.base import TenantView
from doors.api.deprecations import DEPRECATED, SUNSET, Deprecation
from doors.api.etags import CONDITIONAL
from doors.api.paging import CURSOR, schema_of_page
from doors.api.problems import MEDIA_TYPE, PROBLEMS, ProblemType, document
from doors.api.replays import HEADER as IDEMPOTENCY_KEY
from doors.api.replays import KEY_PATTERN, REPLAYED, idempotency_of

SUCCESS = ["200", "201", "202"]
ALWAYS = (400, 401, 403, 406, 429, 431, 500, 503)
FOR_KEYS = (401, 403)
WITH_BODY = (404, 409, 413, 415, 422)
WITH_ID = (404,)

_NEXT = OpenApiParameter(
    "Link",
    str,
    location=OpenApiParameter.HEADER,
    response=["200"],
    description='The next page, as `<address>; rel="next"`; absent on the last.',
)
_ETAG = OpenApiParameter(
    "ETag",
    str,
    location=OpenApiParameter.HEADER,
    response=["200", "201"],
    description='Which state of the thing this is: `"v<version>"`, or the digest of the body.',
)
_DEPRECATED = OpenApiParameter(
    DEPRECATED,
    str,
    location=OpenApiParameter.HEADER,
    response=SUCCESS,
    description="Since when this should no longer be used, as `@<seconds since 1970>` (RFC 9745).",
)
_SUNSET = OpenApiParameter(
    SUNSET,
    str,
    location=OpenApiParameter.HEADER,
    response=SUCCESS,
    description="When this ends, as an HTTP date (RFC 8594), where that is fixed.",
)
_IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    location=OpenApiParameter.HEADER,
    required=True,
    description="The ETag of the version you have read, or several; `*` admits any.",
)
_IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    str,
    location=OpenApiParameter.HEADER,
    description="The ETag of what you have: where it still holds, the answer is 304.",
)
_REPLAYED = OpenApiParameter(
    REPLAYED,
    {"type": "string", "const": "true"},
    location=OpenApiParameter.HEADER,
    response=SUCCESS,
    description="Stands where this is the kept answer to an earlier, equal request.",
)


class TextExtension(OpenApiSerializerFieldExtension):
    """How a text field of ours is described: with the lengths it takes."""

    target_class = "doors.api.fields.TextField"
    match_subclasses = True

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, object]:
        """Return the schema of the field."""
        least = 0 if self.target.allow_blank else 1
        return {"type": "string", "minLength": least, "maxLength": self.target.max_length}


class StrictExtension(OpenApiSerializerExtension):
    """How a body of ours is described: it takes no other field."""

    target_class = "doors.api.fields.StrictSerializer"
    match_subclasses = True

    def map_serializer(self, auto_schema: AutoSchema, direction: str) -> dict[str, object]:
        """Return the schema of the object."""
        found: dict[str, object] = auto_schema._map_serializer(  # noqa: SLF001 (as documented)
            self.target, direction, bypass_extensions=True
        )
        return found | {"additionalProperties": False}


class OperationSchema(AutoSchema):
    """Describes one operation of a `TenantView`."""

    def get_override_parameters(self) -> list[Any]:
        """Return what the view declares and what its manners add."""
        parameters = list(self._declared())
        if self._is_page():
            parameters.append(_NEXT)
        parameters += self._conditions()
        if self.is_deprecated():
            parameters += [_DEPRECATED, _SUNSET]
        idempotency = idempotency_of(self._handler())
        if idempotency is not None:
            parameters += [_idempotency_key(required=idempotency == "required"), _REPLAYED]
        return parameters

    def get_summary(self) -> str:
        """Return the first line of the handler's docstring, without its full stop."""
        return get_doc(self._handler()).partition("\n")[0].strip().removesuffix(".")

    def get_description(self) -> str:  # type: ignore[override]  # as the generator has it
        """Return the rest of the docstring, or of the view's where the handler has no more."""
        rest = get_doc(self._handler()).partition("\n")[2].strip()
        return rest or get_doc(type(self.view))

    def _conditions(self) -> Iterator[OpenApiParameter]:
        if not isinstance(self.view, TenantView):
            return
        if self.method in CONDITIONAL:
            yield from (_IF_MATCH, _ETAG)
        elif self.method == "GET":
            yield from (_IF_NONE_MATCH, _ETAG)

    def is_deprecated(self) -> bool:
        """Tell whether the view says that the method is to end."""
        return self._ending() is not None

    def _ending(self) -> Deprecation | None:
        declared: Mapping[str, Deprecation] = getattr(self.view, "deprecations", {})
        return declared.get(self.method.lower())

    def _handler(self) -> object:
        return getattr(self.view, self.method.lower(), None)  # a webhook has no view

    def _declared(self) -> tuple[OpenApiParameter, ...]:
        return tuple(getattr(self.view, "parameters", {}).get(self.method.lower(), ()))

    def _is_page(self) -> bool:
        return CURSOR in self._declared()

    def _get_paginator(self) -> _Keyset | None:
        return _Keyset() if self._is_page() else None

    def _get_pagination_parameters(self) -> list[dict[str, Any]]:
        return []  # they stand among the declared ones


class _Keyset:
    """What the generator asks of a paginator: the shape of a page."""

    def get_paginated_response_schema(self, schema: dict[str, object]) -> dict[str, object]:
        """Return the schema of a page of `schema`."""
        return schema_of_page(schema)


def add_problems(
    result: dict[str, Any], generator: SchemaGenerator, request: object, **_public: bool
) -> dict[str, Any]:
    """Give each operation the problems it may answer with (a hook of the generator)."""
    components = result.setdefault("components", {})
    components.setdefault("schemas", {})["Problem"] = _problem_schema()
    components["responses"] = {f"Problem{status}": _response(status) for status in _statuses()}
    for path, operations in result["paths"].items():
        for method, operation in operations.items():
            if "If-None-Match" in {each["name"] for each in operation.get("parameters", ())}:
                operation["responses"]["304"] = {"description": "It is what you have."}
            for status in sorted(_possible(path, method, operation)):
                reference = {"$ref": f"#/components/responses/Problem{status}"}
                operation["responses"].setdefault(str(status), reference)
    return result


def _possible(path: str, method: str, operation: dict[str, Any]) -> set[int]:
    found = set(ALWAYS)
    if KEY not in operation.get("security", ()):
        found -= set(FOR_KEYS)
    if "requestBody" in operation:
        found |= set(WITH_BODY)
    sent = {each["name"] for each in operation.get("parameters", ())}
    if "{" in path or "organization" in sent:
        found |= set(WITH_ID)
    if method != "get" or "facts" in sent:
        found |= {409, 422}
    if "If-Match" in sent:
        found |= {412, 428}
    return found


def _statuses() -> list[int]:
    return sorted({problem.status for problem in PROBLEMS.values()})


def _response(status: int) -> dict[str, Any]:
    kinds = [problem for problem in PROBLEMS.values() if problem.status == status]
    return {
        "description": "\n".join(f"- `{kind.code}`: {kind.title}." for kind in kinds),
        "headers": dict(_headers(status)),
        "content": {
            MEDIA_TYPE: {
                "schema": {"$ref": "#/components/schemas/Problem"},
                "examples": {kind.code: {"value": _example(kind)} for kind in kinds},
            }
        },
    }


def _headers(status: int) -> Iterator[tuple[str, dict[str, Any]]]:
    text = {"schema": {"type": "string"}}
    if status == 401:  # noqa: PLR2004
        yield "WWW-Authenticate", {"description": "The scheme that is asked for.", **text}
    if status in (429, 503):
        yield "Retry-After", {"description": "Seconds to wait.", "schema": {"type": "integer"}}


def _example(kind: ProblemType) -> dict[str, object]:
    return document(
        kind, kind.explanation, instance="urn:uuid:0b0e2f0c-7a1c-4d0f-8f3e-2a64f0c1d9b7"
    )


def _problem_schema() -> dict[str, Any]:
    text = {"type": "string"}
    error = {
        "type": "object",
        "required": ["code", "detail"],
        "properties": {
            "pointer": {**text, "description": "JSON Pointer into the body; empty: the body."},
            "parameter": {**text, "description": "Name of the query parameter."},
            "code": {**text, "description": "Which mistake; the list may grow."},
            "detail": {**text, "description": "The mistake in words."},
        },
    }
    return {
        "type": "object",
        "description": "An error, by RFC 9457.",
        "required": ["type", "title", "status", "detail", "instance", "code", "errors"],
        "properties": {
            "type": {**text, "format": "uri-reference", "description": "Its page, in words."},
            "title": {**text, "description": "What this kind of problem is called."},
            "status": {"type": "integer"},
            "detail": {**text, "description": "What is wrong with this very request, in words."},
            "instance": {**text, "format": "uri", "description": "The id of the request."},
            "code": {**text, "description": "Which problem; stable, and the list may grow."},
            "errors": {"type": "array", "items": error},
        },
    }


def _idempotency_key(*, required: bool) -> OpenApiParameter:
    return OpenApiParameter(
        IDEMPOTENCY_KEY,
        {"type": "string", "pattern": KEY_PATTERN},
        location=OpenApiParameter.HEADER,
        required=required,
        description=(
            "A value of your own, new for each thing and the same for each repetition, as a "
            "quoted string or a bare word. The answer is kept for seven days."
        ),
    )
