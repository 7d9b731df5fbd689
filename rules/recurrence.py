"""How one repeated duty runs through the visits that meet it, and when it is owed next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rules.intervals import (
    Window,
    add,
    next_day,
    parse_period,
    tolerated,
    window_after,
    window_from_start,
)
from rules.model import IntervalSpec
from rules.vocabulary import Meaning

DUE_DATE = "due_date"
_ANCHORED = (Meaning.NOT_LATER_THAN, Meaning.FROM_DATE, Meaning.FROM_MONTH)


@dataclass(frozen=True, slots=True)
class Course:
    """Where the duty stands: its next window, the visit that last met it, and whether that visit
    came after its own window had closed.
    """

    window: Window
    last_on: date | None = None
    last_was_late: bool = False


def course(spec: IntervalSpec, start: date | None, visits: Sequence[date]) -> Course | None:
    """The course of a periodic duty; `visits` are the days of visits that can meet it, in order.

    `start` is the day the rule or the door began, None where that is unknown. A visit before the
    window opens does not meet the duty; one after it has closed does, late. None where neither a
    start nor a visit tells from when to count.
    """
    if spec.next_from == DUE_DATE and spec.meaning in _ANCHORED:
        return _anchored(spec, start, visits)
    return _rolling(spec, start, visits)


def _rolling(spec: IntervalSpec, start: date | None, visits: Sequence[date]) -> Course | None:
    """Each window is counted from the visit before it. Before the rule began no window was too
    early for a visit, so there the last one counts.
    """
    so_far = Course(window_from_start(start, spec)) if start else None
    for day in visits:
        first = so_far is None or so_far.last_on is None
        unruled = start is not None and day < start
        if so_far is None or first or unruled or day >= so_far.window.opens_on:
            late = so_far is not None and day > so_far.window.closes_on
            so_far = Course(_next_window(day, spec, start), day, late)
    return so_far


def _next_window(last: date, spec: IntervalSpec, start: date | None) -> Window:
    """After a visit from before the rule began, nothing is overdue on the rule's first day: what
    would have been owed before it is owed one interval after it.
    """
    window = window_after(last, spec)
    if start and last < start and window.due_on < start:
        return window_from_start(start, spec)
    return window


def _anchored(spec: IntervalSpec, start: date | None, visits: Sequence[date]) -> Course | None:
    """Due days stand fixed, whole intervals from the anchor; a visit never moves them."""
    if start is None and not visits:
        return None
    anchor = start or visits[0]
    course = Course(_fixed_window(spec, anchor, 1), None if start else anchor)
    met = 0
    for day in visits:
        if day < anchor or (start is None and day == anchor):
            continue
        number = _window_met(spec, anchor, met, day)
        if number > met:
            late = day > _fixed_window(spec, anchor, number).closes_on
            met = number
            course = Course(_fixed_window(spec, anchor, met + 1), day, late)
    return course


def _window_met(spec: IntervalSpec, anchor: date, met: int, day: date) -> int:
    """The number of the window that a visit meets: the last one open by then; where windows
    follow one another without a gap, the one before it while that is still unmet.
    """
    number = max(met, 1)
    while _fixed_window(spec, anchor, number + 1).opens_on <= day:
        number += 1
    if _fixed_window(spec, anchor, number).opens_on > day:
        return met
    return number - 1 if not spec.early and number - 1 > met else number


def _fixed_window(spec: IntervalSpec, anchor: date, number: int) -> Window:
    every = parse_period(spec.every)
    opens = next_day(add(anchor, every, number - 1)) if number > 1 else anchor
    return tolerated(add(anchor, every, number), spec, opens=opens)
