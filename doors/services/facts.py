"""What is so at an opening from a day on; what was so before is never rewritten."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import rules
from doors.clock import civil_date, start_of_day
from doors.errors import RefusedError
from doors.models import Job, Opening, OpeningFacts
from doors.selectors.jurisdictions import Place, place_of
from doors.selectors.openings import facts_row
from doors.services.jobs import ask_for_job
from doors.tenancy import current

# Facts that the opening itself keeps: its kind, its removal and its times out of service.
KEPT_ELSEWHERE = {
    "door_type": "Another kind of door is another opening, which replaces this one.",
    "in_service": "Record when it goes out of service and comes back.",
    "removed_on": "Record its removal.",
}


def facts_from(
    opening: Opening,
    facts: Mapping[str, Any],
    instructions: Sequence[Any],
    *,
    begins_on: date,
    place: Place,
    today: date,
) -> OpeningFacts:
    """The facts of an opening at that place from a day on, not yet kept; refuses what the rules
    library cannot read.
    """
    for name, instead in KEPT_ELSEWHERE.items():
        if name in facts and facts[name] != opening.door_type:
            raise RefusedError.at(f"/facts/{name}", instead)
    # With the layers laid here, so that the duties that follow ask the library for the same thing.
    rules.requirements(
        facts={"door_type": opening.door_type, **facts},
        jurisdiction=place.library_place,
        on=today,
        listed_instructions=instructions,
        layers=place.layers,
    )
    return OpeningFacts(
        site_id=opening.site_id,
        opening=opening,
        begins_on=begins_on,
        facts=dict(facts),
        listed_instructions=list(instructions),
        recorded_at=current().now,
    )


def next_facts(
    opening: Opening,
    changed: Mapping[str, Any],
    instructions: Sequence[Any] | None,
    begins_on: date,
) -> OpeningFacts:
    """Keep what is so from a day on: the facts of that day with `changed` set over them.

    What is not named stays as it was; null makes a fact unknown. No instructions leave those of
    the day as they are. Rows that begin later keep what they say.
    """
    before = facts_row(opening, begins_on)
    known = {**(before.facts if before else {}), **changed}
    listed = instructions
    if listed is None:
        listed = before.listed_instructions if before else []
    facts = {name: value for name, value in known.items() if value is not None}
    today = civil_date(current().now, opening.site.time_zone)
    place = place_of(opening.site_id, today)
    row = facts_from(opening, facts, listed, begins_on=begins_on, place=place, today=today)
    row.save(force_insert=True)
    return row


def settle_from(opening: Opening, on: date) -> Job | None:
    """Leave what follows from a future day's change to that day, as it begins at the site."""
    if on <= civil_date(current().now, opening.site.time_zone):
        return None
    arguments = {"site": str(opening.site_id), "opening": str(opening.id)}
    begins_at = start_of_day(on, opening.site.time_zone)
    return ask_for_job(kind="settle_opening", arguments=arguments, not_before=begins_at)
