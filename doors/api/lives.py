"""The life of an opening: its facts, tags, outages, removal and replacement."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import CivilDateField, StrictSerializer, TextField
from doors.api.inventory import (
    OpeningAt,
    OpeningWithFactsOut,
    OutageOut,
    TagOut,
    opening_today,
    outage_row,
)
from doors.api.library import FACTS, INSTRUCTION, LibraryObject
from doors.models import KEEPERS, OpeningFacts, OpeningTag, Outage
from doors.selectors.openings import opening_by_id, shown_opening
from doors.services.lives import (
    record_facts,
    remove_opening,
    replace_opening,
    retag_opening,
    return_to_service,
    take_out_of_service,
)


class FactsIn(StrictSerializer):
    """What is so from a day on."""

    begins_on = CivilDateField(help_text="The first day of it, at the site; past or to come.")
    facts = LibraryObject(
        FACTS,
        help_text="What changes: what is not named stays as it was that day, null is unknown.",
    )
    listed_instructions = serializers.ListField(
        child=LibraryObject(INSTRUCTION),
        required=False,
        max_length=200,
        help_text="All that its own instructions say from then; as before where absent.",
    )


class FactsOut(serializers.Serializer):
    """What is so from a day on, until the next of these begins."""

    id = serializers.UUIDField(help_text="Of this statement.")
    begins_on = serializers.DateField(help_text="The first day of it, at the site.")
    facts = LibraryObject(FACTS, help_text="Everything that is so from that day.")
    listed_instructions = serializers.ListField(
        child=LibraryObject(INSTRUCTION), help_text="What its own instructions say from then."
    )
    recorded_at = serializers.DateTimeField(help_text="When that was said.")


class TagIn(StrictSerializer):
    """Another tag."""

    tag = TextField(max_length=60, help_text="What is written on the door from then on.")
    begins_on = CivilDateField(required=False, help_text="The first day with it; today if absent.")


class OutageIn(StrictSerializer):
    """A time out of service."""

    begins_on = CivilDateField(help_text="The first day out of service, at the site.")
    ends_on = CivilDateField(required=False, help_text="The first day back, where it is known.")
    reason = TextField(max_length=500, help_text="Why, in words.")


class EndIn(StrictSerializer):
    """The first day without it."""

    ends_on = CivilDateField(help_text="The first day without it, at the site.")


class RemovalIn(StrictSerializer):
    """That an assembly is gone."""

    removed_on = CivilDateField(help_text="The first day without it, at the site.")
    reason = TextField(max_length=500, help_text="Why it was removed.")
    authority_reference = TextField(
        max_length=100, required=False, help_text="The authority's permit, order or reference."
    )


class ReplacementIn(RemovalIn):
    """That an assembly is gone, and what stands in its place from the same day."""

    opening = OpeningAt(help_text="The assembly in its place; it may bear the same tag.")


def facts_row(row: OpeningFacts) -> dict[str, Any]:
    """Dated facts as the API gives them."""
    names = ("id", "begins_on", "facts", "listed_instructions", "recorded_at")
    return {name: getattr(row, name) for name in names}


def tag_row(row: OpeningTag) -> dict[str, Any]:
    """A tag as the API gives it."""
    return {name: getattr(row, name) for name in ("tag", "begins_on", "ends_on")}


class OpeningFactsView(TenantView):
    """What is so at one opening, from when on."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_facts", responses=FactsOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's facts, those begun last first."""
        rows = OpeningFacts.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-begins_on", "-recorded_at", "id"), row=facts_row)

    @extend_schema(operation_id="record_facts", request=FactsIn, responses={201: FactsOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Say what is so from a day on; what was said of earlier days stands."""
        body = FactsIn(data=request.data)
        body.is_valid(raise_exception=True)
        row = record_facts(opening_id=opening_id, **body.validated_data)
        return Response(facts_row(row), status=201)


class OpeningTagsView(TenantView):
    """The tags of one opening."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_tags", responses=TagOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List every tag an opening bore, the last first."""
        rows = OpeningTag.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-begins_on", "id"), row=tag_row)

    @extend_schema(operation_id="retag_opening", request=TagIn, responses={201: TagOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Give an opening another tag; the former ones still find it."""
        body = TagIn(data=request.data)
        body.is_valid(raise_exception=True)
        row = retag_opening(opening_id=opening_id, **body.validated_data)
        return Response(tag_row(row), status=201)


class OutagesView(TenantView):
    """When one opening was out of service."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_outages", responses=OutageOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List an opening's times out of service, the last first."""
        rows = Outage.objects.filter(opening=opening_by_id(opening_id))
        return self.page(rows, order=("-begins_on", "id"), row=outage_row)

    @extend_schema(operation_id="take_out_of_service", request=OutageIn, responses={201: OutageOut})
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Take an opening out of service from a day on; its duties are suspended meanwhile."""
        body = OutageIn(data=request.data)
        body.is_valid(raise_exception=True)
        outage = take_out_of_service(opening_id=opening_id, **body.validated_data)
        return Response(outage_row(outage), status=201)


class OutageEndView(TenantView):
    """The end of a time out of service."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="return_to_service", request=EndIn, responses=OutageOut)
    def post(self, request: Request, opening_id: UUID, outage_id: UUID) -> Response:
        """Say on which day an opening is back in service; its duties run again from then."""
        body = EndIn(data=request.data)
        body.is_valid(raise_exception=True)
        outage = return_to_service(
            opening_id=opening_id, outage_id=outage_id, **body.validated_data
        )
        return Response(outage_row(outage))


class RemovalView(TenantView):
    """The removal of one opening."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="remove_opening", request=RemovalIn, responses={201: OpeningWithFactsOut}
    )
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Record that an opening is gone; its duties end, its record stays."""
        body = RemovalIn(data=request.data)
        body.is_valid(raise_exception=True)
        remove_opening(opening_id=opening_id, **body.validated_data)
        return tagged(opening_today(shown_opening(opening_id)), status=201)


class ReplacementView(TenantView):
    """The replacement of one opening."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="replace_opening",
        request=ReplacementIn,
        responses={201: OpeningWithFactsOut},
    )
    def post(self, request: Request, opening_id: UUID) -> Response:
        """Remove an opening and record the one in its place; answers with the new one."""
        body = ReplacementIn(data=request.data)
        body.is_valid(raise_exception=True)
        made = replace_opening(opening_id=opening_id, **body.validated_data)
        shown = opening_today(shown_opening(made.id))
        return tagged(shown, status=201, Location=f"/v1/openings/{made.id}")
