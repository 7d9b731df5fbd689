"""Sandboxes: `/v1/sandboxes`."""

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
from doors.api.fields import IdField, InstantField, StrictSerializer, TextField
from doors.api.replays import idempotent
from doors.models import Capability, Sandbox, SandboxMessage
from doors.selectors.sandboxes import sandbox_by_id
from doors.tenancy import current
from inspections.api.visits import VisitOut, visit_row
from inspections.services.sandboxes import (
    PLACE,
    end_sandbox,
    make_door_fail,
    make_sandbox,
    reset_sandbox,
    set_clock,
)
from inspections.services.towns import ROLES, Inhabitant


class SandboxIn(StrictSerializer):
    """A sandbox to be made."""

    name = TextField(help_text="What you call it.")
    place = TextField(
        max_length=40,
        required=False,
        help_text=f"Code of the rules library's place its town lies under; {PLACE} where absent.",
    )


class ClockIn(StrictSerializer):
    """The moment that a sandbox's clock is to show."""

    now = InstantField(help_text="It runs on from there; at most ten years off, either way.")


class FailingVisitIn(StrictSerializer):
    """A visit that does not conform."""

    opening = IdField(required=False, help_text="Id of an opening; the first where absent.")


class SandboxOut(serializers.Serializer):
    """A closed group of invented organizations."""

    id = serializers.UUIDField(help_text="Its id.")
    name = serializers.CharField(help_text="What you call it.")
    place = serializers.CharField(help_text="The library's place that its town lies under.")
    seconds_ahead = serializers.IntegerField(
        help_text="How far its clock runs before the real one, in seconds; negative: behind."
    )
    now = serializers.DateTimeField(help_text="What its clock shows: RFC 3339, UTC.")
    created_at = serializers.DateTimeField(help_text="When it was made.")
    ended_at = serializers.DateTimeField(allow_null=True, help_text="When it ended.")
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


class InhabitantOut(serializers.Serializer):
    """One organization of a sandbox, with its key."""

    role = serializers.ChoiceField(choices=ROLES, help_text="What it is for.")
    organization = serializers.UUIDField(help_text="Id of the organization.")
    name = serializers.CharField(help_text="What it is called.")
    capabilities = serializers.ListField(
        child=serializers.ChoiceField(choices=Capability.choices), help_text="What it may be."
    )
    key = serializers.CharField(help_text="Its key, with every scope. Shown this once.")


class SandboxMadeOut(SandboxOut):
    """A sandbox with those in it, whose keys are shown this once."""

    organizations = InhabitantOut(many=True, help_text="An owner, a firm, an authority.")


class MessageOut(serializers.Serializer):
    """What would have left a sandbox; it was sent to nobody."""

    id = serializers.UUIDField(help_text="Id of the message.")
    organization = serializers.UUIDField(help_text="Whose message it is.")
    channel = serializers.ChoiceField(
        choices=SandboxMessage.Channel.choices, help_text="The way it would have taken."
    )
    recipient = serializers.CharField(help_text="The email address or URL it would have gone to.")
    subject = serializers.CharField(help_text="Of a mail; empty for a webhook.")
    headers = serializers.DictField(
        child=serializers.CharField(), help_text="With the signatures, as they would be verified."
    )
    body = serializers.CharField(help_text="The text; of a webhook byte for byte what is signed.")
    kept_at = serializers.DateTimeField(help_text="When it would have gone.")


def sandbox_row(sandbox: Sandbox) -> dict[str, Any]:
    """A sandbox as the API gives it."""
    names = ("id", "name", "place", "created_at", "ended_at", "version")
    return {name: getattr(sandbox, name) for name in names} | {
        "seconds_ahead": round(sandbox.clock_ahead.total_seconds()),
        "now": current().now + sandbox.clock_ahead,
    }


def message_row(message: SandboxMessage) -> dict[str, Any]:
    """A kept message as the API gives it."""
    names = ("id", "channel", "recipient", "subject", "headers", "body", "kept_at")
    return {name: getattr(message, name) for name in names} | {
        "organization": message.organization_id
    }


def _made(made: tuple[Sandbox, list[Inhabitant]]) -> Response:
    sandbox, inhabitants = made
    organizations = [
        {
            "role": each.role,
            "organization": each.organization.id,
            "name": each.organization.name,
            "capabilities": each.organization.capabilities,
            "key": each.key,
        }
        for each in inhabitants
    ]
    row = sandbox_row(sandbox) | {"organizations": organizations}
    return tagged(row, status=201, Location=f"/v1/sandboxes/{sandbox.id}")


