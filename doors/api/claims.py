"""Claims: `POST /v1/claims`."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.fields import StrictSerializer, TextField
from doors.api.organizations import OrganizationOut, organization_row
from doors.models import Capability
from doors.services.merges import claim_organization


class ClaimIn(StrictSerializer):
    """The token of an invitation to claim an owner."""

    token = TextField(max_length=100, help_text="As it was mailed; it is used up by this.")


class ClaimsView(TenantView):
    """What was made for you by others, taken into your own hands."""

    scope = "claims"
    capabilities = frozenset({Capability.OWNER})

    @extend_schema(
        operation_id="claim_organization", request=ClaimIn, responses={201: OrganizationOut}
    )
    def post(self, request: Request) -> Response:
        """Merge the owner that the token opens into your organization.

        Its sites are in your custody from the day they were in its own, with their whole record;
        whoever made it goes on working there by a leave that you may end. What remains of it is
        an alias: its id leads to you for ever.
        """
        body = ClaimIn(data=request.data)
        body.is_valid(raise_exception=True)
        alias = claim_organization(token=body.validated_data["token"])
        location = f"/v1/organizations/{alias.id}"
        return Response(organization_row(alias), status=201, headers={"Location": location})
