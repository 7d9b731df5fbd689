"""When people of a building may be written to: working days, public holidays, hours of a day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays

DAY = timedelta(days=1)
_LONGEST_REST = 60  # days in which there is a working day, or the policy names none that comes


@dataclass(frozen=True, slots=True)
class Calendar:
    """The days and hours of one building: `holidays_of` are country and subdivision, in the
    holiday library's codes; an empty country has no public holidays.
    """

    time_zone: str
    weekdays: frozenset[int]  # 1 = Monday
    holidays_of: tuple[str, str]
    send_at: time
    quiet_from: time
    quiet_until: time

    def works(self, on: date) -> bool:
        """Whether that civil day is a working day there."""
        return on.isoweekday() in self.weekdays and on not in _holidays(*self.holidays_of, on.year)

    def working_day(self, on: date) -> date:
        """That day, or the first working day after it."""
        return self._first(on + n * DAY for n in range(_LONGEST_REST))

    def working_day_before(self, on: date) -> date:
        """The last working day before that day."""
        return self._first(on - n * DAY for n in range(1, _LONGEST_REST))

    def instant_of(self, on: date) -> datetime:
        """When mail of that day goes out, in UTC.

        An hour that the clocks skip is read by the offset before the gap, so mail goes out as
        much later by the clock; of an hour that comes twice the first is meant.
        """
        local = datetime.combine(on, self.send_at, tzinfo=ZoneInfo(self.time_zone))
        return local.astimezone(UTC)

    def next_instant(self, now: datetime) -> datetime:
        """The first moment from now on at which a reminder may go out there, in UTC."""
        local = now.astimezone(ZoneInfo(self.time_zone))
        today = local.date()
        if self.works(today):
            if now <= self.instant_of(today):
                return self.instant_of(today)
            if not self.quiet(local.time()):
                return now
        return self.instant_of(self.working_day(today + DAY))

    def quiet(self, at: time) -> bool:
        """Whether that time of day lies in the quiet hours, which may pass midnight."""
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= at < self.quiet_until
        return at >= self.quiet_from or at < self.quiet_until

    def _first(self, days: Iterable[date]) -> date:
        tried = list(days)
        return next((day for day in tried if self.works(day)), tried[0])


@lru_cache(maxsize=512)
def _holidays(country: str, subdivision: str, year: int) -> frozenset[date]:
    if not country:
        return frozenset()
    return frozenset(holidays.country_holidays(country, subdiv=subdivision or None, years=year))


@lru_cache(maxsize=512)
def holidays_known(country: str, subdivision: str = "") -> bool:
    """Whether the holiday library knows that country, and that part of it where one is named."""
    try:
        holidays.country_holidays(country, subdiv=subdivision or None)
    except NotImplementedError:
        return False
    return True


def holidays_of(codes: Iterable[str]) -> tuple[str, str]:
    """Whose public holidays hold in a place with these codes, the country's first; empty where
    the library knows none.
    """
    country, subdivision = "", ""
    for code in codes:
        first, _, rest = code.upper().partition("-")
        if not country and holidays_known(first):
            country = first
        part = rest.partition("-")[0]
        if country == first and part and holidays_known(country, part):
            subdivision = part
    return country, subdivision
