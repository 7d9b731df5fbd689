"""The form of a visit: `/v1/openings/{id}/visit-plan`."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.devices import BatteryOut, DeviceOut, battery_row, device_row
from doors.api.library import PLAN, LibraryObject
from doors.api.problems import At, ProblemError
from doors.api.queries import date_parameter
from doors.clock import civil_date
from doors.selectors.openings import opening_by_id
from doors.tenancy import current
from inspections.api.deficiency_shapes import MissingOut
from inspections.api.findings import InitiatingOut
from inspections.api.requirements import ON
from inspections.models import Activity
from inspections.selectors.visit_plans import visit_plan

ACTIVITY = OpenApiParameter(
    "activity", str, required=True, enum=Activity.values, description="What the visit is for."
)


class PlannedOpeningOut(serializers.Serializer):
    """The door, as it is called on that day."""

    id = serializers.UUIDField(help_text="Its id.")
    site = serializers.UUIDField(help_text="Id of its site.")
    tag = serializers.CharField(help_text="The tag it bears on that day.")
    location = serializers.CharField(help_text="Where it is.")
    floor = serializers.CharField(help_text="On which floor; may be empty.")
    door_type = serializers.CharField()


class PlannedDeficiencyOut(serializers.Serializer):
    """Something that stands wrong at the door."""

    id = serializers.UUIDField(help_text="Its id.")
    subject = serializers.CharField(help_text="What was looked at.")
    requirements = serializers.ListField(child=serializers.CharField(), help_text="Ids failed.")
    title = serializers.CharField(help_text="Of the first requirement that it failed.")
    words = serializers.CharField(help_text="What was found, in words.")
    state = serializers.CharField(help_text="`open` or `repaired`.")
    opened_at = serializers.DateTimeField(help_text="When it was found: RFC 3339, UTC.")
    retest = serializers.ListField(
        child=serializers.DictField(),
        help_text="What a retest covers, each with why; a repaired part may add to it.",
    )
    retest_missing = MissingOut(
        many=True, help_text="What is still to be shown, the repaired parts considered."
    )


class LastReadingOut(serializers.Serializer):
    """What was measured here last, so that a slip of the unit is noticed at the door."""

    quantity = serializers.CharField(help_text="Which quantity.")
    value = serializers.CharField(help_text="As it was sent.")
    unit = serializers.CharField(help_text="Its unit.")
    visit = serializers.UUIDField(help_text="Id of the visit that took it.")
    on = serializers.DateField(help_text="The day of that visit, at the site.")


class VisitPlanOut(serializers.Serializer):
    """The form of one visit."""

    opening = PlannedOpeningOut(help_text="The door.")
    on = serializers.DateField(help_text="The day, at the site.")
    digest = serializers.CharField(help_text="Of the requirements: send it with `judged_with`.")
    library_version = serializers.CharField(help_text="Of the rules library.")
    plan = LibraryObject(
        PLAN,
        help_text=(
            "In the order of the visit: cautions first, then what to look at, to measure and to "
            "run, each with its limit and where that is written; what to write down."
        ),
    )
    listed_instructions = serializers.ListField(
        child=serializers.DictField(), help_text="The door's own, as they are on file."
    )
    devices = DeviceOut(many=True, help_text="In place on that day.")
    batteries = BatteryOut(many=True, help_text="In place on that day.")
    initiating_devices = InitiatingOut(
        many=True, help_text="What sets this door in motion, and which doors move with it."
    )
    deficiencies = PlannedDeficiencyOut(many=True, help_text="What stands wrong now.")
    last_readings = LastReadingOut(many=True, help_text="The last one of each quantity.")


class VisitPlanView(TenantView):
    """What to do at one door."""

    scope = "openings"
    parameters = {"get": (ACTIVITY, ON)}

    @extend_schema(operation_id="read_visit_plan", responses=VisitPlanOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read the form of a visit to an opening: enough to build an app's screens from.

        Read the cautions first. Asking again with the ETag is answered 304 while nothing changed.
        The local code, the authority having jurisdiction and licensed practice decide. With the
        visit send `sent_at`, what the device's clock shows as it sends: a clock that is wrong may
        move the day of the visit, and with it what falls due next.
        """
        activity = request.query_params.get("activity")
        if activity is None:
            missing = At("required", "Say what the visit is for.", parameter="activity")
            raise ProblemError.in_fields("invalid_parameter", [missing])
        opening = opening_by_id(opening_id)
        on = date_parameter(request, "on") or civil_date(current().now, opening.site.time_zone)
        found = visit_plan(opening, on, activity)
        return Response(
            found
            | {
                "devices": [device_row(each) for each in found["devices"]],
                "batteries": [battery_row(each) for each in found["batteries"]],
            }
        )
