"""Openings as they were on a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from doors.errors import NotVisibleError
from doors.models import Opening, OpeningFacts, OpeningTag, Outage


@dataclass(frozen=True, slots=True)
class FactsOnDay:
    """What was so at an opening on a day, as the rules library asks for it."""

    facts: dict[str, Any]
    listed_instructions: list[Any]


def opening_by_id(opening_id: UUID) -> Opening:
    """The opening with its site, or nothing by this address."""
    opening = Opening.objects.select_related("site").filter(id=opening_id).first()
    if opening is None:
        raise NotVisibleError
    return opening


def lock_opening(opening_id: UUID) -> None:
    """Let what follows from an opening's visits be worked out by one transaction at a time."""
    Opening.objects.select_for_update().filter(id=opening_id).first()


def facts_on(opening: Opening, on: date) -> FactsOnDay:
    """The facts of that day: the last row begun by then, or the first ever recorded.

    An opening is older than its record, so a day before the first row has that row's facts.
    """
    rows = OpeningFacts.objects.filter(opening=opening)
    row = rows.filter(begins_on__lte=on).order_by("-begins_on", "-recorded_at").first()
    row = row or rows.order_by("begins_on", "recorded_at").first()
    facts: dict[str, Any] = {"door_type": opening.door_type} | (row.facts if row else {})
    if opening.removed_on is not None and opening.removed_on <= on:
        facts["removed_on"] = opening.removed_on.isoformat()
    if outages_on(on).filter(opening=opening).exists():
        facts["in_service"] = False
    return FactsOnDay(facts, row.listed_instructions if row else [])


def outages_on(on: date) -> QuerySet[Outage]:
    """The outages that run on that day."""
    return Outage.objects.filter(Q(ends_on=None) | Q(ends_on__gt=on), begins_on__lte=on)


def tag_on(opening: Opening, on: date) -> str:
    """The tag the opening bore on that day."""
    borne = (
        OpeningTag.objects.filter(opening=opening, begins_on__lte=on)
        .filter(Q(ends_on=None) | Q(ends_on__gt=on))
        .first()
    )
    return borne.tag if borne else opening.tag
