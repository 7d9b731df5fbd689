"""Calendar arithmetic of repeated work: ISO 8601 durations and what a publisher means by them.

The rules, which are stated here because no two publishers share them all:

* A duration is `PnY`, `PnM`, `PnW`, `PnD` or a mixture in that order. Years and months are added
  first, as months of the calendar, then weeks and days.
* A day that the target month does not have becomes that month's last day: one year from
  29 February 2028 is 28 February 2029, one month from 31 January 2027 is 28 February 2027.
* Several intervals from one anchor are counted in one step (`times`), never one upon another:
  two months from 31 January are 31 March, and four years from 29 February are 29 February.
* Days are civil days of the site. A moment, a zone or summer time plays no part here.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from rules.errors import InputError
from rules.model import IntervalSpec
from rules.vocabulary import Meaning

_DURATION = re.compile(
    r"P(?=\d)(?:(\d{1,3})Y)?(?:(\d{1,4})M)?(?:(\d{1,4})W)?(?:(\d{1,5})D)?", re.ASCII
)
_YEAR, _WEEK = 12, 7
_WHOLE_PARTS_OF_A_YEAR = (1, 2, 3, 4, 6, 12)  # months


@dataclass(frozen=True, slots=True)
class Period:
    """A duration of the calendar: whole months, then days."""

    months: int = 0
    days: int = 0


@dataclass(frozen=True, slots=True)
class Window:
    """The first day on which a visit meets a duty, the day it is owed, and the last day that is
    not overdue.
    """

    opens_on: date
    due_on: date
    closes_on: date


_ONE_DAY = Period(days=1)


@lru_cache(maxsize=512)
def parse_period(text: str, pointer: str = "") -> Period:
    """The period that an ISO 8601 duration of years, months, weeks and days writes.

    Refuses hours and shorter, fractions, signs and a duration of nothing.
    """
    found = _DURATION.fullmatch(text)
    if not found:
        message = "a duration is written PnYnMnWnD in whole numbers, such as P1Y, P3M or P10D"
        raise InputError.at(pointer, "not_a_duration", message)
    years, months, weeks, days = (int(part or 0) for part in found.groups())
    period = Period(years * _YEAR + months, weeks * _WEEK + days)
    if period == Period():
        raise InputError.at(pointer, "not_a_duration", "a duration is longer than nothing")
    return period


def add(day: date, period: Period, times: int = 1) -> date:
    """The day `times` periods after `day` (before it where `times` is negative)."""
    months = day.year * _YEAR + day.month - 1 + period.months * times
    year, month = divmod(months, _YEAR)
    try:
        last = calendar.monthrange(year, month + 1)[1]
        moved = date(year, month + 1, min(day.day, last))
        return moved + timedelta(days=period.days * times)
    except (ValueError, OverflowError) as beyond:
        raise InputError.at("", "out_of_range", "beyond the calendar's first or last year") from (
            beyond
        )


def next_day(day: date) -> date:
    """The day after."""
    return add(day, _ONE_DAY)


def window_after(last: date, spec: IntervalSpec) -> Window:
    """When the activity is owed again after it was done on `last`, in the publisher's meaning.

    * `not_later_than`: from the next day on, due when the interval is over.
    * `from_date`: the day when the interval is over, opened and closed by the tolerances.
    * `from_month`: the whole month in which the interval is over; the tolerances are counted from
      the last day of the month before it and from its own last day (a published reading of
      "quarterly, 10 days" so finds 21 May to 10 July for 15 March).
    * `calendar_period`: the next calendar week (Monday to Sunday), month, quarter and so on.
    * `between`: not before the least, due at the interval, not after the greatest.

    Raises InputError, by the key of the interval, for one that cannot be counted so.
    """
    if spec.meaning is Meaning.CALENDAR_PERIOD:
        return _calendar_window(next_day(_period_end(last, spec.every)), spec)
    due = add(last, parse_period(spec.every, "/every"))
    if spec.meaning is Meaning.BETWEEN:
        least = parse_period(spec.least, "/least")
        greatest = parse_period(spec.greatest, "/greatest")
        window = Window(add(last, least), due, add(last, greatest))
    else:
        window = tolerated(due, spec, opens=next_day(last))
    if not last < window.opens_on <= window.due_on <= window.closes_on:
        key = "/least" if spec.meaning is Meaning.BETWEEN else "/early"
        message = "a window opens after the last visit, is due then, and closes no sooner"
        raise InputError.at(key, "out_of_order", message)
    return window


def window_from_start(start: date, spec: IntervalSpec) -> Window:
    """When the activity is owed for the first time, counted from the day the rule or the door
    begins: one interval later, and every visit from that day on meets it.

    A calendar period that the start cuts is not owed; the first whole one is.
    """
    if spec.meaning is Meaning.CALENDAR_PERIOD:
        end = _period_end(start, spec.every)
        whole = start == _period_start(end, spec.every)
        return _calendar_window(start if whole else next_day(end), spec)
    later = window_after(start, spec)
    return Window(start, later.due_on, later.closes_on)


def tolerated(due: date, spec: IntervalSpec, *, opens: date) -> Window:
    """The window about a due day; `opens` stands where no tolerance says how early is too early."""
    first = last = due
    if spec.meaning is Meaning.FROM_MONTH:
        last = _month_end(due)
        first = add(due.replace(day=1), _ONE_DAY, -1)
    early = add(first, parse_period(spec.early, "/early"), -1) if spec.early else opens
    late = add(last, parse_period(spec.late, "/late")) if spec.late else last
    return Window(early, last, late)


def window_from_occasion(day: date, spec: IntervalSpec) -> Window:
    """When what a repair or an installation on `day` makes owed is due: at once, or after the
    interval.
    """
    due = add(day, parse_period(spec.every, "/every")) if spec.every else day
    return Window(day, due, add(due, parse_period(spec.late, "/late")) if spec.late else due)


# Among them the starts of the shortest and the longest months, quarters and years there are.
_EDGES = ("01-01", "01-31", "02-01", "02-28", "03-01", "07-01", "08-31", "11-30", "12-31")
_TRIED = (
    *(date.fromisoformat(f"{y}-{edge}") for y in (2000, 2023, 2024, 2099) for edge in _EDGES),
    date(2000, 2, 29),
    date(2024, 2, 29),
)


def check_interval(spec: IntervalSpec) -> None:
    """Raise InputError, by the key of the interval, where it gives no window on some day.

    It asks what counts the windows, so that nothing accepted here is refused later.
    """
    for day in _TRIED:
        if spec.after:
            window_from_occasion(day, spec)
        else:
            window_after(day, spec)
            window_from_start(day, spec)


def _calendar_window(first: date, spec: IntervalSpec) -> Window:
    last = _period_end(first, spec.every)
    late = add(last, parse_period(spec.late, "/late")) if spec.late else last
    return Window(first, last, late)


def _period_end(day: date, every: str) -> date:
    """The last day of the calendar period of that length which holds `day`."""
    period = parse_period(every, "/every")
    if period == Period(days=_WEEK):
        return add(day, _ONE_DAY, calendar.SUNDAY - day.weekday())
    if period.days or period.months not in _WHOLE_PARTS_OF_A_YEAR:
        message = "a calendar period is a week, or 1, 2, 3, 4, 6 or 12 months"
        raise InputError.at("/every", "not_a_calendar_period", message)
    month = -(-day.month // period.months) * period.months
    return _month_end(day.replace(month=month, day=1))


def _period_start(end: date, every: str) -> date:
    """The first day of the calendar period of that length which ends on `end`."""
    period = parse_period(every)
    if period.months:
        return add(end.replace(day=1), Period(period.months - 1), -1)
    return add(end, _ONE_DAY, 1 - period.days)


def _month_end(day: date) -> date:
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])
