"""Notices: `/v1/notices`."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from inspections.models import Notice, Stage

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
    stage = serializers.ChoiceField(choices=Stage.choices)
    thing = serializers.UUIDField(help_text="The visit, duty or submittal it is about.")
    state = serializers.ChoiceField(choices=sorted(set(WORDS.values())))
    tries = serializers.IntegerField()
    problem = serializers.CharField()
    created_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)


def notice_row(notice: Notice) -> dict[str, Any]:
    """A notice as the API gives it."""
    return {
        "id": notice.id,
        "person": notice.person.name,
        "channel": notice.channel,
        "stage": notice.stage,
        "thing": notice.thing,
        "state": WORDS[notice.state],
        "tries": notice.delivery.attempt,
        "problem": notice.problem,
        "created_at": notice.created_at,
        "ended_at": notice.ended_at,
    }


class NoticesView(TenantView):
    """What your people were told, or are about to be."""

    scope = "notices"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_notices", responses=NoticeOut(many=True))
    def get(self, request: Request) -> Response:
        """List notices, newest first."""
        rows = Notice.objects.select_related("person", "delivery")
        return self.page(rows, order=("-created_at", "id"), row=notice_row)
