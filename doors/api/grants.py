"""Grants: `/v1/grants`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, IdField, StrictSerializer, TextField
from doors.models import Capability, Grant
from doors.selectors.visible import visible
from doors.services.grants import GRANTABLE, end_grant, grant_leave

_ACTIONS = sorted(GRANTABLE)


class GrantIn(StrictSerializer):
    """Leave for another organization to act on your sites."""

    grantee = IdField(help_text="Id of the organization that is to act.")
    site = IdField(
        required=False, help_text="One site; where absent all your sites, also future ones."
    )
    actions = serializers.ListField(
        child=serializers.ChoiceField(choices=_ACTIONS),
        min_length=1,
        max_length=len(GRANTABLE),
        help_text=(
            "`read` (in each): the site, its openings, what is due and what is wrong. `history`:"
            " visits of others, readings, submittals. `plan`, `record`, `repair`. `submit`: with"
            " `history`, since a packet holds the whole record."
        ),
    )
    begins_on = CivilDateField()
    ends_on = CivilDateField(required=False, help_text="The first day without the leave.")
    reason = TextField(max_length=500, required=False)


class GrantEndIn(StrictSerializer):
    """The end of a grant."""

    ends_on = CivilDateField(help_text="The first day without the leave.")


class GrantOut(serializers.Serializer):
    """Leave given by an owner to another organization."""

    id = serializers.UUIDField()
    owner = serializers.CharField()
    grantee = serializers.UUIDField()
    site = serializers.UUIDField(allow_null=True)
    actions = serializers.ListField(child=serializers.ChoiceField(choices=_ACTIONS))
    begins_on = serializers.DateField()
    ends_on = serializers.DateField(allow_null=True)
    reason = serializers.CharField()


def grant_row(grant: Grant) -> dict[str, Any]:
    """A grant as the API gives it."""
    return {
        "id": grant.id,
        "owner": grant.owner_name,
        "grantee": grant.grantee_id,
        "site": grant.site_id,
        "actions": grant.actions,
        "begins_on": grant.begins_on,
        "ends_on": grant.ends_on,
        "reason": grant.reason,
    }


class GrantsView(TenantView):
    """Leave you gave, and leave you were given."""

    scope = "grants"
    capabilities = frozenset({Capability.OWNER})
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_grants", responses=GrantOut(many=True))
    def get(self, request: Request) -> Response:
        """List grants, newest first."""
        return self.page(Grant.objects.all(), order=("-created_at", "id"), row=grant_row)

    @extend_schema(operation_id="grant_leave", request=GrantIn, responses={201: GrantOut})
    def post(self, request: Request) -> Response:
        """Let an organization act on one of your sites, or on all."""
        body = GrantIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        grantee, site = fields.pop("grantee"), fields.pop("site", None)
        grant = grant_leave(grantee_id=grantee, site_id=site, **fields)
        return Response(grant_row(grant), status=201)


class GrantView(TenantView):
    """One grant."""

    scope = "grants"

    @extend_schema(operation_id="read_grant", responses=GrantOut)
    def get(self, request: Request, grant_id: UUID) -> Response:
        """Read a grant you gave or were given."""
        grant = visible(Grant.objects.filter(id=grant_id))
        return Response(grant_row(grant))


class GrantEndView(TenantView):
    """The end of one grant."""

    scope = "grants"
    capabilities = frozenset({Capability.OWNER})

    @extend_schema(operation_id="end_grant", request=GrantEndIn, responses=GrantOut)
    def post(self, request: Request, grant_id: UUID) -> Response:
        """End a grant you gave, from a day on."""
        body = GrantEndIn(data=request.data)
        body.is_valid(raise_exception=True)
        return Response(grant_row(end_grant(grant_id=grant_id, **body.validated_data)))
