"""Keys of your organization: `/v1/keys`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import IdField, InstantField, StrictSerializer, TextField
from doors.models import EVERY_SCOPE, Key
from doors.selectors.visible import visible
from doors.services.keys import issue_key, revoke_key

_SCOPES = "What it may do: a noun, and read or write."


class KeyIn(StrictSerializer):
    """A key to be made."""

    label = TextField(  # type: ignore[assignment]  # declared fields are no attributes
        help_text="What it is for; two keys of one label may live, for rotation."
    )
    scopes = serializers.ListField(
        child=serializers.ChoiceField(choices=sorted(EVERY_SCOPE)),
        min_length=1,
        max_length=len(EVERY_SCOPE),
        help_text=f"{_SCOPES} None that your own key lacks.",
    )
    expires_at = InstantField(
        required=False,
        help_text="When it ends; never where absent. Not later than the key that makes it.",
    )
    member = IdField(
        required=False,
        help_text="Id of the member it is for: it keeps within the role and ends with it.",
    )


class KeyOut(serializers.Serializer):
    """A key, without its secret."""

    id = serializers.UUIDField(help_text="Its id.")
    label = serializers.CharField(  # type: ignore[assignment]  # declared fields are no attributes
        help_text="What it is for."
    )
    prefix = serializers.CharField(help_text="How its text begins, by which you know it again.")
    scopes = serializers.ListField(child=serializers.CharField(), help_text=_SCOPES)
    member = serializers.UUIDField(
        allow_null=True, help_text="Id of the member it is for; null = the organization's."
    )
    created_at = serializers.DateTimeField(help_text="When it was made, UTC.")
    expires_at = serializers.DateTimeField(
        allow_null=True, help_text="When it ends, UTC; null = it does not."
    )
    revoked_at = serializers.DateTimeField(
        allow_null=True, help_text="When it was revoked, UTC; null = it was not."
    )
    last_used_at = serializers.DateTimeField(
        allow_null=True, help_text="When it was last used, UTC, to the minute; null = never."
    )


class KeyMadeOut(KeyOut):
    """A key with its secret, this once."""

    key = serializers.CharField(help_text="Send it as `Authorization: Bearer`; shown this once.")


def key_row(key: Key) -> dict[str, Any]:
    """A key as the API gives it."""
    return {
        "id": key.id,
        "label": key.label,
        "prefix": f"fdk_{key.lookup}",
        "scopes": key.scopes,
        "member": key.member_id,
        "created_at": key.created_at,
        "expires_at": key.expires_at,
        "revoked_at": key.revoked_at,
        "last_used_at": key.last_used_at,
    }


class KeysView(TenantView):
    """The keys of your organization."""

    scope = "keys"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_keys", responses=KeyOut(many=True))
    def get(self, request: Request) -> Response:
        """List keys, also those that have ended, newest first."""
        return self.page(Key.objects.all(), order=("-created_at", "id"), row=key_row)

    @extend_schema(operation_id="issue_key", request=KeyIn, responses={201: KeyMadeOut})
    def post(self, request: Request) -> Response:
        """Make a key; its text is in this answer alone.

        It is never stored for a repetition: after a lost answer, revoke the key and make another.
        """
        body = KeyIn(data=request.data)
        body.is_valid(raise_exception=True)
        sent = body.validated_data
        expires_at = sent.get("expires_at")
        key, text = issue_key(
            label=sent["label"],
            scopes=sent["scopes"],
            expires_at=expires_at.at if expires_at else None,
            member_id=sent.get("member") or self.key.member_id,
            reach=self.key.scopes,
            reach_ends_at=self.key.expires_at,
        )
        location = f"/v1/keys/{key.id}"
        return Response({**key_row(key), "key": text}, status=201, headers={"Location": location})


class KeyView(TenantView):
    """One key of your organization."""

    scope = "keys"

    @extend_schema(operation_id="read_key", responses=KeyOut)
    def get(self, request: Request, key_id: UUID) -> Response:
        """Read one key, without its secret."""
        key = visible(Key.objects.filter(id=key_id))
        return Response(key_row(key))


class KeyRevocationView(TenantView):
    """The end of one key."""

    scope = "keys"

    @extend_schema(operation_id="revoke_key", request=None, responses=KeyOut)
    def post(self, request: Request, key_id: UUID) -> Response:
        """Revoke a key: the next request with it is refused. Repeating this changes nothing."""
        return Response(key_row(revoke_key(key_id=key_id)))
