"""How long deficiencies stood open: `/v1/deficiencies/time-open`."""

from __future__ import annotations

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from inspections.selectors.time_open import BY, time_open

COUNTED_BY = OpenApiParameter(
    "by", str, enum=BY, description="What they are counted by; absent, by owner."
)


class TimeOpenOut(serializers.Serializer):
    """How long the deficiencies of one owner, type of door, site or class stood open."""

    key = serializers.CharField(help_text="Id of the owner or site, type of door, or class.")
    label = serializers.CharField()  # type: ignore[assignment]  # of another meaning in a field
    deficiencies = serializers.IntegerField(help_text="All but those withdrawn.")
    still_open = serializers.IntegerField()
    median_days = serializers.CharField(help_text="Days to a tenth; what stands counts until now.")
    longest_days = serializers.CharField()


class TimesOpenOut(serializers.Serializer):
    """Of what you see."""

    by = serializers.ChoiceField(choices=BY, help_text="What they are counted by.")
    data = TimeOpenOut(many=True)  # type: ignore[assignment]  # shadows what nobody asks of a shape


class TimeOpenView(TenantView):
    """How long what was wrong stood open."""

    scope = "deficiencies"
    parameters = {"get": (COUNTED_BY,)}

    @extend_schema(operation_id="read_time_open", responses=TimesOpenOut)
    def get(self, request: Request) -> Response:
        """Read how long deficiencies in sight stood open, or have stood so far."""
        by = request.query_params.get("by", "owner")
        return Response({"by": by, "data": time_open(by)})
