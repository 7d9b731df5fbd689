"""What must move above this app in the same transaction, called by dotted name from settings.

`settings.REACTIONS` maps an event to functions of higher apps; this app imports none of them.
"""

from __future__ import annotations

from enum import StrEnum

from django.conf import settings
from django.utils.module_loading import import_string


class Event(StrEnum):
    """What happened here that somebody above depends on."""

    OPENINGS_ADDED = "openings_added"  # site=Site, facts=list[OpeningFacts], one of each opening
    OPENING_CHANGED = "opening_changed"  # opening=Opening
    CUSTODY_PASSED = "custody_passed"  # site=Site, begins_on=date
    PLACES_CHANGED = "places_changed"  # site=Site, begins_on=date
    OPENING_REMOVED = "opening_removed"  # opening=Opening, told before it is told as changed
    OPENINGS_TAKEN_BACK = "openings_taken_back"  # as added: removed, and nothing else came to them
    GRANT_CHANGED = "grant_changed"  # grant=Grant, ended=bool
    JOB_ENDED = "job_ended"  # job=Job


def react(event: Event, **what: object) -> None:
    """Call everybody who named themselves for this event, in order, in this transaction."""
    for name in settings.REACTIONS.get(event, ()):
        import_string(name)(**what)
