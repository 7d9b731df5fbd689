"""Organizations: `/v1/organizations`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import LanguageField, StrictSerializer, TextField
from doors.api.lookalikes import WarningOut, warnings_of
from doors.api.patches import Patch, read_patch
from doors.models import ACTIONS, KEEPERS, Capability, Organization
from doors.selectors.lookalikes import organizations_like
from doors.selectors.organizations import organization_by_id, sites_by_custodian
from doors.services.organizations import change_organization, make_owner
from doors.tenancy import acting_organization

MOST_LINES = 6
_LANGUAGE = "Language of its mails and pages, as en or fr-CA."


class OwnerIn(StrictSerializer):
    """An owner that you work for and that is not here yet."""

    reference = TextField(
        max_length=100, help_text="Your own reference, unique among yours; repeating it is safe."
    )
    name = TextField(help_text="What the owner is called.")
    address = serializers.ListField(
        child=TextField(),
        required=False,
        max_length=MOST_LINES,
        help_text="Lines of its postal address, in order.",
    )
    language = LanguageField(required=False, help_text=f"{_LANGUAGE} en where absent.")


class OrganizationPatch(Patch):
    """What an organization says of itself, or you of an owner you made, until it is claimed."""

    name = TextField(help_text="What it is called.")
    address = serializers.ListField(
        child=TextField(), max_length=MOST_LINES, help_text="All lines of its address, in order."
    )
    language = LanguageField(help_text=_LANGUAGE)


class OrganizationOut(serializers.Serializer):
    """An organization, as far as you know it."""

    id = serializers.UUIDField(help_text="Its id; it never changes.")
    name = serializers.CharField(help_text="What it is called.")
    capabilities = serializers.ListField(
        child=serializers.ChoiceField(choices=Capability.choices), help_text="What it does."
    )
    address = serializers.ListField(
        child=serializers.CharField(),
        allow_null=True,
        help_text="Its address; null unless it is you, or an owner you made that is unclaimed.",
    )
    language = serializers.CharField(help_text=_LANGUAGE)
    reference = serializers.CharField(
        allow_null=True, help_text="Your reference for an owner you made; null for others."
    )
    claimed = serializers.BooleanField(help_text="Whether people of its own act for it.")
    merged_into = serializers.UUIDField(
        allow_null=True, help_text="Id of the organization that took it over; null = none."
    )
    created_at = serializers.DateTimeField(help_text="When it was made, UTC.")
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


class OrganizationNamedOut(OrganizationOut):
    """An owner just made, or made before under the same reference; or one just changed."""

    warnings = WarningOut(
        many=True, help_text="Organizations you know whose names look like a name just given."
    )


class SitesToActOnOut(serializers.Serializer):
    """On how many sites you may act today, by action."""


for _action in ACTIONS:
    SitesToActOnOut._declared_fields[_action] = serializers.IntegerField(  # noqa: SLF001
        help_text=f"Sites on which you may {_action}."
    )


class OrganizationListedOut(OrganizationOut):
    """An organization that you know, with what you may do on its sites."""

    sites = SitesToActOnOut(help_text="On how many of its sites you may act today, by action.")


def organization_row(organization: Organization) -> dict[str, Any]:
    """An organization as the API gives it to the one that asks."""
    acting = acting_organization()
    made = organization.author_id == acting
    private = organization.id == acting or (made and organization.claimed_at is None)
    return {
        "id": organization.id,
        "name": organization.name,
        "capabilities": organization.capabilities,
        "address": organization.address if private else None,
        "language": organization.language,
        "reference": organization.reference if made else None,
        "claimed": organization.claimed_at is not None,
        "merged_into": organization.merged_into_id,
        "created_at": organization.created_at,
        "version": organization.version,
    }


def _listed(organization: Organization, sites: Mapping[UUID, Mapping[str, int]]) -> dict[str, Any]:
    none = dict.fromkeys(ACTIONS, 0)
    return {**organization_row(organization), "sites": sites.get(organization.id, none)}


class OrganizationsView(TenantView):
    """You, the owners you made, and those with whom a grant joins you."""

    scope = "organizations"
    capabilities = KEEPERS - {Capability.OWNER}
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_organizations", responses=OrganizationListedOut(many=True))
    def get(self, request: Request) -> Response:
        """List the organizations you know, by name."""
        sites = sites_by_custodian()
        return self.page(
            Organization.objects.all(), order=("name", "id"), row=lambda o: _listed(o, sites)
        )

    @extend_schema(
        operation_id="make_owner",
        request=OwnerIn,
        responses={200: OrganizationNamedOut, 201: OrganizationNamedOut},
    )
    def post(self, request: Request) -> Response:
        """Make an owner that is not here yet.

        You may then record its sites and openings and do your work there, by a leave that is
        implied until the owner has claimed what you made. The same body under the same
        reference answers 200 and what stands. A name that looks like that of an organization you
        know is taken all the same, and told of in `warnings`.
        """
        body = OwnerIn(data=request.data)
        body.is_valid(raise_exception=True)
        owner, made = make_owner(**body.validated_data)
        location = f"/v1/organizations/{owner.id}"
        told = {**organization_row(owner), "warnings": warnings_of(organizations_like(owner))}
        return tagged(told, status=201 if made else 200, Location=location)


class OrganizationView(TenantView):
    """One organization."""

    scope = "organizations"

    @extend_schema(operation_id="read_organization", responses=OrganizationOut)
    def get(self, request: Request, organization_id: UUID) -> Response:
        """Read an organization; one that was merged tells into which."""
        return tagged(organization_row(organization_by_id(organization_id)))

    @extend_schema(
        operation_id="change_organization",
        request=OrganizationPatch,
        responses=OrganizationNamedOut,
    )
    def patch(self, request: Request, organization_id: UUID) -> Response:
        """Change your own organization, or an owner you made until it is claimed.

        A new name that looks like that of an organization you know is taken all the same, and
        told of in `warnings`.
        """
        changed = read_patch(OrganizationPatch, request)
        organization = change_organization(
            organization_id=organization_id, expected=self.expected, **changed
        )
        alike = organizations_like(organization) if "name" in changed else []
        return tagged({**organization_row(organization), "warnings": warnings_of(alike)})
