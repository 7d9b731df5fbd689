"""The query of a request, held against the parameters that the operation declares."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.http import QueryDict
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.request import Request

from doors.api.fields import CivilDateField, IdField, InstantField
from doors.api.problems import At, ProblemError


def check_query(query: QueryDict, declared: Sequence[OpenApiParameter]) -> None:
    """Refuse what is not declared, what is given twice, and a NUL, which no database keeps."""
    known = {each.name: each for each in declared}
    if unknown := sorted(set(query) - set(known)):
        among = f"It knows {', '.join(sorted(known))}." if known else "It knows none."
        raise ProblemError.in_fields(
            "unknown_parameter",
            [
                At("unknown_parameter", f"No parameter of this operation. {among}", parameter=name)
                for name in (each[:80] for each in unknown)
            ],
        )
    if wrong := list(_wrong(query, known)):
        raise ProblemError.in_fields("invalid_parameter", wrong)


def _wrong(query: QueryDict, known: dict[str, OpenApiParameter]) -> Iterator[At]:
    for name, values in query.lists():
        if len(values) > 1 and not known[name].many:
            yield At("given_twice", "Give this parameter once.", parameter=name)
        if any("\x00" in value for value in values):
            yield At("control_character", "A NUL cannot stand here.", parameter=name)
        allowed = known[name].enum
        if allowed and any(value not in allowed for value in values):
            among = ", ".join(str(each) for each in allowed)
            yield At("unknown_value", f"One of {among}.", parameter=name)


def parameter(request: Request, name: str, field: serializers.Field[Any, Any, Any, Any]) -> Any:
    """Return what `field` makes of the parameter `name`; None when it is absent."""
    given = request.query_params.get(name)
    if given is None:
        return None
    try:
        return field.run_validation(given)
    except ValidationError as error:
        details = cast("list[ErrorDetail]", error.detail)
        wrong = [At(each.code or "invalid", str(each), parameter=name) for each in details]
        raise ProblemError.in_fields("invalid_parameter", wrong) from error


def uuid_parameter(request: Request, name: str) -> UUID | None:
    """Return the id given as parameter `name`; None when it is absent."""
    return cast("UUID | None", parameter(request, name, IdField()))


def date_parameter(request: Request, name: str) -> date | None:
    """Return the civil date given as parameter `name`; None when it is absent."""
    return cast("date | None", parameter(request, name, CivilDateField()))


def instant_parameter(request: Request, name: str) -> datetime | None:
    """Return the instant given as parameter `name`; None when it is absent."""
    found = parameter(request, name, InstantField())
    return found.at if found is not None else None
