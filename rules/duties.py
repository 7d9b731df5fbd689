"""What is owed on an opening, and by when: windows and states from intervals and a history.

* A visit meets a duty when it is complete and its activity is the one owed or is listed by the
  requirement as meeting it. Verdicts play no part: a door that failed was inspected.
* A `repair_retest` moves no periodic duty.
* One visit may meet several duties; each runs by its own requirement.
* Without a visit, a duty is first owed one interval after the rule or the door began, whichever
  is later. Where neither is known it is owed now, and says which fact is missing.
* A rule that begins finds nobody overdue. A rule that is changed puts off nothing that was owed.
* What a repair or an installation makes owed is owed once for each, and then `met`.
* Where a fact is missing that tells whether a requirement applies, nothing is known to be owed:
  the duty is `suspended`, names the fact, and runs as soon as the fact is told.
* Advisory intervals, and those whose subject is another thing than the opening, are no duties.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from rules.asking import requirements
from rules.history import History, read_history
from rules.intervals import Period, Window, add, window_from_occasion
from rules.layers import Layer, Library
from rules.model import IntervalSpec, Resolved
from rules.recurrence import Course, course
from rules.vocabulary import Activity, DutyState

AFTER_REPAIR = "repair"
_OVER = frozenset((DutyState.ENDED, DutyState.MET))
_BEGINNINGS = ("installed_on", "altered_on")
Reign = tuple[IntervalSpec, date | None]  # an interval, and the first day on which it bound


@dataclass(frozen=True, slots=True)
class Duty:
    """One activity owed under one requirement. `missing_facts` is not empty where it cannot be
    told whether the requirement applies, or from when to count. `reason` says why it is suspended,
    and is empty in every other state.
    """

    owed_by: Resolved
    spec: IntervalSpec
    course: Course
    state: DutyState
    missing_facts: tuple[str, ...]
    reason: str = ""


def owed(
    items: Iterable[Resolved], facts: Mapping[str, object], history: History, on: date
) -> list[Duty]:
    """The duties on one day, soonest first; what happened after that day is not counted.

    `facts` are checked facts. `removed_on` ends every duty, `in_service` false suspends it.
    """
    known = history.until(on)
    found = [
        duty
        for item in items
        if isinstance(item.requirement.spec, IntervalSpec)
        and not item.advisory
        and not item.requirement.spec.subject
        and (duty := _duty(item, item.requirement.spec, facts, known, on))
    ]
    return sorted(found, key=lambda duty: (duty.course.window.due_on, duty.owed_by.requirement.id))


def _duty(
    item: Resolved, spec: IntervalSpec, facts: Mapping[str, object], history: History, on: date
) -> Duty | None:
    began = _began(facts)
    if spec.after:
        visits = _visits(spec, history)
        occasions = _occasions(spec, item.since, began, history)
        if occasions == []:
            return None
        standing, met = _after_occasion(spec, occasions, visits)
    else:
        reigns = [*_earlier(item, spec), (spec, item.since)]
        standing, met = _repeated(reigns, began, history), False
    missing = item.missing_facts
    if standing is None:
        standing = Course(Window(on, on, on))
        missing = tuple(dict.fromkeys((*missing, _BEGINNINGS[0])))
    state = _state(facts, standing.window, met=met, on=on)
    reason = _not_running(item, facts) if state not in _OVER else ""
    return Duty(item, spec, standing, DutyState.SUSPENDED if reason else state, missing, reason)


def _not_running(item: Resolved, facts: Mapping[str, object]) -> str:
    """Why nothing is owed for now, empty where something is."""
    if item.missing_facts:
        return f"fact_missing: {', '.join(item.missing_facts)}"
    return "out_of_service" if facts.get("in_service") is False else ""


def _began(facts: Mapping[str, object]) -> date | None:
    """The day from which this door is the door it is."""
    days = [day for name in _BEGINNINGS if isinstance(day := facts.get(name), date)]
    return max(days, default=None)


def _earlier(item: Resolved, spec: IntervalSpec) -> list[Reign]:
    """What this interval was before layers changed it, oldest first."""
    specs = [(held.requirement.spec, held.since) for held in item.earlier]
    return [
        (was, since)
        for was, since in specs
        if isinstance(was, IntervalSpec) and was.activity is spec.activity and not was.after
    ]


def _repeated(reigns: Sequence[Reign], began: date | None, history: History) -> Course | None:
    """The course of a periodic duty through every interval that it had in this door's time."""
    spec, since = reigns[-1]
    visits = _visits(spec, history)
    if len(reigns) == 1 or since is None or (began and began >= since):
        return course(spec, max([day for day in (since, began) if day], default=None), visits)
    before = _repeated(reigns[:-1], began, history.until(add(since, Period(days=1), -1)))
    if before is None:
        return course(spec, since, visits)
    return course(spec, since, [day for day in visits if day >= since], before)


