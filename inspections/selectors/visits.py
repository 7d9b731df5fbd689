"""Visits that stand, and the past of a door's readings."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any, TypeAlias
from uuid import UUID

from django.db.models import QuerySet

from doors.models import Opening
from doors.selectors.visible import visible
from inspections.models import Reading, Visit

Past: TypeAlias = "dict[str, list[dict[str, str]]]"  # of each quantity, the latest first

PAST_READINGS = 20  # of each quantity: enough for a median, bounded for a door of many years


def standing_visits(opening: Opening) -> QuerySet[Visit]:
    """The visits of an opening that no later one supersedes, oldest first."""
    return Visit.objects.filter(opening=opening, superseded_by=None).order_by(
        "performed_at", "received_at", "id"
    )


def visit_by_id(visit_id: UUID) -> Visit:
    """The visit, or nothing by this address.

    Its opening is not joined: who only wrote the visit no longer sees the opening.
    """
    return visible(Visit.objects.filter(id=visit_id))


def past_readings(opening: Opening, before: date) -> Past:
    """What this door measured before a day, by quantity, as the rules library takes a history."""
    rows = _readings(opening, before)
    past: dict[str, list[dict[str, str]]] = defaultdict(list)
    for quantity, value, unit in rows.values_list("quantity", "value", "unit"):
        if len(past[quantity]) < PAST_READINGS:
            past[quantity].append({"value": value, "unit": unit})
    return past


def last_readings(opening: Opening, before: date) -> list[dict[str, Any]]:
    """The last reading of each quantity before a day, with its visit and that one's day."""
    last: dict[str, dict[str, Any]] = {}
    names = ("quantity", "value", "unit", "visit_id", "performed_on")
    for quantity, value, unit, visit_id, on in _readings(opening, before).values_list(*names):
        told = {"quantity": quantity, "value": value, "unit": unit, "visit": visit_id, "on": on}
        last.setdefault(quantity, told)
    return [last[quantity] for quantity in sorted(last)]


def _readings(opening: Opening, before: date) -> QuerySet[Reading]:
    """Those of the standing visits, the latest first."""
    rows = Reading.objects.filter(opening=opening, performed_on__lt=before)
    return rows.filter(visit__superseded_by=None).order_by("-performed_on", "visit_id", "index")
