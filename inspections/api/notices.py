"""Notices: `/v1/notices`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import StrictSerializer, TextField
from doors.api.queries import uuid_parameter
from doors.selectors.visible import visible
from inspections.models import Notice, Stage
from inspections.services.ladders import acknowledge_notice

THING = OpenApiParameter("thing", OpenApiTypes.UUID, description="Only about this thing.")

WORDS = {
    "waiting": "waiting",
    "claimed": "waiting",
    "sending": "sending",
    "done": "sent",
    "failed": "not_deliverable",
    "withdrawn": "withdrawn",
    "unknown": "unknown",
}


class NoticeOut(serializers.Serializer):
    """One message to one person of your organization."""

    id = serializers.UUIDField()
    person = serializers.CharField()
    channel = serializers.CharField()
    delivery = serializers.UUIDField(
        help_text="The message it goes out in, by itself or with others; its Message-ID holds this."
    )
    stage = serializers.ChoiceField(choices=Stage.choices)
    thing = serializers.UUIDField(help_text="The visit, duty or submittal it is about.")
    state = serializers.ChoiceField(choices=sorted(set(WORDS.values())))
    tries = serializers.IntegerField()
    problem = serializers.CharField()
    created_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)
    step = serializers.IntegerField(
        help_text="Which reminder: days before or after; of a failure, how far it had climbed."
    )
    acknowledged_at = serializers.DateTimeField(
        allow_null=True, help_text="When somebody said that they have seen it, UTC."
    )
    acknowledged_by = serializers.CharField(help_text="Who said so; empty before that.")


def notice_row(notice: Notice) -> dict[str, Any]:
    """A notice as the API gives it."""
    return {
        "id": notice.id,
        "person": notice.person.name,
        "channel": notice.channel,
        "delivery": notice.delivery_id,
        "stage": notice.stage,
        "thing": notice.thing,
        "state": WORDS[notice.state],
        "tries": notice.delivery.attempt,
        "problem": notice.problem,
        "created_at": notice.created_at,
        "ended_at": notice.ended_at,
        "step": notice.step,
        "acknowledged_at": notice.acknowledged_at,
        "acknowledged_by": notice.acknowledged_by,
    }


class NoticesView(TenantView):
    """What your people were told, or are about to be."""

    scope = "notices"
    parameters = {"get": (THING, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_notices", responses=NoticeOut(many=True))
    def get(self, request: Request) -> Response:
        """List notices, newest first."""
        rows = Notice.objects.select_related("person", "delivery")
        thing = uuid_parameter(request, "thing")
        if thing is not None:
            rows = rows.filter(thing=thing)
        return self.page(rows, order=("-created_at", "id"), row=notice_row)


class AcknowledgementIn(StrictSerializer):
    """That somebody has seen it."""

    by = TextField(required=False, help_text="Their name; whoever was told, where absent.")


class NoticeView(TenantView):
    """One notice to one of your people."""

    scope = "notices"

    @extend_schema(operation_id="read_notice", responses=NoticeOut)
    def get(self, request: Request, notice_id: UUID) -> Response:
        """Read one notice."""
        rows = Notice.objects.select_related("person", "delivery")
        return Response(notice_row(visible(rows.filter(id=notice_id))))


class AcknowledgementView(TenantView):
    """The acknowledgement of a notice."""

    scope = "notices"

    @extend_schema(
        operation_id="acknowledge_notice", request=AcknowledgementIn, responses=NoticeOut
    )
    def post(self, request: Request, notice_id: UUID) -> Response:
        """Say that somebody has seen it: a failure climbs no further."""
        body = AcknowledgementIn(data=request.data or {})
        body.is_valid(raise_exception=True)
        return Response(notice_row(acknowledge_notice(notice_id=notice_id, **body.validated_data)))
