"""Repairs: `/v1/deficiencies/{id}/repairs`."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.fields import DigestField, InstantField, ProseField, StrictSerializer, TextField
from doors.models import KEEPERS
from inspections.api.deficiency_shapes import DeficiencyOut, deficiency_row
from inspections.selectors.deficiencies import deficiency_by_id
from inspections.services.deficiencies import record_repair


class PartIn(StrictSerializer):
    """A part that was mended or replaced: by the library's word, in words, or both."""

    part = TextField(
        max_length=60,
        required=False,
        help_text="A word on which retests depend, as `controller` or `battery`.",
    )
    words = TextField(required=False)
    listed_basis = TextField(
        required=False, help_text="The listing or label by which it belongs to this door."
    )


class RepairIn(StrictSerializer):
    """What was done to mend it."""

    done_at = InstantField()
    done_by = TextField()
    licence = TextField(required=False, help_text="Of who did it, where the work asks for one.")
    words = ProseField(max_length=4000, help_text="What was done.")
    parts = serializers.ListField(child=PartIn(), required=False, max_length=50)
    photos = serializers.ListField(
        child=DigestField(), required=False, max_length=20, help_text="Blobs of yours."
    )


class RepairsView(TenantView):
    """The repairs of one deficiency."""

    scope = "deficiencies"
    capabilities = KEEPERS

    @extend_schema(operation_id="record_repair", request=RepairIn, responses={201: DeficiencyOut})
    def post(self, request: Request, deficiency_id: UUID) -> Response:
        """Record a repair; only a retest proves it."""
        body = RepairIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        record_repair(deficiency_id=deficiency_id, done_at=given.pop("done_at").at, **given)
        return Response(deficiency_row(deficiency_by_id(deficiency_id)), status=201)
