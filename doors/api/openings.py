"""Openings: `/v1/openings`."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.inventory import (
    OpeningIn,
    OpeningOut,
    OpeningPatch,
    OpeningWithFactsOut,
    emptied,
    opening_row,
    opening_today,
)
from doors.api.patches import read_patch
from doors.api.problems import At, ProblemError
from doors.api.queries import date_parameter, instant_parameter, uuid_parameter
from doors.api.sites import SINCE
from doors.models import DOOR_TYPES, KEEPERS, Opening, OpeningTag
from doors.selectors.openings import STATES, in_state, openings_shown, shown_opening, tags_on
from doors.services.openings import add_opening, change_opening

SITE = OpenApiParameter("site", OpenApiTypes.UUID, description="Only what stands at this site.")
TAG = OpenApiParameter("tag", str, description="Only what bears or ever bore this tag.")
ON = OpenApiParameter("on", OpenApiTypes.DATE, description="With `tag`: only what bore it then.")
REFERENCE = OpenApiParameter("reference", str, description="Only what has this reference.")
DOOR_TYPE = OpenApiParameter(
    "door_type", str, enum=[word for word, _ in DOOR_TYPES], description="Only of this kind."
)
STATE = OpenApiParameter(
    "state", str, enum=sorted(STATES), description="Only what is so today at its site."
)
FLOOR = OpenApiParameter("floor", str, description="Only on this floor, as it is written.")


class OpeningsView(TenantView):
    """The openings of the sites you have sight of."""

    scope = "openings"
    capabilities = KEEPERS
    parameters = {
        "get": (
            SITE,
            TAG,
            ON,
            REFERENCE,
            DOOR_TYPE,
            STATE,
            FLOOR,
            SINCE,
            *paging.PARAMETERS,
        )
    }

    @extend_schema(operation_id="list_openings", responses=OpeningOut(many=True))
    def get(self, request: Request) -> Response:
        """List openings, by tag; a tag finds an opening that ever bore it, with the days."""
        return self.page(self._asked_for(), order=("tag", "id"), row=opening_row)

    @extend_schema(
        operation_id="add_opening", request=OpeningIn, responses={201: OpeningWithFactsOut}
    )
    def post(self, request: Request) -> Response:
        """Record an opening; its duties begin at once."""
        body = OpeningIn(data=request.data)
        body.is_valid(raise_exception=True)
        fields = dict(body.validated_data)
        opening = add_opening(site_id=fields.pop("site"), **fields)
        shown = opening_today(shown_opening(opening.id))
        return tagged(shown, status=201, Location=f"/v1/openings/{opening.id}")

    def _asked_for(self) -> QuerySet[Opening]:
        query = self.request.query_params
        rows = openings_shown()
        site_id = uuid_parameter(self.request, "site")
        since = instant_parameter(self.request, "changed_since")
        if site_id is not None:
            rows = rows.filter(site_id=site_id)
        if since is not None:
            rows = rows.filter(changed_at__gte=since)
        if "state" in query:
            rows = rows.filter(in_state(query["state"]))
        plain = {n: query[n] for n in ("reference", "door_type", "floor") if n in query}
        return self._by_tag(rows.filter(**plain))

    def _by_tag(self, rows: QuerySet[Opening]) -> QuerySet[Opening]:
        tag, on = self.request.query_params.get("tag"), date_parameter(self.request, "on")
        if tag is None:
            if on is not None:
                alone = At("needs_another", "It says when a `tag` was borne.", parameter="on")
                raise ProblemError.in_fields("invalid_parameter", [alone])
            return rows
        borne = OpeningTag.objects.all() if on is None else tags_on(on)
        return rows.filter(Exists(borne.filter(opening_id=OuterRef("id"), tag=tag)))


class OpeningView(TenantView):
    """One opening."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="read_opening", responses=OpeningWithFactsOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read one opening with its facts of today."""
        return tagged(opening_today(shown_opening(opening_id)))

    @extend_schema(
        operation_id="change_opening", request=OpeningPatch, responses=OpeningWithFactsOut
    )
    def patch(self, request: Request, opening_id: UUID) -> Response:
        """Change what is known of an opening beside its tag and its dated facts."""
        changed = emptied(read_patch(OpeningPatch, request))
        change_opening(opening_id=opening_id, expected=self.expected, **changed)
        return tagged(opening_today(shown_opening(opening_id)))
