"""Codes at doors: `/v1/openings/{id}/door-codes`."""

from __future__ import annotations

import io
from base64 import b64encode
from typing import Any
from uuid import UUID

import segno
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import StrictSerializer, TextField
from doors.models import KEEPERS, DoorCode
from doors.selectors.door_codes import codes_of
from doors.selectors.openings import opening_by_id
from doors.services.door_codes import make_door_code, revoke_door_code

_MOST_CALLS = 5
_PIXELS = 8  # of the sign's smallest square
_TITLE = "The door's page"
_DAMAGED = "q"  # a sign at a door is scratched: a quarter of it may be lost


class CallIn(StrictSerializer):
    """Whom the page says to call."""

    who = TextField(
        max_length=200, help_text="Whom one calls, in words: `Doors firm, day and night`."
    )
    telephone = TextField(max_length=40, help_text="As it is dialled.")


class DoorCodeIn(StrictSerializer):
    """A code for a door."""

    label = TextField(  # type: ignore[assignment]  # the word of the trade of keys and signs
        help_text="Which sign it is, for you: where it hangs."
    )
    calls = serializers.ListField(
        child=CallIn(),
        required=False,
        max_length=_MOST_CALLS,
        help_text="Whom to call; whoever reads the code at the door sees it.",
    )


class CallOut(serializers.Serializer):
    """Whom the page says to call."""

    who = serializers.CharField(help_text="Whom one calls, in words.")
    telephone = serializers.CharField(help_text="As it is dialled.")


class DoorCodeOut(serializers.Serializer):
    """A code at a door, without its secret."""

    id = serializers.UUIDField(help_text="Of the code.")
    opening = serializers.UUIDField()
    label = serializers.CharField(help_text="Which sign it is.")  # type: ignore[assignment]
    calls = CallOut(many=True, help_text="Whom its page says to call.")
    created_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(
        allow_null=True, help_text="When it was made worthless, UTC; null = it was not."
    )


class DoorCodeMadeOut(DoorCodeOut):
    """A code with its address, this once, and as a sign to print."""

    url = serializers.CharField(help_text="Its page. It is shown this once: keep it secret.")
    qr_svg = serializers.CharField(help_text="The address as a QR code, an SVG document.")
    qr_png = serializers.CharField(help_text="The same as a PNG, in base64.")


def code_row(code: DoorCode) -> dict[str, Any]:
    """A code as the API gives it."""
    names = ("id", "label", "calls", "created_at", "revoked_at")
    return {"opening": code.opening_id} | {name: getattr(code, name) for name in names}


def signs_of(url: str) -> dict[str, str]:
    """The address as pictures that a telephone reads."""
    code = segno.make(url, error=_DAMAGED, micro=False)
    svg, png = io.BytesIO(), io.BytesIO()
    code.save(svg, kind="svg", scale=_PIXELS, omitsize=True, xmldecl=False, title=_TITLE)
    code.save(png, kind="png", scale=_PIXELS)
    return {"qr_svg": svg.getvalue().decode(), "qr_png": b64encode(png.getvalue()).decode()}


class DoorCodesView(TenantView):
    """The codes of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_door_codes", responses=DoorCodeOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List the codes of an opening, the newest first, with those that are worthless now."""
        rows = codes_of(opening_by_id(opening_id))
        return self.page(rows, order=("-created_at", "id"), row=code_row)

    @extend_schema(
        operation_id="make_door_code", request=DoorCodeIn, responses={201: DoorCodeMadeOut}
    )
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Make a code: whoever reads it at the door tests that door and reports what is wrong.

        It is good until it is revoked, or the building passes to another owner. Its address is in
        this answer alone, never stored for a repetition: after a lost answer,
        revoke the code and make another.
        """
        body = DoorCodeIn(data=request.data)
        body.is_valid(raise_exception=True)
        code, url = make_door_code(opening_id=opening_id, **body.validated_data)
        return Response({**code_row(code), "url": url, **signs_of(url)}, status=201)


class DoorCodeRevocationView(TenantView):
    """The end of one code."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="revoke_door_code", request=None, responses=DoorCodeOut)
    def post(self, request: Request, opening_id: UUID, code_id: UUID) -> Response:
        """Make a code worthless: its page is from then on as if it had never been."""
        return Response(code_row(revoke_door_code(opening_id=opening_id, code_id=code_id)))
