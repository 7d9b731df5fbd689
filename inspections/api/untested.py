"""What was not tested: `/v1/untested`, and as it was filed `/v1/submittals/untested`."""

from __future__ import annotations

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.openings import SITE
from doors.api.queries import uuid_parameter
from inspections.models import (
    Activity,
    FrozenUntestedItem,
    Silence,
    SilentRow,
    Submittal,
    UntestedItem,
)
from inspections.selectors.untested import filed_untested, untested
from inspections.services.submittals import note_readings

OPENING = OpenApiParameter("opening", OpenApiTypes.UUID, description="Only of this opening.")
OWNER = OpenApiParameter(
    "owner", OpenApiTypes.UUID, description="Only where this organization answers for the site."
)
JURISDICTION = OpenApiParameter(
    "jurisdiction", str, description="Only what lies in the place of this code, or in one below."
)
RESULT = OpenApiParameter("result", str, enum=Silence.values, description="Only this result.")
ACTIVITY = OpenApiParameter(
    "activity", str, enum=Activity.values, description="Only by visits for this."
)
_WHERE = (SITE, OWNER, JURISDICTION, RESULT, ACTIVITY)
_PLAIN = ("result", "activity")
_SHOWN = ("requirement", "title", "subject", "result", "reason", "words", "activity")


class SilentItemOut(serializers.Serializer):
    """A requirement of which the latest word is that nobody tested it, and why."""

    id = serializers.UUIDField()
    site = serializers.UUIDField()
    tag = serializers.CharField(help_text="The opening's, as it was then.")
    requirement = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField(
        help_text="What was to be looked at: `quantity:`, `check:` or `sequence:` and its name."
    )
    result = serializers.ChoiceField(
        choices=Silence.choices,
        help_text="`no_access`: nobody got to the opening. None of them is a pass.",
    )
    reason = serializers.CharField(
        help_text="`stated`: whoever was there said why; `not_recorded`: nobody said anything."
    )
    words = serializers.CharField(help_text="The reason that was given, in words.")
    activity = serializers.ChoiceField(choices=Activity.choices)
    performed_on = serializers.DateField(help_text="Day of the visit that said so, at the site.")


class UntestedOut(SilentItemOut):
    """One, by the standing visits."""

    opening = serializers.UUIDField()
    visit = serializers.UUIDField(help_text="The visit whose word this is.")
    author = serializers.CharField()


class FiledUntestedOut(SilentItemOut):
    """One, by a packet."""

    submittal = serializers.UUIDField()
    assembled_at = serializers.DateTimeField()


def _row(item: SilentRow) -> dict[str, Any]:
    shown = {name: getattr(item, name) for name in _SHOWN}
    return {
        "id": item.id,
        "site": item.site_id,
        "tag": item.tag,
        **shown,
        "performed_on": item.performed_on,
    }


def untested_row(item: UntestedItem) -> dict[str, Any]:
    """An untested item as the API gives it."""
    named = {"opening": item.opening_id, "visit": item.visit_id, "author": item.author_name}
    return _row(item) | named


class UntestedView(TenantView):
    """Nothing passes by silence."""

    scope = "visits"
    parameters = {"get": (OPENING, *_WHERE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_untested", responses=UntestedOut(many=True))
    def get(self, request: Request) -> Response:
        """List what was not tested, not applicable or not accessible, the latest visited first.

        Of each requirement at each opening the latest standing visit that asked for it counts: an
        item that a later visit tested is not listed, and one that a later visit did not ask for
        still is.
        """
        rows = untested(opening_id=uuid_parameter(request, "opening"), **_asked_for(request))
        return self.page(rows, order=("-performed_at", "id"), row=untested_row)


class FiledUntestedView(TenantView):
    """The same in what was filed."""

    scope = "submittals"
    parameters = {"get": (*_WHERE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_filed_untested", responses=FiledUntestedOut(many=True))
    def get(self, request: Request) -> Response:
        """List what was untested by the packets that were filed, the latest visited first.

        Of each site the last packet that stands with an authority counts, as it was frozen. An
        authority sees what was filed to it, and each of its reads leaves a line for the owner.
        """
        rows = filed_untested(**_asked_for(request))
        read: set[Any] = set()

        def shown(item: FrozenUntestedItem) -> dict[str, Any]:
            read.add(item.submittal_id)
            named = {"submittal": item.submittal_id, "assembled_at": item.assembled_at}
            return _row(item) | named

        answer = self.page(rows, order=("-performed_on", "id"), row=shown)
        packets = Submittal.objects.defer("document").filter(id__in=read)
        note_readings(submittals=packets, what="untested")
        return answer


def _asked_for(request: Request) -> dict[str, Any]:
    return {
        "site_id": uuid_parameter(request, "site"),
        "owner": uuid_parameter(request, "owner"),
        "jurisdiction": request.query_params.get("jurisdiction"),
        **{name: request.query_params.get(name) for name in _PLAIN},
    }
