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
    came after its own window had closed. `counted_from` is the day the rule or the door began, the
    first visit where neither is known.
    """

    window: Window
    last_on: date | None = None
    last_was_late: bool = False
    counted_from: date = date.min


def course(
    spec: IntervalSpec, start: date | None, visits: Sequence[date], before: Course | None = None
) -> Course | None:
    """The course of a periodic duty; `visits` are the days of visits that can meet it, in order.

    `start` is the day the rule or the door began, None where that is unknown. A visit before the
    window opens does not meet the duty; one after it has closed does, late. None where neither a
    start nor a visit tells from when to count. Where another interval bound until `start`,
    `before` is its course, and `visits` are those from that day on.
    """
    first = None if start is None else _first(spec, start, before)
    if _is_fixed(spec):
        return _anchored(spec, first, list(dict.fromkeys(visits)))
    return _rolling(spec, first, visits)


def _is_fixed(spec: IntervalSpec) -> bool:
    return spec.next_from == DUE_DATE and spec.meaning in _ANCHORED


def _first(spec: IntervalSpec, start: date, before: Course | None) -> Course:
    """Where it stands while nobody came under it: owed one interval after its beginning.

    A changed interval is counted on from the last visit, or the beginning, of the one before it.
    Where that day lies before the change, or due days stand fixed, it begins anew; so nobody is
    overdue by the change, but it puts off nothing that was owed already.
    """
    anew = _fixed_window(spec, start, 1) if _is_fixed(spec) else window_from_start(start, spec)
    if before is None:
        return Course(anew, counted_from=start)
    last, counted_from = before.last_on, before.counted_from
    window = window_after(last, spec) if last else window_from_start(counted_from, spec)
    if _is_fixed(spec) or window.due_on < start:
        window = min(anew, before.window, key=lambda one: one.due_on)
    return Course(window, last, before.last_was_late, start)


def _rolling(spec: IntervalSpec, first: Course | None, visits: Sequence[date]) -> Course | None:
    """Each window is counted from the visit before it. Before the rule began no window was too
    early for a visit, so there the last one counts.
    """
    so_far, start = first, first.counted_from if first else None
    for day in visits:
        unruled = start is not None and day < start
        if so_far is None or so_far.last_on is None or unruled or day >= so_far.window.opens_on:
            late = so_far is not None and day > so_far.window.closes_on
            so_far = Course(_next_window(day, spec, start), day, late, start or day)
    return so_far


def _next_window(last: date, spec: IntervalSpec, start: date | None) -> Window:
    """After a visit from before the rule began, nothing is overdue on the rule's first day: what
    would have been owed before it is owed one interval after it.
    """
    window = window_after(last, spec)
    if start and last < start and window.due_on < start:
        return window_from_start(start, spec)
    return window


def _anchored(spec: IntervalSpec, first: Course | None, visits: Sequence[date]) -> Course | None:
    """Due days stand fixed, whole intervals from the anchor; a visit never moves them, and one on
    the anchor's own day is not yet the next one's. What was owed under an interval before this one
    is met first, while the first due day is to come.
    """
    if first is None and not visits:
        return None
    anchor = first.counted_from if first else visits[0]
    fixed = _fixed_window(spec, anchor, 1)
    so_far = first or Course(fixed, counted_from=anchor)
    carried = so_far.window if so_far.window.due_on < fixed.due_on else None
    met = 0
    for day in visits:
        number = _window_met(spec, anchor, met, day)
        if carried and carried.opens_on <= day < fixed.due_on:
            window, met = carried, 0
        elif number > met:
            window, met = _fixed_window(spec, anchor, number), number
        elif day == anchor:
            window = fixed
        else:
            continue
        carried = None
        so_far = Course(_fixed_window(spec, anchor, met + 1), day, day > window.closes_on, anchor)
    return so_far


def _window_met(spec: IntervalSpec, anchor: date, met: int, day: date) -> int:
    """The number of the window that a visit meets: the first unmet one that has not closed. Where
    all before it have closed, the last one open by then; where windows follow one another without
    a gap, the one before it while that is still unmet, until the next due day has come.
    """
    number = max(met, 1)
    while _fixed_window(spec, anchor, number + 1).opens_on <= day:
        number += 1
    if _fixed_window(spec, anchor, number).opens_on > day:
        return met
    for earlier in range(met + 1, number):
        if day <= _fixed_window(spec, anchor, earlier).closes_on:
            return earlier
    makes_up = number - 1 > met and not spec.early
    return number - 1 if makes_up and day < _fixed_window(spec, anchor, number).due_on else number


def _fixed_window(spec: IntervalSpec, anchor: date, number: int) -> Window:
    every = parse_period(spec.every)
    opens = next_day(add(anchor, every, number - 1))
    return tolerated(add(anchor, every, number), spec, opens=opens)
