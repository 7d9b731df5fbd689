"""The calendar of what is due, as RFC 5545 with the properties of RFC 7986."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _
from icalendar import Calendar, Event

from inspections.selectors.citations import written_in

if TYPE_CHECKING:
    from inspections.models import Duty

ACTIVITY_WORDS = {
    "acceptance_test": _("acceptance test"),
    "operation_test": _("operation test"),
    "periodic_inspection": _("periodic inspection"),
    "repair_retest": _("retest after repair"),
}


def calendar_of(duties: Iterable[Duty], *, name: str, now: datetime) -> bytes:
    """One all-day event on the day each running duty is due; identities stay over fetches."""
    calendar = Calendar()
    calendar.add("prodid", "-//Fire door records//Duties//EN")
    calendar.add("version", "2.0")
    calendar.calendar_name = name
    calendar.add("refresh-interval", timedelta(hours=12), parameters={"VALUE": "DURATION"})
    for duty in duties:
        calendar.add_component(_event(duty, now))
    content: bytes = calendar.to_ical()
    return content


def _event(duty: Duty, now: datetime) -> Event:
    activity = ACTIVITY_WORDS[duty.activity]
    opening, site = duty.opening, duty.opening.site
    event = Event()
    event.add("uid", f"{duty.id}@duties.invalid")
    event.add("dtstamp", now)
    event.add("sequence", duty.version)
    event.add("summary", f"{site.name}: {activity} of fire door {opening.tag}")
    event.add("dtstart", duty.due_on)
    event.add("dtend", duty.due_on + timedelta(days=1))
    event.add("location", ", ".join([opening.location, *site.address]))
    event.add(
        "description",
        f"Due {duty.due_on}, at the latest {duty.closes_on}. {_asked_by(duty)} This entry neither"
        " replaces nor extends a legal date.",
    )
    event.add("transp", "TRANSPARENT")
    return event


def _asked_by(duty: Duty) -> str:
    """Who asks for it: law where its adoption is recorded, else a model text as reference."""
    text = written_in(duty.adopted_by or duty.citation)
    if duty.adoption == "recorded":
        return f"Required by {text}."
    return f"Asked for by {text}; no adoption is recorded for this place, so it is a reference."
