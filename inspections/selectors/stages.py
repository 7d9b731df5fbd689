"""On which days what is said of a duty: before it is due, when it is due, once it is overdue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from inspections.models import Duty, Stage
from inspections.selectors.working_days import Calendar


@dataclass(frozen=True, slots=True)
class Moment:
    """One stage of one duty, and the working day at the site on which it is told.

    `step` are the days before the due day, or after the last day; `version` is the day that the
    stage is about, so that a duty that has moved is another thing to tell.
    """

    on: date
    stage: Stage
    step: int
    version: int


def moments_of(
    *, due_on: date, closes_on: date, terms: Mapping[str, Any], calendar: Calendar
) -> list[Moment]:
    """Every stage of a duty in the order in which they come.

    A day that is no working day waits for the next, never a day early; only a reminder that
    would so come when the duty is due already goes out on the working day before. Where two
    come on one day, the later one in this order is told.
    """
    before = [
        Moment(_before(due_on, lead, calendar), Stage.BEFORE_DUE, lead, due_on.toordinal())
        for lead in sorted(terms["lead_days"], reverse=True)
    ]
    due = Moment(calendar.working_day(due_on), Stage.DUE, 0, due_on.toordinal())
    after = [
        Moment(
            calendar.working_day(closes_on + timedelta(days=step)),
            Stage.OVERDUE,
            step,
            closes_on.toordinal(),
        )
        for step in sorted(terms["overdue_days"])
    ]
    return [*before, due, *after]


def _before(due_on: date, lead: int, calendar: Calendar) -> date:
    wanted = due_on - timedelta(days=lead)
    on = calendar.working_day(wanted)
    return on if on < due_on else calendar.working_day_before(due_on)


def reached(moments: Sequence[Moment], today: date) -> tuple[Moment | None, Moment | None]:
    """The latest moment that has come, and the next that will; what a later one has overtaken is
    not told any more.
    """
    come = [m for m in moments if m.on <= today]
    to_come = [m for m in moments if m.on > today]
    next_ = min(to_come, key=lambda m: m.on) if to_come else None
    return (come[-1] if come else None), next_


def is_about(duty: Duty, stage: str, version: int) -> bool:
    """Whether a reminder of that stage and version still tells of the duty's present window."""
    day = duty.closes_on if stage == Stage.OVERDUE else duty.due_on
    return duty.standing == Duty.Standing.RUNNING and day.toordinal() == version
