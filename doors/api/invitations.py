"""Invitations: `/v1/organizations/{id}/invitations`, `/v1/invitations/{id}/withdrawal`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import EmailField, StrictSerializer
from doors.models import Invitation, Role
from doors.selectors.organizations import organization_by_id
from doors.services.invitations import invite, withdraw_invitation
from doors.tenancy import acting_organization, current


class InvitationIn(StrictSerializer):
    """Whom to invite."""

    email = EmailField(help_text="Where the invitation is mailed; the account will bear it.")
    role = serializers.ChoiceField(
        choices=Role.choices,
        required=False,
        help_text="As what they join your organization; absent where they are to claim an owner.",
    )


class InvitationOut(serializers.Serializer):
    """An invitation, without its token."""

    id = serializers.UUIDField(help_text="Its id.")
    organization = serializers.UUIDField(help_text="Id of the organization it lets in to.")
    email = serializers.CharField(help_text="Where it is mailed.")
    role = serializers.ChoiceField(choices=Role.choices, help_text="As what they will act there.")
    state = serializers.ChoiceField(
        choices=["open", "used", "withdrawn", "expired"],
        help_text="Open until it is used or withdrawn, for 14 days at most.",
    )
    created_at = serializers.DateTimeField(help_text="When it was made, UTC.")
    expires_at = serializers.DateTimeField(help_text="Until when it can be used, UTC.")
    sent_at = serializers.DateTimeField(
        allow_null=True, help_text="When the mail server took it, UTC; null = not yet."
    )


class InvitationMadeOut(InvitationOut):
    """An invitation with its token, this once."""

    token = serializers.CharField(help_text="Shown this once and kept as a digest; used once.")


def invitation_row(invitation: Invitation) -> dict[str, Any]:
    """An invitation as the API gives it."""
    return {
        "id": invitation.id,
        "organization": invitation.to_claim_id or invitation.organization_id,
        "email": invitation.email,
        "role": invitation.role,
        "state": _state(invitation),
        "created_at": invitation.created_at,
        "expires_at": invitation.expires_at,
        "sent_at": invitation.sent_at,
    }


def _state(invitation: Invitation) -> str:
    if invitation.used_at is not None:
        return "used"
    if invitation.withdrawn_at is not None:
        return "withdrawn"
    return "open" if invitation.expires_at > current().now else "expired"


class InvitationsView(TenantView):
    """Invitations to your organization, or to an owner you made."""

    scope = "invitations"
    parameters = {"get": paging.PARAMETERS}
    budgets = {"post": "invitations"}

    @extend_schema(operation_id="list_invitations", responses=InvitationOut(many=True))
    def get(self, request: Request, organization_id: UUID) -> Response:
        """List your invitations to an organization, newest first."""
        target = organization_by_id(organization_id)
        own = target.id == acting_organization()
        rows = Invitation.objects.filter(to_claim=None if own else target)
        return self.page(rows, order=("-created_at", "id"), row=invitation_row)

    @extend_schema(operation_id="invite", request=InvitationIn, responses={201: InvitationMadeOut})
    def post(self, request: Request, organization_id: UUID) -> Response:
        """Invite somebody by mail.

        To your own organization, in a role that reaches no further than your key; or to an owner
        you made, whom they then claim as its administrator.
        """
        body = InvitationIn(data=request.data)
        body.is_valid(raise_exception=True)
        sent = body.validated_data
        invitation, token = invite(
            organization_id=organization_id,
            email=sent["email"],
            role=sent.get("role"),
            reach=self.key.scopes,
        )
        return Response({**invitation_row(invitation), "token": token}, status=201)


class InvitationWithdrawalView(TenantView):
    """The withdrawal of an invitation."""

    scope = "invitations"

    @extend_schema(operation_id="withdraw_invitation", request=None, responses=InvitationOut)
    def post(self, request: Request, invitation_id: UUID) -> Response:
        """Make an invitation worthless that nobody has used."""
        return Response(invitation_row(withdraw_invitation(invitation_id=invitation_id)))
