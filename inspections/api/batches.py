"""Visits from an app that was offline, many at once: `/v1/visits/batch`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
import structlog
from django.http import HttpResponse
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.fields import InstantField, StrictSerializer, TextField
from doors.api.parsing import LARGEST_WITH_TRACES
from doors.api.problems import ProblemError
from doors.api.replays import LONGEST_KEY, Attempt, answered_once, without, written_key
from doors.clock import Instant
from doors.errors import AlreadyExistsError
from doors.models import Capability
from inspections.api.findings import DifferenceOut
from inspections.api.visits import (
    BESIDE,
    SENT_AT,
    VisitIn,
    VisitOut,
    read_visit,
    recorded,
    told_apart,
    visit_row,
)
from inspections.models import Visit
from inspections.selectors.visits import visit_by_id
from inspections.services.visits import record_visit, recorded_already

MOST = 1_000

log = structlog.get_logger(__name__)


class EachField(serializers.Field[Any, Any, Any, Any]):
    """A list of which each item is read by itself, so that a bad one spoils no other."""

    default_error_messages = {
        "not_a_list": "This must be a list.",
        "wrong_number": f"One to {MOST} items.",
    }

    def to_internal_value(self, data: object) -> list[object]:
        """Return the items as sent."""
        if not isinstance(data, list):
            self.fail("not_a_list")
        if not 1 <= len(data) <= MOST:
            self.fail("wrong_number")
        return data


class EachFieldSchema(OpenApiSerializerFieldExtension):
    """Describes the list as one of whole visits."""

    target_class = EachField

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        """Return a list of references to the item's schema."""
        visit = auto_schema.resolve_serializer(BatchedVisitIn(), direction)
        return {"type": "array", "minItems": 1, "maxItems": MOST, "items": visit.ref}


class BatchedVisitIn(VisitIn):
    """A visit, and the key under which it is sent."""

    idempotency_key = TextField(
        required=False,
        max_length=LONGEST_KEY,
        help_text="The Idempotency-Key of this item, as it would stand on a request with it alone.",
    )


class BatchIn(StrictSerializer):
    """Visits to be recorded one after another, each by itself."""

    sent_at = InstantField(
        required=False, help_text=f"{SENT_AT} Of every item that says none of its own."
    )
    visits = EachField(help_text="In the order in which they are to be recorded.")


class BatchedVisitOut(VisitOut):
    """A visit as lists give it, with where it was judged otherwise than offline."""

    difference = DifferenceOut(
        allow_null=True, help_text="From the app's own judgement; null where it sent none."
    )


class ResultOut(serializers.Serializer):
    """What became of one item."""

    index = serializers.IntegerField(help_text="Its place in the list sent, from 0.")
    client_ref = serializers.CharField(
        allow_null=True, help_text="As sent; null where it cannot be read."
    )
    status = serializers.IntegerField(help_text="What a request with this item alone answers.")
    replayed = serializers.BooleanField(help_text="Whether it stood already, from this same item.")
    visit = BatchedVisitOut(allow_null=True, help_text="The visit; null where it was refused.")
    problem = serializers.DictField(
        allow_null=True, help_text="Why it was refused, with pointers into the item; else null."
    )


class BatchOut(serializers.Serializer):
    """What became of each item, in the order sent."""

    results = ResultOut(many=True, help_text="One for each item.")
    recorded = serializers.IntegerField(help_text="How many items stand now.")
    refused = serializers.IntegerField(help_text="How many items do not.")


@dataclass(frozen=True, slots=True)
class Came:
    """When a batch came, and what its device's clock showed."""

    received_at: datetime
    sent_at: Instant | None


