"""A door's own table of signs: `/v1/openings/{id}/sign-table`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.api.etags import tagged
from doors.api.fields import StrictSerializer, TextField
from doors.models import KEEPERS
from doors.selectors.openings import opening_by_id
from inspections.models import SignTable
from inspections.services.sign_tables import set_sign_table
from rules.practice.signs import CALLS, SEEN

_MOST = 60


def _words(key: str, help_text: str) -> serializers.ListField:
    child = serializers.ChoiceField(choices=SEEN[key])
    return serializers.ListField(
        child=child, required=False, min_length=1, max_length=len(SEEN[key]), help_text=help_text
    )


def _sentences(help_text: str, **more: Any) -> serializers.ListField:
    return serializers.ListField(
        child=TextField(max_length=500), max_length=10, help_text=help_text, **more
    )


class SignIn(StrictSerializer):
    """What one sign of this door means by its own instructions. At least one of heard, door,
    mains and alarm is given; what is absent may be anything.
    """

    heard = _words("heard", "What is heard.")
    door = _words("door", "Where the door stands.")
    mains = _words("mains", "Whether there is mains.")
    alarm = _words("alarm", "Whether the building is in alarm.")
    may_mean = TextField(max_length=500, help_text="What it means.")
    do_first = _sentences("What to do first, in order.", min_length=1)
    do_not = _sentences("What not to do.", required=False)
    call = serializers.ListField(
        child=serializers.ChoiceField(choices=CALLS),
        required=False,
        min_length=1,
        max_length=len(CALLS),
        help_text="Whom to call; service_firm if absent.",
    )
    subject = TextField(
        max_length=120, required=False, help_text="What a report of it is about: `check:tracks`."
    )
    citation = serializers.DictField(
        child=TextField(max_length=200),
        help_text="Where it is written: publication, edition, clause.",
    )


class SignTableIn(StrictSerializer):
    """A door's own table, in place of what stood."""

    entries = serializers.ListField(
        child=SignIn(), max_length=_MOST, help_text="Its rows; the first that fits goes first."
    )


class SignTableOut(serializers.Serializer):
    """A door's own table."""

    opening = serializers.UUIDField()
    entries = serializers.ListField(child=serializers.DictField(), help_text="Its rows, as sent.")
    changed_at = serializers.DateTimeField(allow_null=True, help_text="Null: never written.")
    version = serializers.IntegerField(help_text="0 where none was written.")


def table_row(opening_id: UUID, table: SignTable | None) -> dict[str, Any]:
    """A door's table as the API gives it."""
    names = ("entries", "changed_at", "version")
    empty: dict[str, Any] = {"entries": [], "changed_at": None, "version": 0}
    stands = {name: getattr(table, name) for name in names} if table else empty
    return {"opening": opening_id} | stands


class SignTableView(TenantView):
    """What the sounds and the standing of one door mean by its own instructions."""

    scope = "openings"
    capabilities = KEEPERS

    @extend_schema(operation_id="read_sign_table", responses=SignTableOut)
    def get(self, request: Request, opening_id: UUID) -> Response:
        """Read a door's own table. Where it has no row that fits, common practice answers."""
        opening = opening_by_id(opening_id)
        return tagged(table_row(opening.id, SignTable.objects.filter(opening=opening).first()))

    @extend_schema(operation_id="set_sign_table", request=SignTableIn, responses=SignTableOut)
    def put(self, request: Request, opening_id: UUID) -> Response:
        """Write a door's own table, from the instructions on file for this very door."""
        body = SignTableIn(data=request.data)
        body.is_valid(raise_exception=True)
        table = set_sign_table(
            opening_id=opening_id,
            entries=body.initial_data["entries"],
            expected=self.expected,
        )
        return tagged(table_row(opening_id, table))
