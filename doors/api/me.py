"""Who asks: `GET /v1/me`."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.models import Capability


class MeOut(serializers.Serializer):
    """The key that asks, and the organization it speaks for."""

    organization_id = serializers.UUIDField()
    organization = serializers.CharField()
    capabilities = serializers.ListField(child=serializers.ChoiceField(choices=Capability.choices))
    key = serializers.CharField(help_text="The key's label.")
    scopes = serializers.ListField(child=serializers.CharField())
    expires_at = serializers.DateTimeField(allow_null=True)


class MeView(TenantView):
    """The caller as the service knows it."""

    scope = "organization"

    @extend_schema(operation_id="read_me", responses=MeOut)
    def get(self, request: Request) -> Response:
        """Say who I am and what my key may do."""
        key = self.key
        return Response(
            {
                "organization_id": key.organization_id,
                "organization": key.organization_name,
                "capabilities": sorted(key.capabilities),
                "key": key.label,
                "scopes": sorted(key.scopes),
                "expires_at": key.expires_at,
            }
        )
