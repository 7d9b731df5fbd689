"""Pictures of an opening: `/v1/openings/{id}/photos`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.blobs import blob_file
from doors.api.fields import CivilDateField, DigestField, StrictSerializer, TextField
from doors.models import KEEPERS, Photo
from doors.selectors.openings import opening_by_id
from doors.selectors.visible import visible
from doors.services.blobs import PICTURES, shown_bytes
from doors.services.photos import add_photo


class PhotoIn(StrictSerializer):
    """A picture to hang on an opening."""

    sha256 = DigestField(help_text="Of a picture you have sent to /v1/blobs.")
    caption = TextField(max_length=300, required=False, help_text="What it shows, in words.")
    taken_on = CivilDateField(required=False, help_text="The day it was taken, at the site.")


class PhotoOut(serializers.Serializer):
    """A picture of an opening; its pixels stand at `/file`."""

    id = serializers.UUIDField(help_text="Of this picture of this opening.")
    sha256 = serializers.CharField(help_text="Of the bytes as they were sent.")
    media_type = serializers.ChoiceField(choices=sorted(PICTURES), help_text="What it is.")
    caption = serializers.CharField(help_text="What it shows, in words.")
    taken_on = serializers.DateField(allow_null=True, help_text="The day it was taken, if told.")
    author = serializers.CharField(help_text="Who hung it there.")
    recorded_at = serializers.DateTimeField(help_text="When it was hung there.")


def photo_row(photo: Photo) -> dict[str, Any]:
    """A picture of an opening as the API gives it."""
    names = ("id", "sha256", "media_type", "caption", "taken_on", "recorded_at")
    return {name: getattr(photo, name) for name in names} | {"author": photo.author_name}


class PhotosView(TenantView):
    """The pictures of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_photos", responses=PhotoOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's pictures, the latest first."""
        rows = Photo.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-recorded_at", "id"), row=photo_row)

    @extend_schema(operation_id="add_photo", request=PhotoIn, responses={201: PhotoOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Hang a picture on an opening where you work."""
        body = PhotoIn(data=request.data)
        body.is_valid(raise_exception=True)
        photo = add_photo(opening_id=opening_id, **body.validated_data)
        return Response(photo_row(photo), status=201)


class PhotoFileView(TenantView):
    """The pixels of one picture."""

    scope = "openings"
    media_types = tuple(PICTURES)

    @extend_schema(
        operation_id="read_photo_file",
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in PICTURES},
    )
    def get(self, request: Request, opening_id: UUID, photo_id: UUID) -> HttpResponse:
        """Read a picture, drawn anew: without place, device and whatever else stood beside it."""
        photo = visible(Photo.objects.filter(opening_id=opening_id, id=photo_id))
        content = shown_bytes(photo.author_id, photo.sha256, photo.media_type)
        return blob_file(content, photo.sha256, photo.media_type)
