"""Earlier visits that somebody tells of: `/v1/reported-visits`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.blobs import blob_file
from doors.api.fields import (
    CivilDateField,
    DigestField,
    IdField,
    ProseField,
    StrictSerializer,
    TextField,
)
from doors.api.openings import SITE
from doors.api.queries import uuid_parameter
from doors.api.replays import idempotent
from doors.errors import NotVisibleError
from doors.models import KEEPERS, Capability
from doors.selectors.organizations import acting_party
from doors.services.blobs import kind_of, shown_bytes
from inspections.models import Activity, ReportedOutcome, ReportedVisit
from inspections.selectors.reported_visits import reported_visit_by_id
from inspections.services.reported_visits import (
    SCANS,
    let_reported_visits_count,
    report_visit,
    withdraw_reported_visit,
)

OPENING = OpenApiParameter("opening", OpenApiTypes.UUID, description="Only of this opening.")
REFERENCE = OpenApiParameter("client_ref", str, description="Only of this reference of yours.")


class ReportedVisitIn(StrictSerializer):
    """An earlier visit, as its record tells of it."""

    opening = IdField(help_text="Which door was visited.")
    client_ref = TextField(max_length=100, help_text="Your own reference, unique for ever.")
    activity = serializers.ChoiceField(choices=Activity.choices, help_text="What it was for.")
    performed_on = CivilDateField(help_text="The day of it, at the site.")
    performed_by = TextField(help_text="Who performed it, as the record says.")
    outcome = serializers.ChoiceField(
        choices=ReportedOutcome.choices, help_text="What the record says came of it; no verdict."
    )
    outcome_words = ProseField(
        max_length=2000, required=False, allow_blank=True, help_text="In the record's own words."
    )
    scan_sha256 = DigestField(
        required=False, help_text="Of its scan, a PDF or a picture you have sent to /v1/blobs."
    )


class ReportedVisitOut(serializers.Serializer):
    """An earlier visit that somebody told of; nobody here has judged it."""

    id = serializers.UUIDField(help_text="Of this report.")
    opening = serializers.UUIDField(help_text="Which door was visited.")
    site = serializers.UUIDField(help_text="Where it stands.")
    author = serializers.CharField(help_text="Who told of it.")
    client_ref = serializers.CharField(help_text="Their own reference.")
    activity = serializers.ChoiceField(choices=Activity.choices, help_text="What it was for.")
    performed_on = serializers.DateField(help_text="The day of it, at the site.")
    performed_by = serializers.CharField(help_text="Who performed it, as the record says.")
    outcome = serializers.ChoiceField(
        choices=ReportedOutcome.choices, help_text="What the record says came of it; no verdict."
    )
    outcome_words = serializers.CharField(help_text="In the record's own words.")
    scan_sha256 = serializers.CharField(help_text="Of its scan, which stands at `/scan`.")
    reported_at = serializers.DateTimeField(help_text="When it was told.")
    withdrawn_at = serializers.DateTimeField(allow_null=True, help_text="When it was taken back.")
    withdrawal_reason = serializers.CharField(help_text="Why it was taken back.")


class WithdrawalIn(StrictSerializer):
    """Why something was taken back."""

    reason = TextField(max_length=500, help_text="Why, in words.")


class PolicyIn(StrictSerializer):
    """Up to which day reported visits count."""

    until = CivilDateField(
        allow_null=True,
        help_text="A reported visit performed by this day meets duties at your sites; null: none.",
    )


class PolicyOut(serializers.Serializer):
    """Up to which day reported visits count at the sites in your custody."""

    until = serializers.DateField(
        allow_null=True, help_text="The last day that counts; null where none does."
    )


_SHOWN = (
    "id",
    "client_ref",
    "activity",
    "performed_on",
    "performed_by",
    "outcome",
    "outcome_words",
    "scan_sha256",
    "reported_at",
    "withdrawn_at",
    "withdrawal_reason",
)


def reported_row(reported: ReportedVisit) -> dict[str, Any]:
    """A reported visit as the API gives it."""
    return {name: getattr(reported, name) for name in _SHOWN} | {
        "opening": reported.opening_id,
        "site": reported.site_id,
        "author": reported.author_name,
    }


class ReportedVisitsView(TenantView):
    """Earlier visits to the openings in sight, as they were told."""

    scope = "visits"
    capabilities = KEEPERS
    parameters = {"get": (SITE, OPENING, REFERENCE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_reported_visits", responses=ReportedVisitOut(many=True))
    def get(self, request: Request) -> Response:
        """List reported visits, latest performed first."""
        rows = ReportedVisit.objects.all()
        if "client_ref" in request.query_params:
            rows = rows.filter(client_ref=request.query_params["client_ref"])
        for name in ("site", "opening"):
            wanted = uuid_parameter(request, name)
            if wanted is not None:
                rows = rows.filter(**{f"{name}_id": wanted})
        return self.page(rows, order=("-performed_on", "id"), row=reported_row)

    @extend_schema(
        operation_id="report_visit", request=ReportedVisitIn, responses={201: ReportedVisitOut}
    )
    @idempotent(required=False)
    def post(self, request: Request) -> Response:
        """Tell of an earlier visit; it is kept as told and judged by nobody."""
        body = ReportedVisitIn(data=request.data)
        body.is_valid(raise_exception=True)
        told = dict(body.validated_data)
        reported = report_visit(opening_id=told.pop("opening"), **told)
        headers = {"Location": f"/v1/reported-visits/{reported.id}"}
        return Response(reported_row(reported), status=201, headers=headers)


class ReportedVisitView(TenantView):
    """One earlier visit as it was told."""

    scope = "visits"

    @extend_schema(operation_id="read_reported_visit", responses=ReportedVisitOut)
    def get(self, request: Request, reported_id: UUID) -> Response:
        """Read one reported visit."""
        return Response(reported_row(reported_visit_by_id(reported_id)))


class ReportedVisitScanView(TenantView):
    """The scan of one earlier visit's record."""

    scope = "visits"
    media_types = SCANS

    @extend_schema(
        operation_id="read_reported_visit_scan",
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in SCANS},
    )
    def get(self, request: Request, reported_id: UUID) -> HttpResponse:
        """Read the scan: a PDF as it was sent, unopened; a picture drawn anew."""
        reported = reported_visit_by_id(reported_id)
        if not reported.scan_sha256:
            raise NotVisibleError
        media_type = kind_of(reported.author_id, reported.scan_sha256)
        content = shown_bytes(reported.author_id, reported.scan_sha256, media_type)
        return blob_file(content, reported.scan_sha256, media_type)


