"""Sites: `/v1/sites`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import CivilDateField, IdField, StrictSerializer, TextField
from doors.api.patches import Patch, read_patch
from doors.api.queries import instant_parameter
from doors.models import KEEPERS, Site
from doors.selectors.sites import site_by_id
from doors.services.sites import change_site, open_site

SINCE = OpenApiParameter(
    "changed_since",
    OpenApiTypes.DATETIME,
    description="Only what was recorded or changed at this instant or later.",
)
_FILTERS = {
    name: OpenApiParameter(name, str, description=f"Only sites with this {words}.")
    for name, words in (
        ("reference", "reference"),
        ("parcel", "number of the ground"),
        ("occupancy_number", "number of the occupancy"),
    )
}


class SiteIn(StrictSerializer):
    """A building to be recorded."""

    reference = TextField(max_length=100, help_text="Your own reference, unique among yours.")
    name = TextField()
    address = serializers.ListField(child=TextField(), min_length=1, max_length=6)
    time_zone = TextField(max_length=64, help_text="IANA name, as America/Chicago.")
    jurisdiction = TextField(max_length=60, help_text="Code of the place it lies in.")
    parcel = TextField(
        max_length=100, required=False, help_text="The land register's number of the ground."
    )
    occupancy_number = TextField(
        max_length=100, required=False, help_text="The authority's number of the occupancy."
    )
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
    parcel = TextField(
        max_length=100, allow_blank=True, help_text="The land register's number; empty: none."
    )
    occupancy_number = TextField(
        max_length=100, allow_blank=True, help_text="The authority's number; empty: none."
    )


class SiteOut(serializers.Serializer):
    """A building."""

    id = serializers.UUIDField()
    reference = serializers.CharField()
    name = serializers.CharField()
    address = serializers.ListField(child=serializers.CharField())
    time_zone = serializers.CharField()
    parcel = serializers.CharField(help_text="The land register's number of the ground.")
    occupancy_number = serializers.CharField(help_text="The authority's number of the occupancy.")
    created_at = serializers.DateTimeField()
    changed_at = serializers.DateTimeField(help_text="When it was last changed.")
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


def site_row(site: Site) -> dict[str, Any]:
    """A site as the API gives it."""
    return {
        "id": site.id,
        "reference": site.reference,
        "name": site.name,
        "address": site.address,
        "time_zone": site.time_zone,
        "parcel": site.parcel,
        "occupancy_number": site.occupancy_number,
        "created_at": site.created_at,
        "changed_at": site.changed_at,
        "version": site.version,
    }


class SitesView(TenantView):
    """The buildings you have sight of."""

    scope = "sites"
    capabilities = KEEPERS
    parameters = {"get": (*_FILTERS.values(), SINCE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_sites", responses=SiteOut(many=True))
    def get(self, request: Request) -> Response:
        """List the sites in sight, by name."""
        query, rows = request.query_params, Site.objects.all()
        rows = rows.filter(**{name: query[name] for name in _FILTERS if name in query})
        since = instant_parameter(request, "changed_since")
        if since is not None:
            rows = rows.filter(changed_at__gte=since)
        return self.page(rows, order=("name", "id"), row=site_row)

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
        return tagged(site_row(site_by_id(site_id)))

    @extend_schema(operation_id="change_site", request=SitePatch, responses=SiteOut)
    def patch(self, request: Request, site_id: UUID) -> Response:
        """Change the name or the address of a site that you manage."""
        changed = read_patch(SitePatch, request)
        site = change_site(site_id=site_id, expected=self.expected, **changed)
        return tagged(site_row(site))
