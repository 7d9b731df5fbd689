"""The ledger: `/v1/ledger`."""

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
from doors.api.queries import uuid_parameter
from doors.models import LedgerEntry, Organization
from doors.selectors.visible import visible
from doors.services.ledger import verify_ledger
from doors.tenancy import acting_organization


class LedgerEntryOut(serializers.Serializer):
    """One thing that happened; SHA-256 of `body` in UTF-8 is `entry_sha256`."""

    position = serializers.IntegerField()
    kind = serializers.CharField()
    body = serializers.CharField(help_text="Canonical JSON by RFC 8785.")
    entry_sha256 = serializers.CharField()
    recorded_at = serializers.DateTimeField()


class LedgerVerificationOut(serializers.Serializer):
    """What checking the whole chain found."""

    entries = serializers.IntegerField()
    intact = serializers.BooleanField()
    first_fault = serializers.CharField(allow_null=True)


def entry_row(entry: LedgerEntry) -> dict[str, Any]:
    """A ledger entry as the API gives it."""
    return {
        "position": entry.position,
        "kind": entry.kind,
        "body": entry.body,
        "entry_sha256": entry.entry_sha256,
        "recorded_at": entry.recorded_at,
    }


ORGANIZATION = OpenApiParameter(
    "organization",
    OpenApiTypes.UUID,
    description="One that was merged into yours: the chain that it left, instead of your own.",
)


def chain_asked_for(request: Request) -> UUID:
    """Whose chain is asked for: one's own, or that of an organization one took over."""
    asked, own = uuid_parameter(request, "organization"), acting_organization()
    if asked is None or asked == own:
        return own
    return visible(Organization.objects.filter(id=asked, merged_into_id=own)).id


class LedgerView(TenantView):
    """Everything that happened under your custody, in order."""

    scope = "ledger"
    parameters = {"get": (ORGANIZATION, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_ledger", responses=LedgerEntryOut(many=True))
    def get(self, request: Request) -> Response:
        """List your chain, or that of an organization merged into yours, from its first entry."""
        chain = LedgerEntry.objects.filter(organization_id=chain_asked_for(request))
        return self.page(chain, order=("position", "id"), row=entry_row)


class LedgerVerificationView(TenantView):
    """The chain checked by the service; check it yourself from the entries as well."""

    scope = "ledger"
    parameters = {"get": (ORGANIZATION,)}

    @extend_schema(operation_id="verify_ledger", responses=LedgerVerificationOut)
    def get(self, request: Request) -> Response:
        """Check your chain from its first entry to its head."""
        entries, fault = verify_ledger(chain_asked_for(request))
        first = f"entry {fault.position}: {fault.why}" if fault else None
        return Response({"entries": entries, "intact": fault is None, "first_fault": first})