class ReportedVisitWithdrawalView(TenantView):
    """The taking back of one reported visit."""

    scope = "visits"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="withdraw_reported_visit",
        request=WithdrawalIn,
        responses={201: ReportedVisitOut},
    )
    def post(self, request: Request, reported_id: UUID) -> Response:
        """Take back a visit that you reported by mistake; it stays on record and counts no more."""
        body = WithdrawalIn(data=request.data)
        body.is_valid(raise_exception=True)
        reported = withdraw_reported_visit(reported_id=reported_id, **body.validated_data)
        return Response(reported_row(reported), status=201)


class ReportedVisitPolicyView(TenantView):
    """What reported visits count for at the sites in your custody."""

    scope = "duties"
    capabilities = frozenset({Capability.OWNER})

    @extend_schema(operation_id="read_reported_visit_policy", responses=PolicyOut)
    def get(self, request: Request) -> Response:
        """Read up to which day reported visits meet your duties."""
        return Response({"until": acting_party().reported_visits_until})

    @extend_schema(operation_id="set_reported_visit_policy", request=PolicyIn, responses=PolicyOut)
    def post(self, request: Request) -> Response:
        """Say up to which day reported visits meet your duties; a job settles them anew."""
        body = PolicyIn(data=request.data)
        body.is_valid(raise_exception=True)
        own = let_reported_visits_count(until=body.validated_data["until"])
        return Response({"until": own.reported_visits_until})
