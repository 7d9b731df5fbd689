"""Openings: `/v1/openings`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, IdField, StrictSerializer, TextField
from doors.api.library import FACTS, INSTRUCTION, LibraryObject
from doors.api.queries import uuid_parameter
from doors.clock import civil_date
from doors.models import DOOR_TYPES, Capability, Opening
from doors.selectors.openings import FactsOnDay, facts_on, opening_by_id
from doors.services.openings import add_opening
from doors.tenancy import current

SITE = OpenApiParameter("site", OpenApiTypes.UUID, description="Only what stands at this site.")
TAG = OpenApiParameter("tag", str, description="Only what bears or ever bore this tag.")


class OpeningIn(StrictSerializer):
    """A door assembly to be recorded."""

    site = IdField()
    tag = TextField(max_length=60, help_text="What is written on the door; unique at the site.")
    reference = TextField(max_length=100, required=False, help_text="Your own reference.")
    location = TextField(max_length=300, help_text="Where in the building, in words.")
    floor = TextField(max_length=60, required=False)
    door_type = serializers.ChoiceField(choices=DOOR_TYPES)
    facts = LibraryObject(FACTS)
    listed_instructions = serializers.ListField(
        child=LibraryObject(INSTRUCTION),
        required=False,
        max_length=200,
        help_text="Numbers that this door's own listed instructions give.",
    )
    in_place_since = CivilDateField(required=False)


class OpeningOut(serializers.Serializer):
    """A door assembly."""

    id = serializers.UUIDField()
    site = serializers.UUIDField()
    tag = serializers.CharField()
    reference = serializers.CharField()
    location = serializers.CharField()
    floor = serializers.CharField()
    door_type = serializers.ChoiceField(choices=DOOR_TYPES)
    removed_on = serializers.DateField(allow_null=True)
    version = serializers.IntegerField()


class OpeningWithFactsOut(OpeningOut):
    """A door assembly with its facts of today."""

    facts = serializers.DictField()
    listed_instructions = serializers.ListField()


def opening_row(opening: Opening, known: FactsOnDay | None = None) -> dict[str, Any]:
    """An opening as the API gives it, with its facts where they are given."""
    row = {
        "id": opening.id,
        "site": opening.site_id,
        "tag": opening.tag,
        "reference": opening.reference,
        "location": opening.location,
        "floor": opening.floor,
        "door_type": opening.door_type,
        "removed_on": opening.removed_on,
        "version": opening.version,
    }
    if known is not None:
        row |= {"facts": known.facts, "listed_instructions": known.listed_instructions}
    return row


class OpeningsView(TenantView):
    """The openings of the sites you have sight of."""

    scope = "openings"
    capabilities = frozenset({Capability.OWNER})
    parameters = {"get": (SITE, TAG, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_openings", responses=OpeningOut(many=True))
    def get(self, request: Request) -> Response:
        """List openings, by tag; a tag finds an opening that ever bore it."""
        return self.page(self._asked_for(), order=("tag", "id"), row=opening_row)

    @extend_schema(
        operation_id="add_opening", request=OpeningIn, responses={201: OpeningWithFactsOut}
    )
    def post(self, request: Request) -> Response:
        """Record an opening; its duties begin at once."""
        body = OpeningIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        opening = add_opening(site_id=fields.pop("site"), **fields)
        return Response(
            _today(opening), status=201, headers={"Location": f"/v1/openings/{opening.id}"}
        )

    def _asked_for(self) -> QuerySet[Opening]:
        rows = Opening.objects.all()
        site_id, tag = uuid_parameter(self.request, "site"), self.request.query_params.get("tag")
        if site_id is not None:
            rows = rows.filter(site_id=site_id)
        return rows.filter(tags__tag=tag).distinct() if tag is not None else rows


class OpeningView(TenantView):
    """One opening."""

    scope = "openings"

    @extend_schema(operation_id="read_opening", responses=OpeningWithFactsOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read one opening with its facts of today."""
        return Response(_today(opening_by_id(opening_id)))


def _today(opening: Opening) -> dict[str, Any]:
    today = civil_date(current().now, opening.site.time_zone)
    return opening_row(opening, facts_on(opening, today))
