"""What authorities read of an owner's submittals: `/v1/authority-reads`."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.openings import SITE
from doors.api.queries import uuid_parameter
from inspections.models import ReadLine


class AuthorityReadOut(serializers.Serializer):
    """One read by an authority; it stands in the same transaction as the read itself."""

    id = serializers.UUIDField(help_text="Id of this line.")
    submittal = serializers.UUIDField(help_text="Id of what was read.")
    site = serializers.UUIDField(help_text="Id of its site.")
    authority = serializers.CharField(help_text="Name of who read it.")
    what = serializers.CharField(help_text="Which part: the list, summary, file or feed.")
    file_sha256 = serializers.CharField(help_text="SHA-256 of the file it stands for, in hex.")
    read_at = serializers.DateTimeField(help_text="When, by the database's clock, UTC.")


def read_row(line: ReadLine) -> dict[str, Any]:
    """A read as the API gives it."""
    return {
        "id": line.id,
        "submittal": line.submittal_id,
        "site": line.site_id,
        "authority": line.authority_name,
        "what": line.what,
        "file_sha256": line.file_sha256,
        "read_at": line.read_at,
    }


class AuthorityReadsView(TenantView):
    """Each read by an authority of the submittals of your sites; an authority sees its own."""

    scope = "submittals"
    parameters = {"get": (SITE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_authority_reads", responses=AuthorityReadOut(many=True))
    def get(self, request: Request) -> Response:
        """List the reads, the latest first."""
        rows = ReadLine.objects.all()
        site_id = uuid_parameter(request, "site")
        if site_id is not None:
            rows = rows.filter(site_id=site_id)
        return self.page(rows, order=("-read_at", "id"), row=read_row)
