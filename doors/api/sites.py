"""Sites: `/v1/sites`."""

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
from doors.api.fields import CivilDateField, IdField, StrictSerializer, TextField
from doors.api.patches import Patch, read_patch
from doors.errors import NotVisibleError
from doors.models import KEEPERS, Site
from doors.services.sites import change_site, open_site


class SiteIn(StrictSerializer):
    """A building to be recorded."""

    reference = TextField(max_length=100, help_text="Your own reference, unique among yours.")
    name = TextField()
    address = serializers.ListField(child=TextField(), min_length=1, max_length=6)
    time_zone = TextField(max_length=64, help_text="IANA name, as America/Chicago.")
    jurisdiction = TextField(max_length=60, help_text="Code of the place it lies in.")
    in_custody_from = CivilDateField(
        required=False, help_text="First day of the owner's custody; today where absent."
    )
    owner_id = IdField(
        required=False,
        help_text="Id of an owner that you made and nobody has claimed; you where absent.",
    )


class SitePatch(Patch):
    """What may change about a building; where it lies and its reference stay."""

    name = TextField(help_text="What people call it.")
    address = serializers.ListField(
        child=TextField(), min_length=1, max_length=6, help_text="All its lines, in order."
    )


class SiteOut(serializers.Serializer):
    """A building."""

    id = serializers.UUIDField()
    reference = serializers.CharField()
    name = serializers.CharField()
    address = serializers.ListField(child=serializers.CharField())
    time_zone = serializers.CharField()
    created_at = serializers.DateTimeField()
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


def site_row(site: Site) -> dict[str, Any]:
    """A site as the API gives it."""
    return {
        "id": site.id,
        "reference": site.reference,
        "name": site.name,
        "address": site.address,
        "time_zone": site.time_zone,
        "created_at": site.created_at,
        "version": site.version,
    }


class SitesView(TenantView):
    """The buildings you have sight of."""

    scope = "sites"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_sites", responses=SiteOut(many=True))
    def get(self, request: Request) -> Response:
        """List the sites in sight, by name."""
        return self.page(Site.objects.all(), order=("name", "id"), row=site_row)

    @extend_schema(operation_id="add_site", request=SiteIn, responses={201: SiteOut})
    def post(self, request: Request) -> Response:
        """Record a site in your custody, or in that of an owner you made."""
        body = SiteIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        site = open_site(jurisdiction_code=fields.pop("jurisdiction"), **fields)
        return tagged(site_row(site), status=201, Location=f"/v1/sites/{site.id}")


class SiteView(TenantView):
    """One building."""

    scope = "sites"
    capabilities = KEEPERS

    @extend_schema(operation_id="read_site", responses=SiteOut)
    def get(self, request: Request, site_id: UUID) -> Response:
        """Read one site."""
        site = Site.objects.filter(id=site_id).first()
        if site is None:
            raise NotVisibleError
        return tagged(site_row(site))

    @extend_schema(operation_id="change_site", request=SitePatch, responses=SiteOut)
    def patch(self, request: Request, site_id: UUID) -> Response:
        """Change the name or the address of a site that you manage."""
        changed = read_patch(SitePatch, request)
        site = change_site(site_id=site_id, expected=self.expected, **changed)
        return tagged(site_row(site))
