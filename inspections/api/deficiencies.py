"""Deficiencies, interim measures, repairs: `/v1/deficiencies`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import InstantField, ProseField, StrictSerializer, TextField
from doors.api.openings import SITE
from doors.api.queries import uuid_parameter
from doors.models import Capability
from doors.tenancy import current
from inspections.models import Deficiency, InterimMeasure, Repair
from inspections.selectors.deficiencies import deficiency_by_id, is_guarded, with_measures
from inspections.services.deficiencies import MEASURES, record_interim_measure, record_repair
from inspections.states import DEFICIENCY


class InterimMeasureIn(StrictSerializer):
    """What protects people until the repair is proven."""

    kind = serializers.ChoiceField(choices=list(MEASURES.items()))
    words = TextField(max_length=500)
    responsible = TextField(help_text="The person who answers for it.")
    begins_at = InstantField()
    ends_at = InstantField(required=False, help_text="Without an end it stands as an exception.")


class InterimMeasureOut(serializers.Serializer):
    """What protects people until the repair is proven."""

    id = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=list(MEASURES.items()))
    words = serializers.CharField()
    responsible = serializers.CharField()
    begins_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField(allow_null=True)
    author = serializers.CharField()


class RepairIn(StrictSerializer):
    """What was done to mend it."""

    done_at = InstantField()
    done_by = TextField()
    words = ProseField(max_length=4000)
    parts = serializers.ListField(child=TextField(), required=False, max_length=50)


class RepairOut(serializers.Serializer):
    """What was done to mend it; it proves nothing until a retest has."""

    id = serializers.UUIDField()
    done_at = serializers.DateTimeField()
    done_by = serializers.CharField()
    words = serializers.CharField()
    parts = serializers.ListField(child=serializers.CharField())
    author = serializers.CharField()


class DeficiencyOut(serializers.Serializer):
    """What is wrong at an opening, and how far it has come."""

    id = serializers.UUIDField()
    opening = serializers.UUIDField()
    site = serializers.UUIDField()
    subject = serializers.CharField(help_text="What was looked at: quantity, check, sequence.")
    requirements = serializers.ListField(
        child=serializers.CharField(), help_text="Ids of those it failed."
    )
    title = serializers.CharField()
    words = serializers.CharField()
    protects = serializers.CharField(help_text="closing, egress, people or record.")
    state = serializers.ChoiceField(choices=sorted(DEFICIENCY))
    guarded = serializers.BooleanField(help_text="Whether an interim measure is in force now.")
    opened_at = serializers.DateTimeField()
    found_by = serializers.UUIDField(allow_null=True)
    proven_by = serializers.UUIDField(allow_null=True)
    reason = serializers.CharField()
    interim_measures = InterimMeasureOut(many=True)
    repairs = RepairOut(many=True)


def measure_row(measure: InterimMeasure) -> dict[str, Any]:
    """An interim measure as the API gives it."""
    names = ("id", "kind", "words", "responsible", "begins_at", "ends_at")
    return {name: getattr(measure, name) for name in names} | {"author": measure.author_name}


def repair_row(repair: Repair) -> dict[str, Any]:
    """A repair as the API gives it."""
    names = ("id", "done_at", "done_by", "words", "parts")
    return {name: getattr(repair, name) for name in names} | {"author": repair.author_name}


def deficiency_row(deficiency: Deficiency) -> dict[str, Any]:
    """A deficiency as the API gives it, with what was done about it."""
    names = (
        "id",
        "subject",
        "requirements",
        "title",
        "words",
        "protects",
        "state",
        "opened_at",
        "reason",
    )
    return {name: getattr(deficiency, name) for name in names} | {
        "opening": deficiency.opening_id,
        "site": deficiency.site_id,
        "found_by": deficiency.found_by_id,
        "proven_by": deficiency.proven_by_id,
        "guarded": is_guarded(deficiency, current().now),
        "interim_measures": [measure_row(m) for m in deficiency.interim_measures.all()],
        "repairs": [repair_row(r) for r in deficiency.repairs.all()],
    }


class DeficienciesView(TenantView):
    """What is wrong at the openings in sight."""

    scope = "deficiencies"
    parameters = {"get": (SITE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_deficiencies", responses=DeficiencyOut(many=True))
    def get(self, request: Request) -> Response:
        """List deficiencies, the latest opened first."""
        rows = with_measures(Deficiency.objects.all())
        site_id = uuid_parameter(request, "site")
        if site_id is not None:
            rows = rows.filter(site_id=site_id)
        return self.page(rows, order=("-opened_at", "id"), row=deficiency_row)


class DeficiencyView(TenantView):
    """One deficiency."""

    scope = "deficiencies"

    @extend_schema(operation_id="read_deficiency", responses=DeficiencyOut)
    def get(self, request: Request, deficiency_id: UUID) -> Response:
        """Read one deficiency with its interim measures and repairs."""
        return Response(deficiency_row(deficiency_by_id(deficiency_id)))


class InterimMeasuresView(TenantView):
    """The interim measures of one deficiency."""

    scope = "deficiencies"
    capabilities = frozenset({Capability.INSPECTOR, Capability.OWNER, Capability.REPAIRER})

    @extend_schema(
        operation_id="record_interim_measure",
        request=InterimMeasureIn,
        responses={201: DeficiencyOut},
    )
    def post(self, request: Request, deficiency_id: UUID) -> Response:
        """Record what protects people until the repair is proven."""
        body = InterimMeasureIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        ends_at = given.pop("ends_at", None)
        record_interim_measure(
            deficiency_id=deficiency_id,
            begins_at=given.pop("begins_at").at,
            ends_at=ends_at.at if ends_at else None,
            **given,
        )
        return Response(deficiency_row(deficiency_by_id(deficiency_id)), status=201)


class RepairsView(TenantView):
    """The repairs of one deficiency."""

    scope = "deficiencies"
    capabilities = frozenset({Capability.INSPECTOR, Capability.OWNER, Capability.REPAIRER})

    @extend_schema(operation_id="record_repair", request=RepairIn, responses={201: DeficiencyOut})
    def post(self, request: Request, deficiency_id: UUID) -> Response:
        """Record a repair; only a retest proves it."""
        body = RepairIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        record_repair(deficiency_id=deficiency_id, done_at=given.pop("done_at").at, **given)
        return Response(deficiency_row(deficiency_by_id(deficiency_id)), status=201)
