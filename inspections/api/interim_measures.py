"""Interim measures: `/v1/deficiencies/{id}/interim-measures`."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.fields import InstantField, StrictSerializer, TextField
from doors.models import KEEPERS
from inspections.api.deficiency_shapes import DeficiencyOut, deficiency_row
from inspections.selectors.deficiencies import deficiency_by_id
from inspections.services.interim_measures import (
    MEASURES,
    record_interim_measure,
    stop_interim_measure,
)


class InterimMeasureIn(StrictSerializer):
    """What protects people until the repair is proven."""

    kind = serializers.ChoiceField(choices=list(MEASURES.items()))
    words = TextField(max_length=500, help_text="What is done for people meanwhile.")
    responsible = TextField(help_text="The person who answers for it.")
    begins_at = InstantField()
    ends_at = InstantField(required=False, help_text="Without an end it stands as an exception.")


class InterimMeasureEndIn(StrictSerializer):
    """That an interim measure was ended before its time."""

    stopped_at = InstantField()
    because = TextField(max_length=500)


class InterimMeasuresView(TenantView):
    """The interim measures of one deficiency."""

    scope = "deficiencies"
    capabilities = KEEPERS

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


class InterimMeasureEndView(TenantView):
    """The early end of one interim measure."""

    scope = "deficiencies"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="end_interim_measure",
        request=InterimMeasureEndIn,
        responses={200: DeficiencyOut},
    )
    def post(self, request: Request, deficiency_id: UUID, measure_id: UUID) -> Response:
        """Say that an interim measure was ended before its time, and why."""
        body = InterimMeasureEndIn(data=request.data)
        body.is_valid(raise_exception=True)
        stop_interim_measure(
            deficiency_id=deficiency_id,
            measure_id=measure_id,
            stopped_at=body.validated_data["stopped_at"].at,
            because=body.validated_data["because"],
        )
        return Response(deficiency_row(deficiency_by_id(deficiency_id)))
