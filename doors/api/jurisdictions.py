"""Jurisdictions and what their authorities changed: `/v1/jurisdictions`, `/v1/overrides`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import ProseField, StrictSerializer, TextField
from doors.models import Capability, Jurisdiction, Override
from doors.selectors.jurisdictions import remarks_on
from doors.services.overrides import draft_override, publish_override
from rules.errors import Problem


class JurisdictionOut(serializers.Serializer):
    """A place whose authority adopts and amends rules."""

    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    above = serializers.CharField(allow_null=True, help_text="Code of the place it lies in.")
    time_zone = serializers.CharField(help_text="IANA name; its overrides hold by its days.")
    authority = serializers.CharField(help_text="Name of the authority; empty where none is known.")


class OverrideIn(StrictSerializer):
    """A change to the requirements a place inherits, as the rules library's own document."""

    jurisdiction = TextField(max_length=60)
    title = TextField()
    document = ProseField(max_length=200_000, help_text="TOML; see the schema `override`.")


class RemarkOut(serializers.Serializer):
    """What its author may not have meant, though nothing is wrong with it."""

    pointer = serializers.CharField(help_text="JSON Pointer into the document.")
    code = serializers.CharField(help_text="Which remark; the list may grow.")
    detail = serializers.CharField(help_text="The remark in words, and what to write instead.")


class OverrideOut(serializers.Serializer):
    """A change to the requirements a place inherits."""

    id = serializers.UUIDField()
    jurisdiction = serializers.CharField()
    title = serializers.CharField()
    document = serializers.CharField()
    document_sha256 = serializers.CharField()
    begins_on = serializers.DateField()
    created_at = serializers.DateTimeField()
    published_at = serializers.DateTimeField(allow_null=True)
    remarks = RemarkOut(
        many=True, help_text="Such as: this statement reaches only doors built from its day on."
    )


def jurisdiction_row(place: Jurisdiction) -> dict[str, Any]:
    """A jurisdiction as the API gives it."""
    return {
        "id": place.id,
        "code": place.code,
        "name": place.name,
        "kind": place.kind,
        "above": place.parent.code if place.parent else None,
        "time_zone": place.time_zone,
        "authority": place.authority_name,
    }


def override_row(override: Override) -> dict[str, Any]:
    """An override as the API gives it."""
    return {
        "id": override.id,
        "jurisdiction": override.jurisdiction.code,
        "title": override.title,
        "document": override.document,
        "document_sha256": override.document_sha256,
        "begins_on": override.begins_on,
        "created_at": override.created_at,
        "published_at": override.published_at,
        "remarks": [_remark_row(remark) for remark in remarks_on(override)],
    }


def _remark_row(remark: Problem) -> dict[str, str]:
    return {
        "pointer": f"/document{remark.pointer}",
        "code": remark.code,
        "detail": remark.message,
    }


class JurisdictionsView(TenantView):
    """The places there are."""

    scope = "jurisdictions"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_jurisdictions", responses=JurisdictionOut(many=True))
    def get(self, request: Request) -> Response:
        """List jurisdictions, by code."""
        rows = Jurisdiction.objects.select_related("parent")
        return self.page(rows, order=("code", "id"), row=jurisdiction_row)


class OverridesView(TenantView):
    """What authorities changed in the rules of their places."""

    scope = "overrides"
    capabilities = frozenset({Capability.AUTHORITY})
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_overrides", responses=OverrideOut(many=True))
    def get(self, request: Request) -> Response:
        """List published overrides and your own drafts, newest first."""
        rows = Override.objects.select_related("jurisdiction")
        return self.page(rows, order=("-created_at", "id"), row=override_row)

    @extend_schema(operation_id="draft_override", request=OverrideIn, responses={201: OverrideOut})
    def post(self, request: Request) -> Response:
        """Draft an override for your own jurisdiction; every mistake in it is named."""
        body = OverrideIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        override = draft_override(jurisdiction_code=fields.pop("jurisdiction"), **fields)
        return Response(override_row(override), status=201)


class OverridePublicationView(TenantView):
    """The publication of one override."""

    scope = "overrides"
    capabilities = frozenset({Capability.AUTHORITY})

    @extend_schema(operation_id="publish_override", request=None, responses=OverrideOut)
    def post(self, request: Request, override_id: UUID) -> Response:
        """Publish a draft: from its first day on it binds, and it is never changed again."""
        return Response(override_row(publish_override(override_id=override_id)))
