"""What is not told any more because its reason has gone: withdrawn, with why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from doors.tenancy import current
from inspections.models import REMINDERS, Duty, Notice, Owing, ReminderStop, Stage
from inspections.selectors.stages import is_about

_OUT = (  # what may have reached somebody, or still will
    Notice.State.DONE,
    Notice.State.SENDING,
    Notice.State.UNKNOWN,
    Notice.State.WAITING,
    Notice.State.FAILED,
)
_ORDER = (Stage.BEFORE_DUE, Stage.DUE, Stage.OVERDUE)


def reasons_gone(rows: Sequence[Notice | Owing]) -> dict[UUID, str]:
    """Why what these tell of is so no more, by the ids of those of which that holds."""
    of_duties = [row for row in rows if row.stage in REMINDERS]
    duties = Duty.objects.in_bulk({row.thing for row in of_duties})
    said = {
        row.id: _of_duty(duties[row.thing], row.stage, row.thing_version)
        if row.thing in duties
        else "the duty is no longer in sight"
        for row in of_duties
    }
    return {id_: why for id_, why in said.items() if why}


def reasons_unwanted(notices: Sequence[Notice]) -> dict[UUID, str]:
    """Why one person is not told some of these: they have left, or want no such reminder."""
    stops = list(
        ReminderStop.objects.filter(person__in={n.person_id for n in notices}, ended_at=None)
    )
    said = {}
    for notice in notices:
        if notice.person.ended_at is not None:
            said[notice.id] = "this person has left"
        elif notice.stage in REMINDERS and any(_covers(stop, notice) for stop in stops):
            said[notice.id] = "this person asked for no such reminder"
    return said


def _covers(stop: ReminderStop, notice: Notice) -> bool:
    whose = stop.person_id == notice.person_id
    return whose and stop.stage in {"", notice.stage} and stop.thing in {None, notice.thing}


def withdraw_overtaken(duties: Sequence[Duty]) -> None:
    """Withdraw what waits to be said of duties and is so no more, or is overtaken by a later
    stage. What has gone out stays as it is.
    """
    by_id = {duty.id: duty for duty in duties}
    waiting = Notice.objects.filter(
        thing__in=by_id, stage__in=REMINDERS, state=Notice.State.WAITING
    )
    owed = Owing.objects.filter(thing__in=by_id, stage__in=REMINDERS)
    latest = _latest(owed, by_id)
    rows: list[Notice | Owing] = [*waiting, *owed.filter(state=Owing.State.WAITING)]
    for row in rows:
        why = _of_duty(by_id[row.thing], row.stage, row.thing_version)
        if not why and _place(row) < latest.get(row.thing, _place(row)):
            why = "a later reminder of the same takes its place"
        if why:
            withdraw_row(row, why)


def withdraw_row(row: Notice | Owing, why: str) -> None:
    """Withdraw a notice or an owing that still waits; an owing of which nobody was told goes
    with its last notice.
    """
    rows: Any = type(row).objects.filter(id=row.id, state=Notice.State.WAITING)
    ended = {"state": Notice.State.WITHDRAWN, "ended_at": current().now, "problem": why}
    if rows.update(**ended) and isinstance(row, Notice):
        told = Notice.objects.filter(owing_id=row.owing_id, state__in=_OUT)
        if row.stage in REMINDERS and not told.exists():
            Owing.objects.filter(id=row.owing_id, state=Owing.State.DONE).update(**ended)


def _latest(owed: QuerySet[Owing], duties: Mapping[UUID, Duty]) -> dict[UUID, tuple[int, int]]:
    """How far along its stages each duty has been told of, in its present window."""
    found: dict[UUID, tuple[int, int]] = {}
    for owing in owed.exclude(state=Owing.State.WITHDRAWN):
        if not _of_duty(duties[owing.thing], owing.stage, owing.thing_version):
            found[owing.thing] = max(_place(owing), found.get(owing.thing, _place(owing)))
    return found


def _place(row: Notice | Owing) -> tuple[int, int]:
    """How far along a duty's stages it is: before it is due, the fewer days the further."""
    stage = Stage(row.stage)
    return _ORDER.index(stage), -row.step if stage == Stage.BEFORE_DUE else row.step


def _of_duty(duty: Duty, stage: str, version: int) -> str:
    if is_about(duty, stage, version):
        return ""
    if duty.standing == Duty.Standing.SUSPENDED:
        return f"nothing is due there now: {duty.reason}"[:500]
    if duty.standing == Duty.Standing.ENDED:
        return "it is no longer owed"
    if duty.last_visit_id or duty.last_reported_visit_id:
        return f"a visit has arrived; it is due next on {duty.due_on.isoformat()}"
    return f"it has moved; it is due on {duty.due_on.isoformat()}"
