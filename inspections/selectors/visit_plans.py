"""The form of a visit for one door: what the library asks there, and what the service knows."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

import rules
from doors.models import Opening
from doors.selectors.devices import batteries_on, devices_on, moved_by
from doors.selectors.openings import tag_on
from inspections.models import Deficiency
from inspections.selectors.deficiencies import STANDING
from inspections.selectors.requirements import Applicable, applicable
from inspections.selectors.visits import last_readings


def visit_plan(opening: Opening, on: date, activity: str) -> dict[str, Any]:
    """Everything an app needs to build its screens for one activity at an opening on a day."""
    applying = applicable(opening, on)
    devices = list(devices_on(opening, on))
    return {
        "opening": {
            "id": opening.id,
            "site": opening.site_id,
            "tag": tag_on(opening, on),
            "location": opening.location,
            "floor": opening.floor,
            "door_type": opening.door_type,
        },
        "on": on,
        "digest": applying.requirements.digest,
        "library_version": rules.__version__,
        "plan": rules.visit_plan(applying.requirements, activity=activity),
        "listed_instructions": applying.known.listed_instructions,
        "devices": devices,
        "batteries": list(batteries_on(opening, on)),
        "initiating_devices": _initiating(opening, on, {d.reference for d in devices} - {""}),
        "deficiencies": _deficiencies(opening, applying),
        "last_readings": last_readings(opening, on),
    }


def _initiating(opening: Opening, on: date, references: set[str]) -> list[dict[str, Any]]:
    """What sets this door in motion, and the other doors that move with it."""
    moved = moved_by(opening.site_id, on, references)
    return [
        {
            "reference": reference,
            "others": [asdict(each) for each in moved[reference] if each.opening != opening.id],
        }
        for reference in sorted(moved)
    ]


def _deficiencies(opening: Opening, applying: Applicable) -> list[dict[str, Any]]:
    """What stands wrong, and what of it a retest covers before any part is named."""
    rows = Deficiency.objects.filter(opening=opening, state__in=STANDING)
    names = (
        "id",
        "subject",
        "requirements",
        "title",
        "words",
        "state",
        "opened_at",
        "retest_missing",
    )
    return [
        {
            **{name: getattr(each, name) for name in names},
            "retest": rules.retest_scope(applying.requirements, subjects=[each.subject], parts=[]),
        }
        for each in rows.order_by("-opened_at", "id")
    ]
