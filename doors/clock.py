"""Civil days of a place and instants of the world, and the way from one to the other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache
from zoneinfo import ZoneInfo, available_timezones

from doors.errors import RefusedError


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment, and the text by which it was given: the offset is part of what was said."""

    at: datetime
    as_sent: str


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    return frozenset(available_timezones())


def zone(name: str) -> ZoneInfo:
    """The IANA time zone of that name; refuses any other text."""
    if name not in _known():
        raise RefusedError.at("/time_zone", f"There is no IANA time zone {name[:64]!r}.")
    return ZoneInfo(name)


def instant_told(text: str) -> datetime:
    """The instant that a text accepted as one names; RFC 3339 lets T and Z be small letters."""
    return datetime.fromisoformat(text.upper())


def civil_date(instant: datetime, time_zone: str) -> date:
    """The day on the calendar of that zone."""
    return instant.astimezone(ZoneInfo(time_zone)).date()


def start_of_day(on: date, time_zone: str) -> datetime:
    """The instant at which that day begins there, in UTC.

    Where the clocks skip midnight the day begins with the first instant after the gap.
    """
    return datetime.combine(on, time(0), tzinfo=ZoneInfo(time_zone)).astimezone(UTC)
