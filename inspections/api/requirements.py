"""What applies to an opening, or at a place: `/v1/…/requirements`, for judging offline."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

import rules
from doors.api.base import TenantView
from doors.api.library import FACTS
from doors.api.parsing import strict_object
from doors.api.problems import At, ProblemError
from doors.api.queries import date_parameter
from doors.clock import civil_date
from doors.errors import NotVisibleError
from doors.models import Jurisdiction
from doors.selectors.openings import opening_by_id
from doors.tenancy import current
from inspections.api.judgements import PlaceRequirementsOut, RequirementsOut
from inspections.selectors.requirements import Applicable, applicable, applicable_at
from rules.canonical import digest
from rules.model import RequirementSet

ON = OpenApiParameter("on", OpenApiTypes.DATE, description="A day; today where absent.")
WITH_FACTS = OpenApiParameter(
    "facts",
    {
        "type": "string",
        "contentMediaType": "application/json",
        "contentSchema": {"$ref": f"#/components/schemas/{FACTS}"},
    },
    description=(
        "Facts of a door, as one JSON object; without them each requirement that might apply "
        "is listed with the facts it is missing."
    ),
)


class RequirementsView(TenantView):
    """The requirements of one opening."""

    scope = "openings"
    parameters = {"get": (ON,)}

    @extend_schema(operation_id="read_requirements", responses=RequirementsOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read which requirements apply to an opening on a day, and where each is written.

        Keep the answer for judging offline: its ETag is made of `digest`, so that asking again
        is answered 304 while nothing changed. Send `digest` and `library_version` back with the
        visit as `judged_with`, and the answer says where the service judged otherwise.
        """
        opening = opening_by_id(opening_id)
        on = date_parameter(request, "on") or civil_date(current().now, opening.site.time_zone)
        found = applicable(opening, on)
        return _answer({"opening": opening.id}, found)


class PlaceRequirementsView(TenantView):
    """The requirements of one place."""

    scope = "jurisdictions"
    parameters = {"get": (ON, WITH_FACTS)}

    @extend_schema(operation_id="read_place_requirements", responses=PlaceRequirementsOut)
    def get(self, request: Request, code: str) -> Response:
        """Read which requirements apply at a place on a day, to any door or to one of given facts.

        The ETag is made of `digest`, so that asking again is answered 304 while nothing changed.
        """
        place = (
            Jurisdiction.objects.select_related("parent__parent__parent__parent")
            .filter(code=code)
            .first()
        )
        if place is None:
            raise NotVisibleError
        on = date_parameter(request, "on") or civil_date(current().now, place.time_zone)
        return _answer({"place": place.code}, applicable_at(place, on, _facts(request)))


def _facts(request: Request) -> dict[str, Any]:
    given = request.query_params.get("facts")
    if given is None:
        return {}
    try:
        facts = strict_object(given.encode("utf-8", "surrogatepass"))
    except ProblemError as error:
        wrong = [
            At(each.code, f"{each.pointer}: {each.detail}", parameter="facts")
            for each in error.errors
        ]
        raise ProblemError.in_fields("invalid_parameter", wrong) from error
    return facts


def _answer(what: dict[str, object], found: Applicable) -> Response:
    answer = what | {
        "on": found.on,
        "digest": found.requirements.digest,
        "library_version": rules.__version__,
        "basis": found.basis(),
        "requirements": _rows(found.requirements),
    }
    return Response(answer, headers={"ETag": f'W/"{found.requirements.digest}"'})


def _rows(requirements: RequirementSet) -> list[dict[str, Any]]:
    return [
        rules.requirement_json(item) | {"digest": digest([item])} for item in requirements.items
    ]
