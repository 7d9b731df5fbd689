"""Visits: `/v1/visits`."""

from __future__ import annotations

from datetime import datetime
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
from doors.api.fields import IdField, InstantField, ProseField, StrictSerializer, TextField
from doors.api.library import CHECK, SEQUENCE, TRACE, VERDICTS, LibraryObject
from doors.api.openings import SITE
from doors.api.parsing import LARGEST_WITH_TRACES
from doors.api.problems import At
from doors.api.queries import uuid_parameter
from doors.api.replays import idempotent
from doors.clock import Instant
from doors.models import Capability
from doors.tenancy import current
from inspections.api.deficiency_shapes import DeficiencyOfVisitOut, deficiencies_of_visit
from inspections.api.findings import (
    AlarmLogIn,
    AttachmentIn,
    AttachmentOut,
    AttestationIn,
    DifferenceOut,
    InitiatingDeviceIn,
    InitiatingOut,
    InstrumentIn,
    JudgedWithIn,
    PersonIn,
    ReadingIn,
    RetestIn,
    SecondLookOut,
)
from inspections.models import Activity, Verdict, Visit
from inspections.selectors.device_clocks import DeviceClock
from inspections.selectors.traces import sent_of
from inspections.selectors.visits import visit_by_id
from inspections.services.attendance import attachments_of, initiating_device_of
from inspections.services.clashes import clashes, way_to_correct
from inspections.services.visits import record_visit

OPENING = OpenApiParameter("opening", OpenApiTypes.UUID, description="Only of this opening.")
REFERENCE = OpenApiParameter("client_ref", str, description="Only of this reference of yours.")
_KEPT = ("opening", "client_ref", "activity", "performed_at", "supersedes")
_OWN = ("opening", "client_ref", "activity", "performed_at", "supersedes", "reason", "sent_at")
BESIDE = ("sent_at",)  # says how it was sent: another try sends another one
SENT_AT = "What the device's clock shows as it sends this; no time is corrected by it."


class VisitIn(StrictSerializer):
    """One attendance at one opening, raw: readings and traces as measured, nothing judged."""

    opening = IdField()
    client_ref = TextField(max_length=100, help_text="Your own reference, unique for ever.")
    activity = serializers.ChoiceField(choices=Activity.choices)
    performed_at = InstantField(help_text="By the device's clock, with its offset.")
    sent_at = InstantField(required=False, help_text=SENT_AT)
    attestation = AttestationIn()
    people = serializers.ListField(child=PersonIn(), min_length=1, max_length=20)
    instruments = serializers.ListField(child=InstrumentIn(), required=False, max_length=50)
    readings = serializers.ListField(child=ReadingIn(), required=False, max_length=500)
    checks = serializers.ListField(child=LibraryObject(CHECK), required=False, max_length=500)
    sequences = serializers.ListField(child=LibraryObject(SEQUENCE), required=False, max_length=100)
    traces = serializers.ListField(child=LibraryObject(TRACE), required=False, max_length=20)
    decision_rule = serializers.ChoiceField(choices=["simple", "guarded"], required=False)
    no_access = TextField(max_length=500, required=False, help_text="Why nobody got to it.")
    alarm_log = AlarmLogIn(required=False)
    initiating_device = InitiatingDeviceIn(
        required=False, help_text="What set the door in motion, where something was tripped."
    )
    attachments = serializers.ListField(
        child=AttachmentIn(), required=False, max_length=50, help_text="Photos and papers."
    )
    remarks = ProseField(required=False)
    judged_with = JudgedWithIn(
        required=False, help_text="What the app judged by while it was offline."
    )
    retests = serializers.ListField(
        child=RetestIn(),
        required=False,
        max_length=50,
        help_text="Of what a person saw: what no requirement looks at is retested by its name.",
    )
    supersedes = IdField(required=False, help_text="The visit of yours that this one corrects.")
    reason = TextField(max_length=500, required=False, help_text="Why it is corrected.")


class VisitOut(serializers.Serializer):
    """One attendance."""

    id = serializers.UUIDField()
    opening = serializers.UUIDField()
    site = serializers.UUIDField()
    author = serializers.CharField()
    client_ref = serializers.CharField()
    activity = serializers.ChoiceField(choices=Activity.choices)
    performed_at = serializers.CharField(help_text="As sent, with its offset.")
    performed_on = serializers.DateField(help_text="The day at the site.")
    received_at = serializers.DateTimeField()
    clock_skew_s = serializers.IntegerField(
        allow_null=True,
        help_text=(
            "Seconds that the device's clock was ahead of the service's when it sent; negative: "
            "behind; null where `sent_at` was not sent. No time is corrected by it."
        ),
    )
    late = serializers.BooleanField(
        help_text="Whether it was sent when its author's leave to record here had ended."
    )
    verdict = serializers.ChoiceField(choices=Verdict.choices)
    complete = serializers.BooleanField(help_text="Whether every required item was looked at.")
    supersedes = serializers.UUIDField(allow_null=True)
    superseded_by = serializers.UUIDField(allow_null=True, help_text="The visit that corrects it.")
    content_sha256 = serializers.CharField(help_text="Of what was sent, as canonical JSON.")
    warnings = SecondLookOut(
        many=True, help_text="Worth a second look; no verdict is changed by it."
    )


