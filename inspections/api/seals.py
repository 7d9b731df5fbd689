"""Is this what was filed? `/v1/seals/{digest}`, for anybody, without a key."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import PublicView
from inspections.selectors.submittals import Seal, seal_of
from inspections.states import FILING


class SealOut(serializers.Serializer):
    """What anybody may know of a filed packet."""

    submittal = serializers.UUIDField()
    file_sha256 = serializers.CharField()
    content_sha256 = serializers.CharField()
    filed_at = serializers.DateTimeField()
    filed_by = serializers.CharField()
    filed_with = serializers.CharField()
    state = serializers.ChoiceField(choices=sorted(FILING))
    sandbox = serializers.BooleanField(
        help_text="True: it was filed in a sandbox, to try things out, and is no real record."
    )


def seal_row(seal: Seal) -> dict[str, Any]:
    """A seal as the API gives it."""
    row = asdict(seal)
    return {"submittal": row.pop("submittal_id"), **row}


class SealView(PublicView):
    """Verification of a file by its digest."""

    @extend_schema(operation_id="verify_file", responses=SealOut, auth=[])
    def get(self, request: Request, sha256: str) -> Response:
        """Say whether a file with this SHA-256 was filed, when, by whom and with whom."""
        return Response(seal_row(seal_of(sha256=sha256)))


class SubmittalSealView(PublicView):
    """Verification of a packet by the id printed in it."""

    @extend_schema(operation_id="verify_submittal", responses=SealOut, auth=[])
    def get(self, request: Request, submittal_id: UUID) -> Response:
        """Say when a packet of this id was filed, and the digest its file must have."""
        return Response(seal_row(seal_of(submittal_id=submittal_id)))
