"""Deficiencies, opened, handed on and withdrawn: `/v1/deficiencies`."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import (
    CivilDateField,
    DigestField,
    IdField,
    InstantField,
    ProseField,
    StrictSerializer,
    TextField,
)
from doors.api.openings import SITE
from doors.api.queries import parameter, uuid_parameter
from doors.models import KEEPERS
from inspections.api.deficiency_shapes import PROTECTS, DeficiencyOut, deficiency_row
from inspections.api.visits import OPENING
from inspections.models import Deficiency
from inspections.selectors.deficiencies import deficiency_by_id, of_owner, overdue, with_people
from inspections.services.deficiencies import (
    assign_deficiency,
    report_deficiency,
    withdraw_deficiency,
)
from inspections.states import DEFICIENCY

STATE = OpenApiParameter("state", str, enum=sorted(DEFICIENCY), description="Only of this state.")
OWNER = OpenApiParameter("owner", OpenApiTypes.UUID, description="Only at the sites of this owner.")
URGENCY = OpenApiParameter("class", str, description="Only of this class, as a policy names it.")
PROTECTING = OpenApiParameter("protects", str, enum=PROTECTS, description="Only what protects it.")
ASSIGNED = OpenApiParameter(
    "assigned", OpenApiTypes.UUID, description="Only those handed to this organization."
)
OVERDUE = OpenApiParameter(
    "overdue", str, enum=["true"], description="Only what stands after the day it was due."
)


class DeficiencyIn(StrictSerializer):
    """What a person saw at a door that is not as it must be."""

    opening = IdField()
    subject = TextField(
        max_length=120,
        required=False,
        help_text="What a requirement of this opening looks at, as `check:label`; else absent.",
    )
    title = TextField(max_length=300, help_text="What is wrong, in a few words.")
    words = ProseField(max_length=4000, help_text="What was seen, at length.")
    protects = serializers.ChoiceField(choices=PROTECTS)
    found_at = InstantField()
    person = TextField(help_text="Name of the person who saw it.")
    photos = serializers.ListField(
        child=DigestField(), required=False, max_length=20, help_text="Blobs of yours."
    )


class DeficiencyWithdrawalIn(StrictSerializer):
    """Why a deficiency is withdrawn."""

    reason = TextField(max_length=500)


class AssignmentIn(StrictSerializer):
    """Who is to put it right."""

    organization = IdField(required=False, help_text="One that may work at the site.")
    person = TextField(required=False, help_text="Name of the person.")
    until = CivilDateField(required=False, help_text="By which day, on the calendar of the site.")


class DeficienciesView(TenantView):
    """What is wrong at the openings in sight."""

    scope = "deficiencies"
    capabilities = KEEPERS
    parameters = {
        "get": (
            *(SITE, OPENING, STATE, OWNER, URGENCY, PROTECTING, ASSIGNED, OVERDUE),
            *paging.PARAMETERS,
        )
    }

    @extend_schema(operation_id="list_deficiencies", responses=DeficiencyOut(many=True))
    def get(self, request: Request) -> Response:
        """List deficiencies, the latest opened first."""
        return self.page(self._asked_for(), order=("-opened_at", "id"), row=deficiency_row)

    @extend_schema(
        operation_id="report_deficiency", request=DeficiencyIn, responses={201: DeficiencyOut}
    )
    def post(self, request: Request) -> Response:
        """Open what a person saw; a retest after a repair ends it, or a withdrawal does."""
        body = DeficiencyIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        opened = report_deficiency(
            opening_id=given.pop("opening"),
            found_at=given.pop("found_at").at,
            found_by_person=given.pop("person"),
            **given,
        )
        headers = {"Location": f"/v1/deficiencies/{opened.id}"}
        row = deficiency_row(deficiency_by_id(opened.id))
        return Response(row, status=201, headers=headers)

    def _asked_for(self) -> QuerySet[Deficiency]:
        rows, query = with_people(Deficiency.objects.all()), self.request.query_params
        columns = {"site": "site_id", "opening": "opening_id", "assigned": "assigned_to_id"}
        for name, column in columns.items():
            if (wanted := uuid_parameter(self.request, name)) is not None:
                rows = rows.filter(**{column: wanted})
        for name, column in (("state", "state"), ("protects", "protects")):
            if name in query:
                rows = rows.filter(**{column: query[name]})
        if (named := parameter(self.request, "class", TextField(max_length=60))) is not None:
            rows = rows.filter(urgency=named)
        if (owner := uuid_parameter(self.request, "owner")) is not None:
            rows = rows.filter(of_owner(owner))
        return rows.filter(overdue()) if "overdue" in query else rows


class DeficiencyView(TenantView):
    """One deficiency."""

    scope = "deficiencies"

    @extend_schema(operation_id="read_deficiency", responses=DeficiencyOut)
    def get(self, request: Request, deficiency_id: UUID) -> Response:
        """Read one deficiency with its interim measures and repairs."""
        return Response(deficiency_row(deficiency_by_id(deficiency_id)))


class DeficiencyWithdrawalView(TenantView):
    """The withdrawal of one deficiency."""

    scope = "deficiencies"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="withdraw_deficiency",
        request=DeficiencyWithdrawalIn,
        responses={201: DeficiencyOut},
    )
    def post(self, request: Request, deficiency_id: UUID) -> Response:
        """Withdraw what should not have been opened; it stays on record with the reason."""
        body = DeficiencyWithdrawalIn(data=request.data)
        body.is_valid(raise_exception=True)
        withdraw_deficiency(deficiency_id=deficiency_id, **body.validated_data)
        return Response(deficiency_row(deficiency_by_id(deficiency_id)), status=201)


class DeficiencyAssignmentView(TenantView):
    """Who is to put one deficiency right."""

    scope = "deficiencies"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="assign_deficiency", request=AssignmentIn, responses={201: DeficiencyOut}
    )
    def post(self, request: Request, deficiency_id: UUID) -> Response:
        """Hand it to an organization that may work at the site, or to a person, by a day."""
        body = AssignmentIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        organization_id = given.pop("organization", None)
        assign_deficiency(deficiency_id=deficiency_id, organization_id=organization_id, **given)
        return Response(deficiency_row(deficiency_by_id(deficiency_id)), status=201)
