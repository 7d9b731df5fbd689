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
from doors.services.photos import add_photo, withdraw_photo


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
    withdrawn_at = serializers.DateTimeField(
        allow_null=True, help_text="When it was taken back; its pixels are given out no more."
    )
    withdrawn_by = serializers.CharField(help_text="Who took it back; empty where nobody did.")
    withdrawal_reason = serializers.CharField(help_text="Why it was taken back.")


class PhotoWithdrawalIn(StrictSerializer):
    """Why a picture is taken back."""

    reason = TextField(max_length=500, help_text="Why, in words.")


_SHOWN = (
    "id",
    "sha256",
    "media_type",
    "caption",
    "taken_on",
    "recorded_at",
    "withdrawn_at",
    "withdrawn_by",
    "withdrawal_reason",
)


def photo_row(photo: Photo) -> dict[str, Any]:
    """A picture of an opening as the API gives it."""
    return {name: getattr(photo, name) for name in _SHOWN} | {"author": photo.author_name}


class PhotosView(TenantView):
    """The pictures of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_photos", responses=PhotoOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's pictures, the latest first, those that were withdrawn too."""
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
        """Read a picture, drawn anew: without place, device and whatever else stood beside it.

        404 once it has been withdrawn.
        """
        hanging = Photo.objects.filter(withdrawn_at=None)
        photo = visible(hanging.filter(opening_id=opening_id, id=photo_id))
        content = shown_bytes(photo.author_id, photo.sha256, photo.media_type)
        return blob_file(content, photo.sha256, photo.media_type)


class PhotoWithdrawalView(TenantView):
    """The taking back of one picture."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="withdraw_photo", request=PhotoWithdrawalIn, responses={201: PhotoOut}
    )
    def post(self, request: Request, opening_id: UUID, photo_id: UUID) -> Response:
        """Take back a picture that you hung there, or that hangs at a site you manage.

        It stays listed with the reason, its pixels are given out no more, and the same picture may
        be hung anew. What was filed before holds what it held.
        """
        body = PhotoWithdrawalIn(data=request.data)
        body.is_valid(raise_exception=True)
        photo = withdraw_photo(opening_id=opening_id, photo_id=photo_id, **body.validated_data)
        return Response(photo_row(photo), status=201)
