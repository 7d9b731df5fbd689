"""Webhooks: `/v1/webhooks`."""

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
from doors.api.fields import StrictSerializer, TextField
from doors.api.patches import Patch, read_patch
from doors.selectors.visible import visible
from inspections.api.deliveries import DeliveryOut, delivery_row
from inspections.models import Webhook
from inspections.services.webhooks import (
    ASKABLE,
    change_webhook,
    end_webhook,
    make_webhook,
    refuse_address,
    rotate_secret,
    try_webhook,
)

_URL = "Where to post: https, port 443, a name of the public DNS."
_EVENTS = "What to be told of; the list of kinds may grow."
_SETTABLE = ["enabled", "paused"]


def _events() -> serializers.ListField:
    return serializers.ListField(
        child=serializers.ChoiceField(choices=ASKABLE),
        min_length=1,
        max_length=len(ASKABLE),
        help_text=_EVENTS,
    )


class WebhookIn(StrictSerializer):
    """An address of yours that is to be told."""

    url = TextField(max_length=2000, help_text=_URL)
    events = _events()
    name = TextField(required=False, help_text="What you call it.")


class WebhookPatch(Patch):
    """What may change about a webhook."""

    url = TextField(max_length=2000, help_text=_URL)
    events = _events()
    name = TextField(help_text="What you call it.")
    state = serializers.ChoiceField(
        choices=_SETTABLE,
        help_text="paused: nothing is made for it meanwhile, and what waits is withdrawn.",
    )


class SecretOut(serializers.Serializer):
    """That there is a secret, and until when it signs."""

    created_at = serializers.DateTimeField(help_text="When it was made.")
    ends_at = serializers.DateTimeField(
        allow_null=True, help_text="From when on it signs no more; null: it stands."
    )


class WebhookOut(serializers.Serializer):
    """An address of yours, and what it is told."""

    id = serializers.UUIDField(help_text="Its id.")
    name = serializers.CharField(help_text="What you call it; may be empty.")
    url = serializers.CharField(help_text="Where it is posted to.")
    events = serializers.ListField(
        child=serializers.ChoiceField(choices=ASKABLE), help_text=_EVENTS
    )
    state = serializers.ChoiceField(
        choices=Webhook.State.choices,
        help_text="disabled: it answered 410; enable it again when it wants more. ended: for ever.",
    )
    secrets = SecretOut(many=True, help_text="Those that sign, or signed; never their text.")
    created_at = serializers.DateTimeField(help_text="When it was made.")
    version = serializers.IntegerField(help_text="Rises with each change; its ETag is made of it.")


class WebhookMadeOut(WebhookOut):
    """A webhook with its newest secret, which is shown this once."""

    secret = serializers.CharField(
        help_text="`whsec_` and 32 bytes in base64: verify with it what arrives. Shown this once."
    )


def webhook_row(webhook: Webhook) -> dict[str, Any]:
    """A webhook as the API gives it."""
    return {
        "id": webhook.id,
        "name": webhook.label,
        "url": webhook.url,
        "events": webhook.events,
        "state": webhook.state,
        "secrets": [
            {"created_at": secret.created_at, "ends_at": secret.ends_at}
            for secret in webhook.secrets.all()
        ],
        "created_at": webhook.created_at,
        "version": webhook.version,
    }


def _fields(given: dict[str, Any]) -> dict[str, Any]:
    """What is `name` to a caller is `label` in the table."""
    return {"label" if name == "name" else name: value for name, value in given.items()}


def _shown(webhook_id: UUID) -> dict[str, Any]:
    webhook = visible(Webhook.objects.prefetch_related("secrets").filter(id=webhook_id))
    return webhook_row(webhook)