class JudgedVisitOut(VisitOut):
    """One attendance with everything that was sent and how it was judged."""

    attested_by = serializers.CharField()
    findings = serializers.DictField()
    basis = serializers.DictField(help_text="Facts, place and overrides it was judged by.")
    judgement = LibraryObject(VERDICTS, help_text="The rules library's answer, as it was given.")
    measurements = serializers.ListField(
        child=serializers.DictField(), help_text="What was computed from each trace, in order."
    )
    difference = DifferenceOut(
        allow_null=True, help_text="From the app's own judgement; null where it sent none."
    )
    attachments = AttachmentOut(many=True, help_text="Each by its digest, kept or missing.")
    initiating_device = InitiatingOut(
        allow_null=True, help_text="What set the door in motion; null where nothing is said."
    )
    found = DeficiencyOfVisitOut(many=True, help_text="Opened by this visit.")
    found_again = DeficiencyOfVisitOut(many=True, help_text="Stood already, and was found again.")
    proved = DeficiencyOfVisitOut(many=True)
    not_proven = DeficiencyOfVisitOut(
        many=True, help_text="Of a retest: what is repaired, and still to be shown."
    )


def visit_row(visit: Visit) -> dict[str, Any]:
    """A visit as lists give it."""
    return {
        "id": visit.id,
        "opening": visit.opening_id,
        "site": visit.site_id,
        "author": visit.author_name,
        "client_ref": visit.client_ref,
        "activity": visit.activity,
        "performed_at": visit.performed_at_text,
        "performed_on": visit.performed_on,
        "received_at": visit.received_at,
        "clock_skew_s": visit.clock_skew_s,
        "late": visit.late,
        "verdict": visit.verdict,
        "complete": visit.complete,
        "supersedes": visit.supersedes_id,
        "superseded_by": next((later.id for later in visit.superseded_by.all()), None),
        "content_sha256": visit.content_sha256,
        "warnings": visit.warnings,
    }


def judged_visit(visit: Visit) -> dict[str, Any]:
    """A visit with its judgement and what it did to deficiencies."""
    return visit_row(visit) | {
        "attested_by": visit.attested_by,
        "findings": sent_of(visit),
        "basis": visit.basis,
        "judgement": {k: v for k, v in visit.judgement.items() if k != "measurements"},
        "measurements": visit.judgement["measurements"],
        "difference": visit.difference,
        "attachments": attachments_of(visit),
        "initiating_device": initiating_device_of(visit),
        **deficiencies_of_visit(visit),
    }


def read_visit(
    sent: Any, *, received_at: datetime, sent_at: Instant | None = None
) -> dict[str, Any]:
    """Return what `record_visit` takes; raise what is wrong with the shape of what was sent.

    `sent_at` is what the device's clock showed where the visit itself does not say it.
    """
    body = VisitIn(data=sent)
    body.is_valid(raise_exception=True)
    given = body.validated_data
    return {
        "opening_id": given["opening"],
        "client_ref": given["client_ref"],
        "activity": given["activity"],
        "performed_at": given["performed_at"],
        "attested_by": given["attestation"]["name"],
        "findings": {k: v for k, v in body.initial_data.items() if k not in _OWN},
        "supersedes": given.get("supersedes"),
        "reason": given.get("reason", ""),
        "clock": DeviceClock.of(given.get("sent_at", sent_at), received_at),
    }


def told_apart(sent: Any, answered: dict[str, Any]) -> tuple[str, list[At]]:
    """How to correct the visit that stands, and each place at which what was sent differs."""
    same = {name: answered[name] for name in _KEPT}
    found = clashes(sent, {**answered["findings"], **same, "reason": sent.get("reason")})
    return way_to_correct(answered["id"]), [At(f.code, f.detail, f.pointer) for f in found]


def recorded(visit: Visit) -> Response:
    """The answer to whoever has just recorded a visit."""
    headers = {"Location": f"/v1/visits/{visit.id}"}
    return Response(judged_visit(visit), status=201, headers=headers)


class VisitsView(TenantView):
    """What was found at the openings in sight, and what you recorded yourself."""

    scope = "visits"
    capabilities = frozenset({Capability.INSPECTOR, Capability.OWNER})
    parameters = {"get": (SITE, OPENING, REFERENCE, *paging.PARAMETERS)}
    largest_body = LARGEST_WITH_TRACES

    @extend_schema(operation_id="list_visits", responses=VisitOut(many=True))
    def get(self, request: Request) -> Response:
        """List visits, latest performed first."""
        return self.page(self._asked_for(), order=("-performed_at", "id"), row=visit_row)

    @extend_schema(operation_id="record_visit", request=VisitIn, responses={201: JudgedVisitOut})
    @idempotent(required=True, told_apart=told_apart, beside=BESIDE)
    def post(self, request: Request) -> Response:
        """Record a visit; the answer is the visit, judged, with the source of every verdict.

        Raw traces are kept as they are sent, each number to the letter, and come back so. The body
        may hold 5 MB: 200,000 samples of up to 24 bytes each (`["199.9995","12.3456"],` are 22)
        beside everything else. A larger body is refused with `too_large`, and nothing of it is
        kept: send a trace at fewer samples a second; ten a second tell every stop.

        Send `sent_at`, and a device whose clock is wrong is noticed: the visit shows the
        difference, and warns of more than five minutes. Sent again, it may have another one.
        """
        return recorded(record_visit(**read_visit(request.data, received_at=current().now)))

    def _asked_for(self) -> QuerySet[Visit]:
        rows = Visit.objects.defer("findings", "basis", "judgement").prefetch_related(
            "superseded_by"
        )
        reference = self.request.query_params.get("client_ref")
        if reference is not None:
            rows = rows.filter(client_ref=reference)
        for name in ("site", "opening"):
            wanted = uuid_parameter(self.request, name)
            if wanted is not None:
                rows = rows.filter(**{f"{name}_id": wanted})
        return rows


class VisitView(TenantView):
    """One attendance."""

    scope = "visits"

    @extend_schema(operation_id="read_visit", responses=JudgedVisitOut)
    def get(self, request: Request, visit_id: UUID) -> Response:
        """Read one visit as it was recorded and judged."""
        return Response(judged_visit(visit_by_id(visit_id)))
