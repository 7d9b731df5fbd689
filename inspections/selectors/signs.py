"""What a door's sound and standing may mean: by its own table, and else by common practice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import rules
from doors.clock import civil_date
from doors.models import Opening
from doors.selectors.openings import facts_on
from doors.tenancy import current
from inspections.models import SignTable


def own_entries(opening: Opening) -> list[dict[str, Any]]:
    """The rows of the door's own table; none where none was written."""
    found = SignTable.objects.filter(opening=opening).values_list("entries", flat=True).first()
    return list(found or [])


def meaning_of(opening: Opening, said: Mapping[str, str], language: str) -> dict[str, Any]:
    """The rules library's answer for this door. Where its own table speaks, nothing else does."""
    today = civil_date(current().now, opening.site.time_zone)
    facts = facts_on(opening, today).facts
    known = {name: value for name, value in facts.items() if name != "in_service"}
    answer = rules.signs(**said, facts=known, own=own_entries(opening), language=language)
    own = [each for each in answer["meanings"] if each["from"] == "listed_instructions"]
    return answer | {"meanings": own or answer["meanings"]}
