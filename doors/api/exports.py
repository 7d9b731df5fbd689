"""What is in sight, written out: `/v1/exports`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.http import FileResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import IdField, StrictSerializer
from doors.api.files import DIGEST, content_digest
from doors.api.jobs import JobOut, job_row
from doors.api.problems import ProblemError
from doors.api.replays import idempotent
from doors.models import Export
from doors.models.keys import EVERY_SCOPE
from doors.services.exports import ACCOUNT, ask_for_export, export_by_id, open_export

KINDS = sorted(settings.EXPORTS)
MEDIA_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "jsonl": "application/jsonl",
    "zip": "application/zip",
}
_READS = {"reported_visits": "visits:read"}


class ExportIn(StrictSerializer):
    """What is to be written out."""

    kind = serializers.ChoiceField(
        choices=KINDS, help_text="One table, or `account`: everything, with the bytes it names."
    )
    form = serializers.ChoiceField(
        choices=Export.Form.choices, help_text="csv or jsonl for a table, zip for an account."
    )
    site = IdField(required=False, help_text="Only of this site.")


class ExportOut(serializers.Serializer):
    """What is written out, or was."""

    id = serializers.UUIDField(help_text="Of this export.")
    kind = serializers.ChoiceField(choices=KINDS, help_text="What is written.")
    form = serializers.ChoiceField(choices=Export.Form.choices, help_text="How it is written.")
    rows = serializers.IntegerField(help_text="How many, once it is whole.")
    file_sha256 = serializers.CharField(help_text="Of the file at `/file`; empty until whole.")
    file_size = serializers.IntegerField(help_text="Of the file, in bytes.")
    expires_at = serializers.DateTimeField(allow_null=True, help_text="Until when it is kept.")
    job = JobOut(help_text="How far it is, or why it ended without a file.")
    created_at = serializers.DateTimeField(help_text="When it was asked for.")


def export_row(export: Export) -> dict[str, Any]:
    """An export as the API gives it."""
    names = ("id", "kind", "form", "rows", "file_sha256", "file_size", "expires_at", "created_at")
    return {name: getattr(export, name) for name in names} | {"job": job_row(export.job)}


class ExportsView(TenantView):
    """What your organization has had written out."""

    scope = "exports"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_exports", responses=ExportOut(many=True))
    def get(self, request: Request) -> Response:
        """List exports, the latest first."""
        rows = Export.objects.select_related("job").defer("sites")
        return self.page(rows, order=("-created_at", "id"), row=export_row)

    @extend_schema(operation_id="export", request=ExportIn, responses={202: ExportOut})
    @idempotent(required=False)
    def post(self, request: Request) -> Response:
        """Have what is in sight written to a file; where leave ends meanwhile, there is none.

        It holds what stood when it was asked for. The key needs the scope to read it as well.
        """
        body = ExportIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = body.validated_data
        self._refuse_out_of_reach(given["kind"])
        export = ask_for_export(kind=given["kind"], form=given["form"], site_id=given.get("site"))
        headers = {"Location": f"/v1/exports/{export.id}", "Retry-After": "1"}
        return Response(export_row(export), status=202, headers=headers)

    def _refuse_out_of_reach(self, kind: str) -> None:
        reads = {scope for scope in EVERY_SCOPE if scope.endswith(":read")}
        needed = reads if kind == ACCOUNT else {_READS.get(kind, f"{kind}:read")}
        if missing := sorted(needed - self.key.scopes):
            raise ProblemError("scope_missing", f"The key lacks the scope {', '.join(missing)}.")


class ExportView(TenantView):
    """One export."""

    scope = "exports"

    @extend_schema(operation_id="read_export", responses=ExportOut)
    def get(self, request: Request, export_id: UUID) -> Response:
        """Read how far an export has come."""
        return Response(export_row(export_by_id(export_id)))


class ExportFileView(TenantView):
    """The file of one export."""

    scope = "exports"
    media_types = tuple(each.partition(";")[0] for each in MEDIA_TYPES.values())

    @extend_schema(
        operation_id="read_export_file",
        responses={
            (200, each.partition(";")[0]): OpenApiTypes.BINARY for each in MEDIA_TYPES.values()
        },
    )
    def get(self, request: Request, export_id: UUID) -> FileResponse:
        """Read the whole file, while it is kept and while you may see what is in it."""
        export, kept = open_export(export_id)
        name = f"{export.kind}-{export.created_at:%Y-%m-%d}.{export.form}"
        response = FileResponse(
            kept, as_attachment=True, filename=name, content_type=MEDIA_TYPES[export.form]
        )
        response[DIGEST] = content_digest(export.file_sha256)
        return response
