"""Photos and papers of a visit: `/v1/visits/{id}/attachments/{sha256}`."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from doors.api.base import TenantView
from doors.api.blobs import blob_file
from inspections.selectors.visits import visit_by_id
from inspections.services.attendance import shown_attachment
from inspections.services.reported_visits import SCANS


class VisitAttachmentView(TenantView):
    """The bytes of one photo or paper of a visit."""

    scope = "visits"
    media_types = SCANS
    budgets = {"get": "files"}

    @extend_schema(
        operation_id="read_visit_attachment",
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in SCANS},
    )
    def get(self, request: Request, visit_id: UUID, sha256: str) -> HttpResponse:
        """Read a photo, drawn anew, or a PDF as it was sent, unopened."""
        content, media_type = shown_attachment(visit_by_id(visit_id), sha256)
        return blob_file(content, sha256, media_type)