class SandboxesView(TenantView):
    """The sandboxes you made, or are in."""

    scope = "sandboxes"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_sandboxes", responses=SandboxOut(many=True))
    def get(self, request: Request) -> Response:
        """List sandboxes, newest first."""
        rows = Sandbox.objects.all()
        return self.page(rows, order=("-created_at", "id"), row=sandbox_row)

    @extend_schema(operation_id="make_sandbox", request=SandboxIn, responses={201: SandboxMadeOut})
    def post(self, request: Request) -> Response:
        """Make a sandbox: an owner with buildings, a firm with leave there, an authority.

        Nothing in it meets anything real. Its mails and webhooks are kept to be read, and its
        authority answers what is filed with it by itself. It takes no Idempotency-Key: a kept
        answer would keep the keys. Repeating it makes another sandbox: after a lost answer, list
        your sandboxes, end the newest, and make it again.
        """
        body = SandboxIn(data=request.data)
        body.is_valid(raise_exception=True)
        return _made(make_sandbox(**body.validated_data))


class SandboxView(TenantView):
    """One sandbox."""

    scope = "sandboxes"

    @extend_schema(operation_id="read_sandbox", responses=SandboxOut)
    def get(self, request: Request, sandbox_id: UUID) -> Response:
        """Read one sandbox."""
        return tagged(sandbox_row(sandbox_by_id(sandbox_id)))


class SandboxClockView(TenantView):
    """The clock of one sandbox."""

    scope = "sandboxes"

    @extend_schema(operation_id="set_sandbox_clock", request=ClockIn, responses=SandboxOut)
    def put(self, request: Request, sandbox_id: UUID) -> Response:
        """Set its clock, forwards or back: what is due is then due by that day.

        When something happened, keys, signatures and the ledger go by the real clock.
        """
        body = ClockIn(data=request.data)
        body.is_valid(raise_exception=True)
        now = body.validated_data["now"].at
        return tagged(
            sandbox_row(set_clock(sandbox_id=sandbox_id, now=now, expected=self.expected))
        )


class SandboxMessagesView(TenantView):
    """What would have left one sandbox."""

    scope = "sandboxes"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_sandbox_messages", responses=MessageOut(many=True))
    def get(self, request: Request, sandbox_id: UUID) -> Response:
        """List its mails and webhooks, newest first; none of them was sent."""
        rows = SandboxMessage.objects.filter(sandbox=sandbox_by_id(sandbox_id))
        return self.page(rows, order=("-kept_at", "id"), row=message_row)


class SandboxFailingVisitsView(TenantView):
    """Doors that fail on request."""

    scope = "sandboxes"

    @extend_schema(operation_id="make_door_fail", request=FailingVisitIn, responses={201: VisitOut})
    @idempotent(required=False)
    def post(self, request: Request, sandbox_id: UUID) -> Response:
        """Have its firm record a visit that does not conform, with all that follows.

        Without an Idempotency-Key, repeating it records another visit.
        """
        body = FailingVisitIn(data=request.data)
        body.is_valid(raise_exception=True)
        opening_id = body.validated_data.get("opening")
        visit = make_door_fail(sandbox_id=sandbox_id, opening_id=opening_id)
        return Response(visit_row(visit), status=201)


class SandboxResetView(TenantView):
    """The renewal of one sandbox."""

    scope = "sandboxes"

    @extend_schema(operation_id="reset_sandbox", request=None, responses={201: SandboxMadeOut})
    def post(self, request: Request, sandbox_id: UUID) -> Response:
        """End a sandbox and make another like it, as on its first day, with new keys.

        It takes no Idempotency-Key: a kept answer would keep the keys. Repeating it is refused
        with 409, since the sandbox has ended: after a lost answer, list your sandboxes and reset
        the newest.
        """
        return _made(reset_sandbox(sandbox_id=sandbox_id))


class SandboxEndView(TenantView):
    """The end of one sandbox."""

    scope = "sandboxes"

    @extend_schema(operation_id="end_sandbox", request=None, responses=SandboxOut)
    def post(self, request: Request, sandbox_id: UUID) -> Response:
        """End a sandbox for ever: its keys are refused from then on.

        Repeating it is refused with 409 and changes nothing.
        """
        return tagged(sandbox_row(end_sandbox(sandbox_id=sandbox_id)))