def _visits(spec: IntervalSpec, history: History) -> list[date]:
    return [v.on for v in history.visits if v.complete and _may_meet(v.activity, spec)]


def _may_meet(activity: Activity, spec: IntervalSpec) -> bool:
    if activity is Activity.REPAIR_RETEST and not spec.after:
        return False
    return activity is spec.activity or activity in spec.met_by


def _occasions(
    spec: IntervalSpec, since: date | None, began: date | None, history: History
) -> list[date] | None:
    """The days of the events that make it owed, under the rule; None where that is unknown."""
    if spec.after != AFTER_REPAIR and began is None:
        return None
    days = history.repairs if spec.after == AFTER_REPAIR or began is None else (began,)
    return [day for day in days if since is None or day >= since]


def _after_occasion(
    spec: IntervalSpec, occasions: list[date] | None, visits: list[date]
) -> tuple[Course | None, bool]:
    """The course of what an event makes owed, and whether it is met."""
    last = visits[-1] if visits else None
    if occasions is None:
        return (Course(Window(last, last, last), last), True) if last else (None, False)
    unmet = [day for day in occasions if last is None or day > last]
    window = window_from_occasion(unmet[0] if unmet else occasions[-1], spec)
    return Course(window, last), not unmet


def _state(facts: Mapping[str, object], window: Window, *, met: bool, on: date) -> DutyState:
    removed = facts.get("removed_on")
    if isinstance(removed, date) and removed <= on:
        return DutyState.ENDED
    if met:
        return DutyState.MET
    if on > window.closes_on:
        return DutyState.OVERDUE
    if on >= window.due_on:
        return DutyState.DUE
    return DutyState.OPEN if on >= window.opens_on else DutyState.UPCOMING


def duty_json(duty: Duty) -> dict[str, Any]:
    """One duty as the command line and the service show it, dates as `YYYY-MM-DD`."""
    requirement, window = duty.owed_by.requirement, duty.course.window
    last_on = duty.course.last_on
    adopted_by = duty.owed_by.adopted_by
    return {
        "requirement": requirement.id,
        "title": requirement.title,
        "activity": duty.spec.activity.value,
        "opens_on": window.opens_on.isoformat(),
        "due_on": window.due_on.isoformat(),
        "closes_on": window.closes_on.isoformat(),
        "state": duty.state.value,
        "reason": duty.reason or None,
        "last_on": last_on.isoformat() if last_on else None,
        "last_was_late": duty.course.last_was_late,
        "every": duty.spec.every,
        "meaning": duty.spec.meaning.value,
        "next_from": duty.spec.next_from,
        "after": duty.spec.after,
        "missing_facts": list(duty.missing_facts),
        "citation": asdict(requirement.citation),
        "applied_edition": duty.owed_by.applied_edition or None,
        "adopted_by": asdict(adopted_by) if adopted_by else None,
        "standing": requirement.standing.value,
        "adoption": duty.owed_by.adoption.value,
        "layer": duty.owed_by.layer,
    }


def duties(
    *,
    facts: Mapping[str, object],
    jurisdiction: str,
    history: Sequence[Mapping[str, object]],
    on: date,
    listed_instructions: Sequence[Mapping[str, object]] = (),
    layers: Sequence[Layer] = (),
    library: Library | None = None,
) -> list[dict[str, Any]]:
    """What is owed on an opening on a day, soonest first, as the command line shows it.

    `history` is what `rules.history` reads; the rest is as for `requirements`. Raises InputError
    with the place of every mistake.
    """
    resolved = requirements(
        facts=facts,
        jurisdiction=jurisdiction,
        on=on,
        listed_instructions=listed_instructions,
        layers=layers,
        library=library,
    )
    past = read_history(history)
    return [duty_json(duty) for duty in owed(resolved.items, resolved.facts, past, on)]
