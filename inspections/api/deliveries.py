"""What became of what webhooks were told: `/v1/webhook-deliveries`."""

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
from doors.api.queries import uuid_parameter
from doors.selectors.visible import visible
from inspections.models import EventType, WebhookAttempt, WebhookDelivery
from inspections.services.deliveries import deliver_again

WORDS = {
    "waiting": "waiting",
    "claimed": "waiting",
    "sending": "sending",
    "done": "delivered",
    "failed": "failed",
    "withdrawn": "withdrawn",
    "unknown": "unknown",
}
STATES = sorted(set(WORDS.values()))
_WEBHOOK = OpenApiParameter("webhook", OpenApiTypes.UUID, description="Of this webhook alone.")
_STATE = OpenApiParameter("state", str, enum=STATES, description="In this state alone.")


class AttemptOut(serializers.Serializer):
    """One try to deliver."""

    number = serializers.IntegerField(help_text="Which try, counted over all of them.")
    begun_at = serializers.DateTimeField(help_text="When it was made.")
    ended_at = serializers.DateTimeField(allow_null=True, help_text="When it had ended.")
    outcome = serializers.ChoiceField(
        choices=WebhookAttempt.Outcome.choices,
        help_text="unknown: our worker died meanwhile, so it may have arrived; it was made again.",
    )
    status = serializers.IntegerField(
        allow_null=True, help_text="The HTTP status of the answer; its body is not kept."
    )
    problem = serializers.CharField(help_text="Why it did not arrive, in words; may be empty.")


class DeliveryOut(serializers.Serializer):
    """One event for one webhook."""

    id = serializers.UUIDField(
        help_text="The `webhook-id` of every try: a receiver knows repetitions by it."
    )
    webhook = serializers.UUIDField(help_text="The webhook it is for.")
    type = serializers.ChoiceField(choices=EventType.choices, help_text="What happened.")
    thing = serializers.UUIDField(help_text="Id of what it happened to.")
    state = serializers.ChoiceField(
        choices=STATES,
        help_text="withdrawn: there was no reason to send it any more; `problem` says why.",
    )
    tries = serializers.IntegerField(help_text="How often it was tried.")
    next_try_at = serializers.DateTimeField(
        allow_null=True, help_text="When it is tried next; null where it is not."
    )
    problem = serializers.CharField(help_text="Why it has not arrived, in words; may be empty.")
    request_id = serializers.UUIDField(
        allow_null=True, help_text="The request that caused it; null where none did."
    )
    created_at = serializers.DateTimeField(help_text="When it came to be owed.")
    ended_at = serializers.DateTimeField(
        allow_null=True, help_text="When it had come to an end; null while it is tried."
    )


class DeliveryWithAttemptsOut(DeliveryOut):
    """One event for one webhook, with every try and the very text that is sent."""

    payload = serializers.CharField(help_text="The text that is signed and sent, byte for byte.")
    attempts = AttemptOut(many=True, help_text="Every try, the first first.")


def delivery_row(delivery: WebhookDelivery) -> dict[str, Any]:
    """A delivery as the API gives it in a list."""
    state = WORDS[delivery.state]
    return {
        "id": delivery.id,
        "webhook": delivery.webhook_id,
        "type": delivery.type,
        "thing": delivery.thing,
        "state": state,
        "tries": delivery.attempt,
        "next_try_at": delivery.not_before if state == "waiting" else None,
        "problem": delivery.problem,
        "request_id": delivery.request_id,
        "created_at": delivery.created_at,
        "ended_at": delivery.ended_at,
    }


def _whole(delivery: WebhookDelivery) -> dict[str, Any]:
    names = ("number", "begun_at", "ended_at", "outcome", "status", "problem")
    attempts = delivery.attempts.order_by("number")
    return delivery_row(delivery) | {
        "payload": delivery.payload,
        "attempts": [{name: getattr(each, name) for name in names} for each in attempts],
    }


class DeliveriesView(TenantView):
    """What your webhooks were told, or are about to be."""

    scope = "webhooks"
    parameters = {"get": (_WEBHOOK, _STATE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_webhook_deliveries", responses=DeliveryOut(many=True))
    def get(self, request: Request) -> Response:
        """List deliveries, newest first."""
        rows = WebhookDelivery.objects.defer("payload")
        webhook_id = uuid_parameter(request, "webhook")
        if webhook_id is not None:
            rows = rows.filter(webhook_id=webhook_id)
        asked = request.query_params.get("state")
        if asked is not None:
            rows = rows.filter(state__in=[own for own, told in WORDS.items() if told == asked])
        return self.page(rows, order=("-created_at", "id"), row=delivery_row)


class DeliveryView(TenantView):
    """One delivery."""

    scope = "webhooks"

    @extend_schema(operation_id="read_webhook_delivery", responses=DeliveryWithAttemptsOut)
    def get(self, request: Request, delivery_id: UUID) -> Response:
        """Read one delivery with every try."""
        delivery = visible(WebhookDelivery.objects.filter(id=delivery_id))
        return Response(_whole(delivery))


class RedeliveryView(TenantView):
    """One delivery once more."""

    scope = "webhooks"

    @extend_schema(operation_id="redeliver_webhook", request=None, responses={202: DeliveryOut})
    def post(self, request: Request, delivery_id: UUID) -> Response:
        """Have a delivery that has ended made again, under the same id."""
        return Response(delivery_row(deliver_again(delivery_id=delivery_id)), status=202)
