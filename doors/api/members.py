"""Members of your organization: `/v1/members`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.patches import Patch, read_patch
from doors.models import ROLES, Member, Role
from doors.selectors.members import member_by_id, members
from doors.services.members import change_role, end_member

_ROLE = "What they are trusted with."


class MemberPatch(Patch):
    """What may change about a member."""

    role = serializers.ChoiceField(choices=Role.choices, help_text=_ROLE)


class MemberOut(serializers.Serializer):
    """A human who signs in for your organization."""

    id = serializers.UUIDField(help_text="Id of the membership.")
    person = serializers.UUIDField(help_text="Id of the person in your records.")
    name = serializers.CharField(help_text="The person's name.")
    email = serializers.CharField(help_text="The address they sign in with.")
    role = serializers.ChoiceField(choices=Role.choices, help_text=_ROLE)
    scopes = serializers.ListField(
        child=serializers.CharField(), help_text="What the role lets them do."
    )
    begins_at = serializers.DateTimeField(help_text="Since when, UTC.")
    ends_at = serializers.DateTimeField(
        allow_null=True, help_text="When it ended, UTC; null = it stands."
    )
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


def member_row(member: Member) -> dict[str, Any]:
    """A member as the API gives it."""
    return {
        "id": member.id,
        "person": member.person_id,
        "name": member.person.name,
        "email": member.account.email,
        "role": member.role,
        "scopes": sorted(ROLES[member.role]),
        "begins_at": member.begins_at,
        "ends_at": member.ends_at,
        "version": member.version,
    }


class MembersView(TenantView):
    """Who signs in for your organization; a member comes by invitation."""

    scope = "members"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_members", responses=MemberOut(many=True))
    def get(self, request: Request) -> Response:
        """List members, also those whose time has ended, newest first."""
        return self.page(members(), order=("-begins_at", "id"), row=member_row)


class MemberView(TenantView):
    """One member of your organization."""

    scope = "members"

    @extend_schema(operation_id="read_member", responses=MemberOut)
    def get(self, request: Request, member_id: UUID) -> Response:
        """Read one member."""
        return tagged(member_row(member_by_id(member_id)))

    @extend_schema(operation_id="change_role", request=MemberPatch, responses=MemberOut)
    def patch(self, request: Request, member_id: UUID) -> Response:
        """Give a member another role, neither it nor the old one reaching further than you."""
        changed = read_patch(MemberPatch, request)
        role = changed.get("role") or member_by_id(member_id).role
        member = change_role(
            member_id=member_id, role=role, reach=self.key.scopes, expected=self.expected
        )
        return tagged(member_row(member))


class MemberEndView(TenantView):
    """The end of a membership."""

    scope = "members"

    @extend_schema(operation_id="end_member", request=None, responses=MemberOut)
    def post(self, request: Request, member_id: UUID) -> Response:
        """End a membership: the next request of its pages and keys is refused."""
        return tagged(member_row(end_member(member_id=member_id, reach=self.key.scopes)))
