"""Pages by key: each begins after the last row of the one before, whatever was added meanwhile.

Rows are compared by the whole order, so any number of equal first keys, and inserts under way,
neither repeat nor lose a row. A cursor is signed, and good only for the organization, list,
filters and order it was given for.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import reduce
from operator import attrgetter
from typing import Any, Generic, Protocol, TypeVar
from urllib.parse import urlencode
from uuid import UUID

from django.core import signing
from django.db.models import Field, Model, Q, QuerySet
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request

from doors.api.problems import At, ProblemError

DEFAULT_LIMIT = 50
MAX_LIMIT = 200

LIMIT = OpenApiParameter(
    "limit",
    {"type": "integer", "minimum": 1, "maximum": MAX_LIMIT, "default": DEFAULT_LIMIT},
    description="Rows on a page. A number out of range is refused, never clamped.",
)
CURSOR = OpenApiParameter(
    "cursor",
    {"type": "string", "minLength": 1},
    description="Where the page begins: taken from `next`, never made up.",
)
PARAMETERS = (LIMIT, CURSOR)


class Placed(Protocol):
    """An entry of a list that is merged from several tables."""

    @property
    def position(self) -> list[str]:
        """Where it stands in the whole order; no other entry stands there."""


Row = TypeVar("Row", bound=Model)
Entry = TypeVar("Entry", bound=Placed)
Listed = TypeVar("Listed")


@dataclass(frozen=True, slots=True)
class Page(Generic[Listed]):
    """The rows of one page, and the address of the next; None on the last."""

    rows: list[Listed]
    next_url: str | None


def read_page(
    request: Request, rows: QuerySet[Row], *, order: tuple[str, ...], organization_id: UUID
) -> Page[Row]:
    """Return the page of `rows` that the request asks for.

    `order` must name columns that are never null and end with a unique one.
    """
    limit = _limit(request)
    signer = _signer(request, order, organization_id)
    cursor = request.query_params.get("cursor")
    if cursor is not None:
        rows = rows.filter(_after(rows, order, _position(cursor, signer)))
    found = list(rows.order_by(*order)[: limit + 1])
    if len(found) <= limit:
        return Page(found, None)
    found = found[:limit]
    following = signer.sign_object([_text(value) for value in _values(found[-1], order)])
    return Page(found, _address(request, following))


def read_merged_page(
    request: Request,
    following: Callable[[list[str] | None, int], list[Entry]],
    *,
    organization_id: UUID,
) -> Page[Entry]:
    """Return the page that the request asks for of a list merged from several tables.

    `following` answers what comes after a position, or from the beginning, and how much at most.
    """
    limit = _limit(request)
    signer = _signer(request, ("merged",), organization_id)
    cursor = request.query_params.get("cursor")
    found = following(_position(cursor, signer) if cursor is not None else None, limit + 1)
    if len(found) <= limit:
        return Page(found, None)
    return Page(found[:limit], _address(request, signer.sign_object(found[limit - 1].position)))


def schema_of_page(rows: dict[str, object]) -> dict[str, object]:
    """Return the JSON Schema of a page whose `data` is `rows`."""
    return {
        "type": "object",
        "required": ["data", "next"],
        "properties": {
            "data": rows,
            "next": {
                "type": ["string", "null"],
                "format": "uri",
                "description": "The address of the next page; null on the last.",
            },
        },
    }


def _limit(request: Request) -> int:
    given = request.query_params.get("limit", str(DEFAULT_LIMIT))
    plain = given.isascii() and given.isdigit() and len(given) <= len(str(MAX_LIMIT))
    if not plain or not 1 <= int(given) <= MAX_LIMIT:
        raise ProblemError.in_fields(
            "invalid_parameter",
            [At("out_of_range", f"A whole number from 1 to {MAX_LIMIT}.", parameter="limit")],
        )
    return int(given)


def _signer(request: Request, order: tuple[str, ...], organization_id: UUID) -> signing.Signer:
    """Return the signer of this list's cursors: what they are bound to is part of its salt."""
    filters = sorted(
        (name, value)
        for name, values in request.query_params.lists()
        for value in values
        if name not in {LIMIT.name, CURSOR.name}
    )
    bound_to = [str(organization_id), request.path, filters, order]
    return signing.Signer(salt=f"{__name__}:{json.dumps(bound_to)}")


def _position(cursor: str, signer: signing.Signer) -> list[str]:
    try:
        position: list[str] = signer.unsign_object(cursor)
    except (signing.BadSignature, ValueError) as error:
        where = At("cursor_invalid", "This is no cursor of this list.", parameter="cursor")
        raise ProblemError.in_fields("cursor_invalid", [where]) from error
    return position


def _after(rows: QuerySet[Any], order: tuple[str, ...], position: Sequence[str]) -> Q:
    """Return the rows after `position` in `order`, each key in its own direction.

    (a, b) > (x, y) is written a >= x AND (a > x OR (a = x AND b > y)): the first part alone lets
    a database begin reading its index at the right place.
    """
    names = [key.removeprefix("-") for key in order]
    values = [
        _field(rows, name).to_python(text) for name, text in zip(names, position, strict=True)
    ]
    compare = ["lt" if key.startswith("-") else "gt" for key in order]
    alternatives = [
        Q(**dict(zip(names[:at], values, strict=False)), **{f"{name}__{compare[at]}": values[at]})
        for at, name in enumerate(names)
    ]
    anywhere_after = reduce(Q.__or__, alternatives)
    return Q(**{f"{names[0]}__{compare[0]}e": values[0]}) & anywhere_after


def _field(rows: QuerySet[Any], name: str) -> Field[Any, Any]:
    """Return the field that reads values of the order's key `name`, annotated or followed."""
    annotation = rows.query.annotations.get(name)
    if annotation is not None:
        output: Field[Any, Any] = annotation.output_field
        return output
    model: Any = rows.model
    *relations, last = name.split("__")
    for relation in relations:
        model = model._meta.get_field(relation).related_model
    found: Field[Any, Any] = model._meta.pk if last == "pk" else model._meta.get_field(last)
    return found


def _values(row: Model, order: tuple[str, ...]) -> list[object]:
    names = [key.removeprefix("-").replace("__", ".") for key in order]
    return [attrgetter(name)(row) for name in names]


def _text(value: object) -> str:
    """Return `value` so that its field reads the very same value back, microseconds included."""
    if value is None:
        raise ValueError("a list cannot be ordered by a column that is null")
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def _address(request: Request, cursor: str) -> str:
    query = [
        (name, value)
        for name, values in request.query_params.lists()
        for value in values
        if name != CURSOR.name
    ]
    return request.build_absolute_uri(f"{request.path}?{urlencode([*query, ('cursor', cursor)])}")
