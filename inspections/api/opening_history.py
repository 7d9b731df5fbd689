"""What happened at an opening, of every kind together: `/v1/openings/{id}/history`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from inspections.selectors.history_sources import KINDS
from inspections.selectors.opening_history import Happened, history_of, opening_with_history


class HappenedOut(serializers.Serializer):
    """One thing that happened at an opening."""

    id = serializers.UUIDField(help_text="Of the thing itself; with `kind` unique in a history.")
    kind = serializers.ChoiceField(choices=KINDS, help_text="What happened; the list may grow.")
    at = serializers.DateTimeField(
        help_text="When: RFC 3339, UTC. Of a day, where no more is known, its beginning there."
    )
    on = serializers.DateField(help_text="The day of it, at the site.")
    by_day = serializers.BooleanField(help_text="Whether the day alone is known, not the hour.")
    who = serializers.CharField(
        allow_null=True,
        help_text="Name, at that time, of the organization; null where the record names none.",
    )
    what = serializers.CharField(help_text="What happened, in plain words.")
    path = serializers.CharField(help_text="Where the thing is read, with all that is known of it.")


def _row(happened: Happened) -> dict[str, Any]:
    names = ("id", "kind", "at", "on", "by_day", "who", "what", "path")
    return {name: getattr(happened, name) for name in names}


class OpeningHistoryView(TenantView):
    """The whole of one opening's record, by time."""

    scope = "openings"
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_opening_history", responses=HappenedOut(many=True))
    def get(self, request: Request, opening_id: UUID) -> Response:
        """List what happened at an opening, of every kind, the latest first.

        Facts, tags, outages, devices and batteries, custody, photos, visits and their corrections,
        visits reported from earlier records, deficiencies with their repairs and interim
        measures, packets over its site and the answers to them. What lies ahead, as a return to
        service that is arranged, stands first. You find what you may see of each kind and, of
        each noun, what your key may read. Who has left keeps what was theirs.
        """
        opening = opening_with_history(opening_id)

        def following(after: list[str] | None, most: int) -> list[Happened]:
            return history_of(opening, after=after, most=most, scopes=self.key.scopes)

        return self.merged_page(following, row=_row)
