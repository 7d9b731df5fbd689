"""Addresses for the tests of the API's manners: real views over kept replays, on a real table."""
# ruff: noqa: ARG002 (the framework hands each handler what it may not need)

from __future__ import annotations

from datetime import UTC, datetime
from threading import Event
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.urls import path
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from config.urls import handler400, handler403, handler404, handler500, urlpatterns  # noqa: F401
from doors.api import paging
from doors.api.base import PublicView, TenantView
from doors.api.deprecations import Deprecation
from doors.api.fields import (
    CivilDateField,
    DecimalTextField,
    IdField,
    InstantField,
    ProseField,
    StrictSerializer,
    TextField,
)
from doors.api.queries import date_parameter, uuid_parameter
from doors.api.replays import idempotent
from doors.api.scalars import FlagField
from doors.errors import NotVisibleError, RefusedError
from doors.models import Replay
from doors.tenancy import acting_organization, current

# A note with this key is kept under way until the test releases it.
HELD_KEY = "held"
HELD, RELEASED = Event(), Event()
ORDERS = {
    "newest": ("-created_at", "id"),
    "mixed": ("status", "-key", "id"),
    "followed": ("organization__name", "-created_at", "-id"),
}


class ReadingIn(StrictSerializer):
    """A value with its unit, somewhere inside a body."""

    value = DecimalTextField()
    unit = TextField(max_length=10)


class NoteIn(StrictSerializer):
    """One field of each kind, and a list of objects."""

    key = TextField(max_length=40)
    at = InstantField(required=False)
    on = CivilDateField(required=False)
    opening = IdField(required=False)
    passed = FlagField(required=False)
    remarks = ProseField(required=False, allow_blank=True)
    readings = ReadingIn(many=True, required=False)
    refuse = FlagField(required=False)


class NoteOut(serializers.Serializer[Any]):
    """What was kept."""

    id = serializers.UUIDField()
    key = serializers.CharField()


def row(note: Replay) -> dict[str, Any]:
    """Return a row as these addresses answer it."""
    return {"id": note.id, "key": note.key}


class NotesView(TenantView):
    """Rows of the caller's own."""

    scope = "visits"
    capabilities = frozenset({"inspector", "owner"})
    parameters = {
        "get": (
            OpenApiParameter("order", str, enum=sorted(ORDERS)),
            OpenApiParameter("visit", OpenApiTypes.UUID),
            OpenApiParameter("since", OpenApiTypes.DATE),
            *paging.PARAMETERS,
        )
    }

    @extend_schema(operation_id="list_notes", responses=NoteOut(many=True))
    def get(self, request: Request) -> Response:
        """List the rows in one of several orders."""
        uuid_parameter(request, "visit")
        date_parameter(request, "since")
        order = ORDERS[request.query_params.get("order", "newest")]
        return self.page(
            Replay.objects.filter(route="note").select_related("organization"),
            order=order,
            row=row,
        )

    @extend_schema(operation_id="add_note", request=NoteIn, responses={201: NoteOut})
    @idempotent(required=True)
    def post(self, request: Request) -> Response:
        """Keep a row."""
        body = NoteIn(data=request.data)
        body.is_valid(raise_exception=True)
        note = Replay.objects.create(
            organization_id=acting_organization(),
            route="note",
            key=body.validated_data["key"],
            fingerprint="",
            status=200,
            body="",
            created_at=current().now,
        )
        if note.key == HELD_KEY:
            HELD.set()
            RELEASED.wait(10)
        if body.validated_data.get("refuse"):
            raise RefusedError.at("/refuse", "Refused after it was written.")
        return Response(row(note), status=201, headers={"Location": f"/v1/notes/{note.id}"})


class NoteView(TenantView):
    """One row of the caller's own."""

    scope = "visits"

    @extend_schema(operation_id="read_note", responses=NoteOut)
    def get(self, request: Request, note_id: UUID) -> Response:
        """Read one row."""
        note = Replay.objects.filter(id=note_id).first()
        if note is None:
            raise NotVisibleError
        return Response(row(note))

    @extend_schema(operation_id="break_note", request=None, responses={204: None})
    @idempotent(required=False)
    def post(self, request: Request, note_id: UUID) -> Response:
        """Fail in a way that nobody foresaw, after something was written."""
        Replay.objects.filter(id=note_id).update(key="broken")
        raise LookupError("a secret of the inside")


class OldNotesView(TenantView):
    """Rows as they were given before; a page of it has a link of its own."""

    scope = "visits"
    parameters = {"get": paging.PARAMETERS}
    deprecations = {
        "get": Deprecation(
            since=datetime(2026, 1, 1, tzinfo=UTC),
            sunset=datetime(2027, 1, 1, tzinfo=UTC),
            explained_at="/docs/old-notes",
        )
    }

    @extend_schema(operation_id="list_old_notes", responses=NoteOut(many=True))
    def get(self, request: Request) -> Response:
        """List the rows."""
        return self.page(Replay.objects.filter(route="note"), order=("key", "id"), row=row)


class FileView(PublicView):
    """Something for anybody that is not JSON."""

    media_types = ("application/pdf",)

    @extend_schema(
        operation_id="read_file", responses={(200, "application/pdf"): OpenApiTypes.BINARY}
    )
    def get(self, request: Request) -> HttpResponse:
        """Read a file."""
        return HttpResponse(b"%PDF-", content_type="application/pdf")


urlpatterns = [
    *urlpatterns,
    path("v1/file", FileView.as_view()),
    path("v1/notes", NotesView.as_view()),
    path("v1/old-notes", OldNotesView.as_view()),
    path("v1/notes/<uuid:note_id>", NoteView.as_view()),
]
