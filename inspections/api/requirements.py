"""What applies to an opening: `/v1/openings/{id}/requirements`."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

import rules
from doors.api.base import TenantView
from doors.api.queries import date_parameter
from doors.clock import civil_date
from doors.selectors.openings import opening_by_id
from doors.tenancy import current
from inspections.api.judgements import RequirementsOut
from inspections.selectors.requirements import applicable

ON = OpenApiParameter("on", OpenApiTypes.DATE, description="A day; today where absent.")


class RequirementsView(TenantView):
    """The requirements of one opening."""

    scope = "openings"
    parameters = {"get": (ON,)}

    @extend_schema(operation_id="read_requirements", responses=RequirementsOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read which requirements apply on a day, and where each is written."""
        opening = opening_by_id(opening_id)
        today = civil_date(current().now, opening.site.time_zone)
        on = date_parameter(request, "on") or today
        found = applicable(opening, on).requirements
        return Response(
            {
                "opening": opening.id,
                "on": on,
                "digest": found.digest,
                "library_version": rules.__version__,
                "requirements": [rules.requirement_json(item) for item in found.items],
            }
        )
