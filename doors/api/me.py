"""Who asks: `/v1/me`."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.response import Response

import rules
from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.lookalikes import WarningOut, warnings_of
from doors.api.organizations import OrganizationOut, OrganizationPatch, organization_row
from doors.api.paging import DEFAULT_LIMIT, MAX_LIMIT
from doors.api.patches import read_patch
from doors.api.permissions import AnyKey
from doors.models import ACTIONS, Role
from doors.selectors.keys import KeyFound
from doors.selectors.lookalikes import organizations_like
from doors.selectors.members import member_by_id
from doors.selectors.organizations import acting_party, sites_by_custodian
from doors.services.organizations import change_organization


class MyKeyOut(serializers.Serializer):
    """The key that asks."""

    id = serializers.UUIDField(help_text="Its id.")
    label = serializers.CharField(  # type: ignore[assignment]  # declared fields are no attributes
        help_text="What it is for."
    )
    scopes = serializers.ListField(
        child=serializers.CharField(), help_text="What it may do: a noun, and read or write."
    )
    expires_at = serializers.DateTimeField(
        allow_null=True, help_text="When it ends, UTC; null = it does not."
    )


class MyMemberOut(serializers.Serializer):
    """The member that the key is for."""

    id = serializers.UUIDField(help_text="Id of the membership.")
    name = serializers.CharField(help_text="The person's name.")
    role = serializers.ChoiceField(choices=Role.choices, help_text="What they are trusted with.")


class ActsForOut(serializers.Serializer):
    """On whose sites you may act today; `GET /v1/organizations` has it one by one."""

    organizations = serializers.IntegerField(help_text="How many custodians, you among them.")
    sites = serializers.DictField(
        child=serializers.IntegerField(), help_text="How many sites, by what you may do there."
    )


class BudgetOut(serializers.Serializer):
    """How much may be asked: so many requests at once, refilled evenly within the time."""

    requests = serializers.IntegerField(help_text="Requests at once.")
    seconds = serializers.IntegerField(help_text="Seconds in which a spent budget is full again.")


class LimitsOut(serializers.Serializer):
    """What the service takes from you."""

    requests = serializers.DictField(
        child=BudgetOut(), help_text="Budgets by policy, named as in `RateLimit-Policy`."
    )
    body_bytes = serializers.IntegerField(help_text="Bytes of a JSON body, at most.")
    page_rows = serializers.IntegerField(help_text="Rows of a page where `limit` is absent.")
    most_page_rows = serializers.IntegerField(help_text="Rows of a page, at most.")
    idempotency_days = serializers.IntegerField(
        help_text="Days for which the answer to an Idempotency-Key is kept."
    )


class MeOut(serializers.Serializer):
    """The caller as the service knows it."""

    organization = OrganizationOut(help_text="For whom the key speaks.")
    key = MyKeyOut(help_text="The key that asks.")
    member = MyMemberOut(
        allow_null=True, help_text="Whose key it is; null = the organization's own."
    )
    acts_for = ActsForOut(help_text="On whose sites you may act today.")
    sandbox = serializers.BooleanField(
        help_text="Whether this is a sandbox: nothing here reaches anybody real."
    )
    limits = LimitsOut(help_text="What the service takes from you.")
    library_version = serializers.CharField(
        help_text="Version of the rules library by which visits are judged now."
    )
    version = serializers.IntegerField(
        help_text="Of the organization; its ETag is made of it, for a change."
    )


class MeNamedOut(MeOut):
    """The caller, just changed."""

    warnings = WarningOut(
        many=True, help_text="Organizations you know whose names look like a name just given."
    )


class MeView(TenantView):
    """The caller as the service knows it."""

    scope = "organization"
    conditional = False  # more stands in it than the version tells

    def get_permissions(self) -> Any:
        """Whoever has a key may ask who they are; a change needs the scope."""
        asks = str(self.request.method) in SAFE_METHODS
        return [AnyKey()] if asks else super().get_permissions()

    @extend_schema(operation_id="read_me", responses=MeOut)
    def get(self, request: Request) -> Response:
        """Say who I am, for whom I may act, and within which limits.

        Any valid key may ask.
        """
        return tagged(_me(self.key))

    @extend_schema(operation_id="change_me", request=OrganizationPatch, responses=MeNamedOut)
    def patch(self, request: Request) -> Response:
        """Change what my organization says of itself: name, address, language.

        A new name that looks like that of an organization you know is taken all the same, and
        told of in `warnings`.
        """
        changed = read_patch(OrganizationPatch, request)
        organization = change_organization(
            organization_id=self.key.organization_id, expected=self.expected, **changed
        )
        alike = organizations_like(organization) if "name" in changed else []
        return tagged({**_me(self.key), "warnings": warnings_of(alike)})


def _me(key: KeyFound) -> dict[str, Any]:
    party = acting_party()
    organization = organization_row(party)
    return {
        "organization": organization,
        "key": {
            "id": key.key_id,
            "label": key.label,
            "scopes": sorted(key.scopes),
            "expires_at": key.expires_at,
        },
        "member": _member(key),
        "acts_for": _acts_for(),
        "sandbox": party.sandbox_id is not None,
        "limits": _limits(),
        "library_version": rules.__version__,
        "version": organization["version"],
    }


def _member(key: KeyFound) -> dict[str, Any] | None:
    if key.member_id is None:
        return None
    member = member_by_id(key.member_id)
    return {"id": member.id, "name": member.person.name, "role": member.role}


def _acts_for() -> dict[str, Any]:
    found = sites_by_custodian()
    sites = {action: sum(each[action] for each in found.values()) for action in ACTIONS}
    return {"organizations": len(found), "sites": sites}


def _limits() -> dict[str, Any]:
    return {
        "requests": {
            policy: {"requests": quota, "seconds": window}
            for policy, (quota, window) in settings.RATE_LIMITS.items()
        },
        "body_bytes": settings.DATA_UPLOAD_MAX_MEMORY_SIZE,
        "page_rows": DEFAULT_LIMIT,
        "most_page_rows": MAX_LIMIT,
        "idempotency_days": settings.IDEMPOTENCY_KEPT_FOR.days,
    }
