"""One cause over many doors: `/v1/deficiency-groups`."""

from __future__ import annotations

from collections import Counter
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import IdField, ProseField, StrictSerializer, TextField
from doors.models import KEEPERS
from inspections.models import DeficiencyGroup
from inspections.selectors.deficiency_groups import group_by_id, groups_shown
from inspections.services.deficiency_groups import group_deficiencies


class DeficiencyGroupIn(StrictSerializer):
    """Deficiencies of one cause."""

    title = TextField(max_length=300)
    words = ProseField(max_length=4000, required=False)
    deficiencies = serializers.ListField(child=IdField(), min_length=1, max_length=1000)


class GroupMemberOut(serializers.Serializer):
    """One deficiency of a group; it is proven by itself."""

    id = serializers.UUIDField()
    opening = serializers.UUIDField()
    site = serializers.UUIDField()
    title = serializers.CharField()
    state = serializers.CharField()


class DeficiencyGroupOut(serializers.Serializer):
    """Deficiencies of one cause, of your own making and for your own eyes."""

    id = serializers.UUIDField()
    title = serializers.CharField()
    words = serializers.CharField()
    created_at = serializers.DateTimeField()
    counts = serializers.DictField(
        child=serializers.IntegerField(), help_text="Members in sight by state."
    )
    deficiencies = GroupMemberOut(many=True)


def group_row(group: DeficiencyGroup) -> dict[str, Any]:
    """A group as the API gives it, with its members in sight."""
    members = [member.deficiency for member in group.members.all()]
    return {
        "id": group.id,
        "title": group.title,
        "words": group.words,
        "created_at": group.created_at,
        "counts": dict(sorted(Counter(m.state for m in members).items())),
        "deficiencies": [
            {
                "id": m.id,
                "opening": m.opening_id,
                "site": m.site_id,
                "title": m.title,
                "state": m.state,
            }
            for m in members
        ],
    }


class DeficiencyGroupsView(TenantView):
    """Your groups of deficiencies of one cause."""

    scope = "deficiencies"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_deficiency_groups", responses=DeficiencyGroupOut(many=True))
    def get(self, request: Request) -> Response:
        """List your groups, the latest made first."""
        return self.page(groups_shown(), order=("-created_at", "id"), row=group_row)

    @extend_schema(
        operation_id="group_deficiencies",
        request=DeficiencyGroupIn,
        responses={201: DeficiencyGroupOut},
    )
    def post(self, request: Request) -> Response:
        """Put deficiencies of one cause together; no state of any of them depends on it."""
        body = DeficiencyGroupIn(data=request.data)
        body.is_valid(raise_exception=True)
        group = group_deficiencies(**body.validated_data)
        headers = {"Location": f"/v1/deficiency-groups/{group.id}"}
        return Response(group_row(group_by_id(group.id)), status=201, headers=headers)


class DeficiencyGroupView(TenantView):
    """One group."""

    scope = "deficiencies"

    @extend_schema(operation_id="read_deficiency_group", responses=DeficiencyGroupOut)
    def get(self, request: Request, group_id: UUID) -> Response:
        """Read one group with those of its deficiencies that you see."""
        return Response(group_row(group_by_id(group_id)))
