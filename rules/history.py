"""What was done at an opening before: read whole, every mistake named, before anything is counted.

An item is a visit, `{"activity": "periodic_inspection", "on": "2026-03-01"}`, with `"complete":
false` where a required item was left out, or an event, `{"event": "repair", "on": "2026-02-20"}`.
Days are civil days in the site's zone. Either may carry an `id` of the caller's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.errors import InputError, Problem
from rules.fields import Problems, civil_date, mapping, text, word
from rules.vocabulary import Activity

MAX_HISTORY = 50_000  # a visit a day for more than a century
_VISIT = frozenset(("activity", "on", "complete", "id"))
_EVENT = frozenset(("event", "on", "id"))


class Event(StrEnum):
    """What can happen at an opening, other than a visit, that makes an activity owed."""

    REPAIR = "repair"


@dataclass(frozen=True, slots=True)
class PastVisit:
    """One visit by its day; `complete` means that every required item was looked at."""

    on: date
    activity: Activity
    complete: bool


@dataclass(frozen=True, slots=True)
class History:
    """Visits and repairs, earliest first."""

    visits: tuple[PastVisit, ...] = ()
    repairs: tuple[date, ...] = ()

    def until(self, day: date) -> History:
        """What was known by the end of that day."""
        visits = tuple(visit for visit in self.visits if visit.on <= day)
        return History(visits, tuple(repair for repair in self.repairs if repair <= day))


def read_history(raw: object, pointer: str = "/history") -> History:
    """The history, in order of its days however it was sent.

    Raises InputError with every mistake found.
    """
    if not isinstance(raw, Sequence) or isinstance(raw, str | bytes):
        raise InputError.at(pointer, "not_a_list", "a history is a list of visits and events")
    if len(raw) > MAX_HISTORY:
        raise InputError.at(pointer, "too_many", f"at most {MAX_HISTORY} items are read")
    problems = Problems()
    visits: list[PastVisit] = []
    repairs: list[date] = []
    for number, item in enumerate(raw):
        _read_item(item, f"{pointer}/{number}", problems, visits, repairs)
    if problems.found:
        raise InputError(problems.found)
    visits.sort(key=lambda visit: visit.on)
    return History(tuple(visits), tuple(sorted(repairs)))


def not_counted(raw: Sequence[Mapping[str, object]], on: date) -> list[Problem]:
    """A remark on each item of a history that was read, which lies after the day asked about: that
    day knows nothing of it. It is no mistake, for one may ask how things stood on an earlier day.
    """
    read = Problems()
    for number, item in enumerate(raw):
        at = f"/{number}/on"
        day = civil_date(item["on"], at, read)
        if day and day > on:
            read.add(at, "not_counted", f"{day} is after {on}, the day asked about: not counted")
    return read.found


def _read_item(
    raw: object, at: str, problems: Problems, visits: list[PastVisit], repairs: list[date]
) -> None:
    is_event = isinstance(raw, Mapping) and "event" in raw
    fields = mapping(raw, _EVENT if is_event else _VISIT, at, problems)
    if not isinstance(raw, Mapping):
        return
    day = civil_date(fields.get("on"), f"{at}/on", problems)
    text(fields.get("id"), f"{at}/id", problems)
    if is_event:
        if word(fields["event"], Event, f"{at}/event", problems) and day:
            repairs.append(day)
        return
    activity = word(fields.get("activity"), Activity, f"{at}/activity", problems)
    complete = fields.get("complete", True)
    if not isinstance(complete, bool):
        problems.add(f"{at}/complete", "not_a_flag", "true or false is expected here")
    elif day and activity:
        visits.append(PastVisit(day, activity, complete))
