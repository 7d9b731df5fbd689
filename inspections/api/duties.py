"""Duties: `/v1/duties`, and the same as a calendar."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, StrictSerializer, TextField
from doors.api.openings import SITE
from doors.api.queries import parameter, uuid_parameter
from doors.clock import civil_date
from doors.selectors.organizations import acting_party
from doors.selectors.sandboxes import working_now
from doors.selectors.visible import visible
from doors.tenancy import current
from inspections.channels.calendar import calendar_of
from inspections.models import Activity, Duty
from inspections.selectors.duties import (
    STATES,
    duties_shown,
    duty_state,
    plan_of,
    planned_by,
    running_duties,
)
from inspections.services.plans import plan_duty

ASKED = (
    SITE,
    OpenApiParameter("due_from", OpenApiTypes.DATE, description="Only those due from this day on."),
    OpenApiParameter("due_until", OpenApiTypes.DATE, description="Only those due by this day."),
    OpenApiParameter("planned_by", str, description="Only those planned with this firm or person."),
)


class PlanOut(serializers.Serializer):
    """For which day a duty is planned, and with whom."""

    planned_on = serializers.DateField(help_text="The day, by the calendar of the site.")
    by = serializers.CharField(help_text="The firm or person who is to do it.")
    author = serializers.CharField()
    recorded_at = serializers.DateTimeField()


class PlanIn(StrictSerializer):
    """For which day a duty is planned, and with whom."""

    planned_on = CivilDateField(
        allow_null=True, help_text="The day, at the site; null takes the plan back."
    )
    by = TextField(required=False, help_text="The firm or person who is to do it.")


class DutyOut(serializers.Serializer):
    """An activity owed on an opening, with its window and where that is written."""

    id = serializers.UUIDField()
    opening = serializers.UUIDField()
    site = serializers.UUIDField()
    requirement = serializers.CharField()
    activity = serializers.ChoiceField(choices=Activity.choices)
    opens_on = serializers.DateField()
    due_on = serializers.DateField()
    closes_on = serializers.DateField(help_text="The last day; overdue from the day after.")
    state = serializers.ChoiceField(choices=STATES)
    reason = serializers.CharField(
        help_text="Why it is suspended: `out_of_service`, or `fact_missing:` and the facts that "
        "would tell whether it applies at all; empty in every other state."
    )
    last_visit = serializers.UUIDField(allow_null=True)
    last_reported_visit = serializers.UUIDField(
        allow_null=True,
        help_text="The reported visit that met it last, where the owner lets such visits count.",
    )
    citation = serializers.DictField(help_text="Where the requirement is written.")
    adopted_by = serializers.DictField(
        allow_null=True, help_text="By which text its place adopted it, where one did."
    )
    adoption = serializers.ChoiceField(
        choices=["recorded", "not_recorded"],
        help_text="not_recorded: a model text, applied as reference.",
    )
    layer = serializers.CharField(help_text="Who set it: a place, or the door's instructions.")
    plan = PlanOut(allow_null=True, help_text="What is planned; null where nothing is.")
    version = serializers.IntegerField()


def duty_row(duty: Duty, *, now: datetime) -> dict[str, Any]:
    """A duty as the API gives it, with its state on that day at the site."""
    today, plan = civil_date(now, duty.opening.site.time_zone), plan_of(duty)
    return {
        "id": duty.id,
        "opening": duty.opening_id,
        "site": duty.site_id,
        "requirement": duty.requirement,
        "activity": duty.activity,
        "opens_on": duty.opens_on,
        "due_on": duty.due_on,
        "closes_on": duty.closes_on,
        "state": duty_state(duty, today),
        "reason": duty.reason,
        "last_visit": duty.last_visit_id,
        "last_reported_visit": duty.last_reported_visit_id,
        "citation": duty.citation,
        "adopted_by": duty.adopted_by,
        "adoption": duty.adoption,
        "layer": duty.layer,
        "plan": plan
        and {
            "planned_on": plan.planned_on,
            "by": plan.by,
            "author": plan.author_name,
            "recorded_at": plan.recorded_at,
        },
        "version": duty.version,
    }


def _asked_for(request: Request, rows: QuerySet[Duty]) -> QuerySet[Duty]:
    """Those of the site, week and firm that were asked for."""
    wanted = {
        "site_id": uuid_parameter(request, "site"),
        "due_on__gte": parameter(request, "due_from", CivilDateField()),
        "due_on__lte": parameter(request, "due_until", CivilDateField()),
    }
    rows = rows.filter(**{name: value for name, value in wanted.items() if value is not None})
    by = parameter(request, "planned_by", TextField())
    return rows if by is None else planned_by(rows, by)


class DutiesView(TenantView):
    """What is owed on the openings in sight."""

    scope = "duties"
    parameters = {"get": (*ASKED, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_duties", responses=DutyOut(many=True))
    def get(self, request: Request) -> Response:
        """List duties, the earliest due first."""
        rows = _asked_for(request, duties_shown())
        return self.page(rows, order=("due_on", "id"), row=partial(duty_row, now=working_now()))


class DutyView(TenantView):
    """One duty."""

    scope = "duties"

    @extend_schema(operation_id="read_duty", responses=DutyOut)
    def get(self, request: Request, duty_id: UUID) -> Response:
        """Read one duty."""
        return Response(duty_row(visible(duties_shown().filter(id=duty_id)), now=working_now()))


class DutyPlanView(TenantView):
    """The plan of a duty."""

    scope = "duties"

    @extend_schema(operation_id="plan_duty", request=PlanIn, responses=DutyOut)
    def post(self, request: Request, duty_id: UUID) -> Response:
        """Say on which day a duty is to be met and by whom. A plan moves no date."""
        body = PlanIn(data=request.data)
        body.is_valid(raise_exception=True)
        plan_duty(duty_id=duty_id, **body.validated_data)
        return Response(duty_row(visible(duties_shown().filter(id=duty_id)), now=working_now()))


class DutyCalendarView(TenantView):
    """What is owed, for a calendar program."""

    scope = "duties"
    media_types = ("text/calendar",)
    parameters = {"get": ASKED}

    @extend_schema(
        operation_id="read_duty_calendar",
        responses={(200, "text/calendar"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request) -> HttpResponse:
        """Read the running duties as a calendar by RFC 5545."""
        name = acting_party().name
        running = _asked_for(request, running_duties())
        duties = running.order_by("due_on", "id").iterator(chunk_size=500)
        content = calendar_of(duties, name=f"Fire doors: {name}", now=current().now)
        response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
        response["Content-Disposition"] = 'attachment; filename="duties.ics"'
        return response