class VisitBatchView(TenantView):
    """Visits of an app that was offline."""

    scope = "visits"
    capabilities = frozenset({Capability.INSPECTOR, Capability.OWNER})
    budgets = {"post": "long_work"}
    in_pieces = True
    largest_body = LARGEST_WITH_TRACES

    @extend_schema(operation_id="record_visits", request=BatchIn, responses=BatchOut)
    def post(self, request: Request) -> Response:
        """Record up to 1,000 visits; each succeeds or fails by itself, with its reason.

        Every item has its own transaction. Its `idempotency_key` is that of a request with it
        alone, before or after: sent again with the same content it is answered as before and
        stored no second time, with other content it is refused, and while the same is under way
        it is a conflict. Without a key its `client_ref` serves, so that with other content it is
        a conflict. So after a lost answer, send the same batch again.

        Say `sent_at` once, beside the list, or in an item that was sent at another time; where
        the batch is sent again it may be another.

        The body may hold 5 MB; visits with long raw traces go in several batches.
        """
        body = BatchIn(data=request.data)
        body.is_valid(raise_exception=True)
        with self.acting() as context:
            came = Came(context.now, body.validated_data.get("sent_at"))
        sent = body.validated_data["visits"]
        results = [self._result(index, item, came) for index, item in enumerate(sent)]
        refused = sum(result["visit"] is None for result in results)
        recorded = len(results) - refused
        return Response({"results": results, "recorded": recorded, "refused": refused})

    def _result(self, index: int, sent: object, came: Came) -> dict[str, Any]:
        reference = sent.get("client_ref") if isinstance(sent, Mapping) else None
        known = reference if isinstance(reference, str) else None
        result = {"index": index, "client_ref": known, "replayed": False}
        try:
            key, visit = _keyed(sent)
            done = self._recorded(visit, came) if key is None else self._once(key, visit, came)
            return result | done
        except Exception as exc:  # noqa: BLE001 (each item fails by itself, even by our fault)
            problem = orjson.loads(self._refusal(exc).content)
            return result | {"status": problem["status"], "visit": None, "problem": problem}

    def _recorded(self, sent: object, came: Came) -> dict[str, Any]:
        given = read_visit(sent, received_at=came.received_at, sent_at=came.sent_at)
        try:
            with self.acting():
                standing = recorded_already(**given)
                return _stands(standing or record_visit(**given), replayed=standing is not None)
        except AlreadyExistsError:  # perhaps by the same item, sent twice at once
            with self.acting():
                standing = recorded_already(**given)
                if standing is None:
                    raise
                return _stands(standing, replayed=True)

    def _once(self, key: str, sent: object, came: Came) -> dict[str, Any]:
        """Record an item under its key, as `/v1/visits` would, and let it be repeated there."""
        alone = self.request.path.removesuffix("/batch")
        attempt = Attempt(alone, key, without(sent, BESIDE), told_apart)
        known = []

        def work() -> Response:
            known.append(self._recorded(sent, came))
            return recorded(visit_by_id(known[0]["visit"]["id"]))

        with self.acting():
            answer = answered_once(self, attempt, work)
            assert isinstance(answer, HttpResponse)  # noqa: S101 (rendered, or kept as text)
            if known:
                return known[0]
            return _stands(visit_by_id(UUID(orjson.loads(answer.content)["id"])), replayed=True)

    def _refusal(self, exc: Exception) -> HttpResponse:
        """Return the answer that the same error of a single visit gets."""
        handler, context = self.get_exception_handler(), self.get_exception_handler_context()
        answer: HttpResponse | None = handler(exc, context)
        if answer is None:
            log.error("batch_item_failed", exc_info=exc)
            detail = "The failure is logged under the id of this request."
            answer = handler(ProblemError("internal_error", detail), context)
            assert answer is not None  # noqa: S101 (a problem always has an answer)
        return answer


def _keyed(sent: object) -> tuple[str | None, object]:
    """An item's key, and the visit without it."""
    if not isinstance(sent, Mapping) or "idempotency_key" not in sent:
        return None, sent
    visit = {name: value for name, value in sent.items() if name != "idempotency_key"}
    return written_key(sent["idempotency_key"]), visit


def _stands(visit: Visit, *, replayed: bool) -> dict[str, Any]:
    row = visit_row(visit) | {"difference": visit.difference}
    return {"status": 201, "replayed": replayed, "visit": row, "problem": None}
