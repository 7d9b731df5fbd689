"""Where a site lies: `/v1/sites/{id}/places`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import CivilDateField, StrictSerializer, TextField
from doors.models import Capability, SitePlace
from doors.selectors.sight import sight_of
from doors.services.places import place_site

_MOST_PLACES = 6


class SitePlacesIn(StrictSerializer):
    """Where a site lies from a day on."""

    jurisdictions = serializers.ListField(
        child=TextField(max_length=60),
        min_length=1,
        max_length=_MOST_PLACES,
        help_text="Codes of all the places it lies in from that day: a city, and a county beside.",
    )
    begins_on = CivilDateField(
        help_text="First day, from 00:00 at the site; after the day of its last change."
    )


class SitePlaceOut(serializers.Serializer):
    """A place that a site lies in, in civil days of the site."""

    id = serializers.UUIDField(help_text="Id of this time in the place.")
    site = serializers.UUIDField(help_text="Id of the site.")
    jurisdiction = serializers.CharField(help_text="Code of the place.")
    begins_on = serializers.DateField(help_text="First day, from 00:00 at the site.")
    ends_on = serializers.DateField(allow_null=True, help_text="The first day after; null = open.")


class SitePlacesOut(serializers.Serializer):
    """The places a site lies in from a day on."""

    data = SitePlaceOut(  # type: ignore[assignment]  # shadows what nobody asks of a shape
        many=True, help_text="All of them."
    )
    next = serializers.CharField(allow_null=True, help_text="Always null: there are no more.")


def place_row(place: SitePlace) -> dict[str, Any]:
    """A site's place as the API gives it."""
    return {
        "id": place.id,
        "site": place.site_id,
        "jurisdiction": place.jurisdiction.code,
        "begins_on": place.begins_on,
        "ends_on": place.ends_on,
    }


class SitePlacesView(TenantView):
    """The places a site lies and lay in."""

    scope = "sites"
    capabilities = frozenset({Capability.OWNER})
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_site_places", responses=SitePlaceOut(many=True))
    def get(self, request: Request, site_id: UUID) -> Response:
        """List the places of a site, the first first."""
        sight_of(site_id, "read")
        rows = SitePlace.objects.filter(site_id=site_id).select_related("jurisdiction")
        return self.page(rows, order=("begins_on", "id"), row=place_row)

    @extend_schema(operation_id="place_site", request=SitePlacesIn, responses={201: SitePlacesOut})
    def post(self, request: Request, site_id: UUID) -> Response:
        """Say where the site lies from a day on; what was filed until then stays filed, and
        what is due is settled anew.
        """
        body = SitePlacesIn(data=request.data)
        body.is_valid(raise_exception=True)
        rows = place_site(site_id=site_id, **body.validated_data)
        return Response({"data": [place_row(row) for row in rows], "next": None}, status=201)
