"""Bytes by their digest: `/v1/blobs`."""

from __future__ import annotations

from typing import Any, cast

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.files import DIGEST, MULTIPART, FileParser, file_response, told_digest
from doors.errors import RefusedError
from doors.models import Blob
from doors.services.blobs import (
    EXTENSIONS,
    MEDIA_TYPES,
    MOST_BYTES,
    keep_blob,
    look_at,
    original_bytes,
    own_blob,
    shown_bytes,
)

_BYTES = {
    **dict.fromkeys(MEDIA_TYPES, OpenApiTypes.BINARY),
    MULTIPART: {
        "type": "object",
        "required": ["file"],
        "properties": {"file": {"type": "string", "format": "binary"}},
    },
}
_DIGEST_HEADER = OpenApiParameter(
    DIGEST,
    str,
    location=OpenApiParameter.HEADER,
    description="SHA-256 of the file by RFC 9530; what arrives with another one is refused.",
)


class BlobOut(serializers.Serializer):
    """Bytes that were kept."""

    sha256 = serializers.CharField(help_text="Their SHA-256 in hex, by which things name them.")
    media_type = serializers.ChoiceField(choices=MEDIA_TYPES, help_text="What they are.")
    size = serializers.IntegerField(help_text="How many, in bytes.")
    width = serializers.IntegerField(allow_null=True, help_text="Of a picture, pixels, upright.")
    height = serializers.IntegerField(allow_null=True, help_text="Of a picture, pixels, upright.")
    created_at = serializers.DateTimeField(help_text="When they were sent first.")


def blob_row(blob: Blob) -> dict[str, Any]:
    """A blob as the API gives it."""
    names = ("sha256", "media_type", "size", "width", "height", "created_at")
    return {name: getattr(blob, name) for name in names}


class BlobsView(TenantView):
    """The pictures, scans and tables your organization has sent."""

    scope = "blobs"
    parser_classes = (FileParser,)
    takes = MEDIA_TYPES
    largest_body = MOST_BYTES
    parameters = {"get": paging.PARAMETERS}

    def prepare(self, request: Request) -> None:
        """Decode a picture before anything is locked: that takes its time."""
        super().prepare(request)
        if request.method == "POST":
            if not request._request.body:  # noqa: SLF001 (without one there is nothing to parse)
                raise RefusedError("There are no bytes.")
            told = None if _is_multipart(request) else told_digest(request)
            self.looked_at = look_at(**cast("dict[str, Any]", request.data), sha256=told)

    @extend_schema(operation_id="list_blobs", responses=BlobOut(many=True))
    def get(self, request: Request) -> Response:
        """List what you have sent, the latest first."""
        return self.page(Blob.objects.all(), order=("-created_at", "id"), row=blob_row)

    @extend_schema(
        operation_id="keep_blob",
        request=_BYTES,
        responses={200: BlobOut, 201: BlobOut},
        parameters=[_DIGEST_HEADER],
    )
    def post(self, request: Request) -> Response:
        """Send a JPEG or PNG picture, a PDF scan or a CSV table; 200 where it is known already.

        At most 15 MB, a picture at most 40 million pixels. Others see a picture drawn anew,
        without what the camera wrote beside it; a scan is kept unopened.
        """
        kept = keep_blob(self.looked_at)
        headers = {"Location": f"/v1/blobs/{kept.blob.sha256}"}
        return Response(blob_row(kept.blob), status=201 if kept.created else 200, headers=headers)


def _is_multipart(request: Request) -> bool:
    """Whether the header would speak of the envelope, not of the file in it."""
    return str(request.content_type).startswith(MULTIPART)


class BlobView(TenantView):
    """One of them."""

    scope = "blobs"

    @extend_schema(operation_id="read_blob", responses=BlobOut)
    def get(self, request: Request, sha256: str) -> Response:
        """Read what is known of bytes you sent."""
        return Response(blob_row(own_blob(sha256)))


class BlobFileView(TenantView):
    """What is shown of one of them."""

    scope = "blobs"
    media_types = MEDIA_TYPES

    @extend_schema(
        operation_id="read_blob_file",
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in MEDIA_TYPES},
    )
    def get(self, request: Request, sha256: str) -> HttpResponse:
        """Read what others may see of them: a picture drawn anew, a scan as it is."""
        blob = own_blob(sha256)
        content = shown_bytes(blob.organization_id, sha256, blob.media_type)
        return blob_file(content, sha256, blob.media_type)


class BlobOriginalView(TenantView):
    """One of them as it was sent."""

    scope = "blobs"
    media_types = MEDIA_TYPES

    @extend_schema(
        operation_id="read_blob_original",
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in MEDIA_TYPES},
    )
    def get(self, request: Request, sha256: str) -> HttpResponse:
        """Read the bytes exactly as you sent them; nobody else can."""
        blob = own_blob(sha256)
        content = original_bytes(blob.organization_id, sha256)
        return blob_file(content, sha256, blob.media_type)


def blob_file(content: bytes, sha256: str, media_type: str) -> HttpResponse:
    """Bytes under a name of ours, never one of the sender's."""
    name = f"{sha256[:16]}.{EXTENSIONS[media_type]}"
    return file_response(content, media_type=media_type, name=name)