class WebhooksView(TenantView):
    """The addresses of yours that are told what happens."""

    scope = "webhooks"
    parameters = {"get": paging.PARAMETERS}
    given: dict[str, Any]

    def prepare(self, request: Request) -> None:
        """Ask for the address before anything is locked: a name server may take its time."""
        super().prepare(request)
        if request.method == "POST":
            body = WebhookIn(data=request.data)
            body.is_valid(raise_exception=True)
            self.given = _fields(body.validated_data)
            refuse_address(self.given["url"], self.key.organization_id)

    @extend_schema(operation_id="list_webhooks", responses=WebhookOut(many=True))
    def get(self, request: Request) -> Response:
        """List your webhooks, newest first."""
        rows = Webhook.objects.prefetch_related("secrets")
        return self.page(rows, order=("-created_at", "id"), row=webhook_row)

    @extend_schema(operation_id="make_webhook", request=WebhookIn, responses={201: WebhookMadeOut})
    def post(self, request: Request) -> Response:
        """Have events told at an address of yours.

        The answer holds the secret, this once. It takes no Idempotency-Key: a kept answer would
        keep the secret. Repeating it makes another webhook, and both are told: after a lost
        answer, list your webhooks, end the newest, and make it again.
        """
        webhook, secret = make_webhook(**self.given)
        row = _shown(webhook.id) | {"secret": secret}
        return tagged(row, status=201, Location=f"/v1/webhooks/{webhook.id}")


class WebhookView(TenantView):
    """One webhook."""

    scope = "webhooks"
    changed: dict[str, Any]

    def prepare(self, request: Request) -> None:
        """Ask for another address before anything is locked, as where one is made."""
        super().prepare(request)
        if request.method == "PATCH":
            self.changed = _fields(read_patch(WebhookPatch, request))
            if "url" in self.changed:
                refuse_address(self.changed["url"], self.key.organization_id)

    @extend_schema(operation_id="read_webhook", responses=WebhookOut)
    def get(self, request: Request, webhook_id: UUID) -> Response:
        """Read one webhook, without its secret."""
        return tagged(_shown(webhook_id))

    @extend_schema(operation_id="change_webhook", request=WebhookPatch, responses=WebhookOut)
    def patch(self, request: Request, webhook_id: UUID) -> Response:
        """Change where, what or whether it tells."""
        change_webhook(webhook_id=webhook_id, expected=self.expected, **self.changed)
        return tagged(_shown(webhook_id))


class WebhookEndView(TenantView):
    """The end of one webhook."""

    scope = "webhooks"

    @extend_schema(operation_id="end_webhook", request=None, responses=WebhookOut)
    def post(self, request: Request, webhook_id: UUID) -> Response:
        """End a webhook for ever; what is on its way to it is withdrawn.

        Repeating it is refused with 409 and changes nothing.
        """
        end_webhook(webhook_id=webhook_id)
        return tagged(_shown(webhook_id))


class WebhookSecretsView(TenantView):
    """The secrets of one webhook."""

    scope = "webhooks"

    @extend_schema(operation_id="rotate_secret", request=None, responses={201: WebhookMadeOut})
    def post(self, request: Request, webhook_id: UUID) -> Response:
        """Make another secret, shown this once; for 24 hours the one before it signs as well.

        At most two sign at a time: a third ends the oldest at once, so after a leak ask twice.
        It takes no Idempotency-Key: a kept answer would keep the secret. After a lost answer read
        the webhook. Where `secrets` shows the new one, asking again ends the one that you verify
        with now: put the answer of that in place at once.
        """
        _, secret = rotate_secret(webhook_id=webhook_id)
        return tagged(_shown(webhook_id) | {"secret": secret}, status=201)


class WebhookTestView(TenantView):
    """A try of one webhook."""

    scope = "webhooks"

    @extend_schema(operation_id="test_webhook", request=None, responses={202: DeliveryOut})
    def post(self, request: Request, webhook_id: UUID) -> Response:
        """Have a `webhook.tested` sent, to see that it arrives.

        Repeating it sends another one, which means nothing either.
        """
        delivery = try_webhook(webhook_id=webhook_id)
        headers = {"Location": f"/v1/webhook-deliveries/{delivery.id}"}
        return Response(delivery_row(delivery), status=202, headers=headers)
