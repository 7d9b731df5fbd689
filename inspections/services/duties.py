"""Duties move in the transaction of whatever moves them; nothing computes them on the fly."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import UUID

from doors.clock import civil_date
from doors.models import Opening, OpeningFacts, Site
from doors.selectors.jurisdictions import place_of
from doors.selectors.openings import lock_opening, told_by
from doors.selectors.sandboxes import working_now
from doors.selectors.sight import as_custodian
from doors.tenancy import current
from inspections.models import Duty
from inspections.selectors.duties import duty_windows, windows_by
from inspections.selectors.requirements import Applicable

_STANDING = {
    "suspended": Duty.Standing.SUSPENDED,
    "ended": Duty.Standing.ENDED,
    "met": Duty.Standing.ENDED,  # owed once, after an event, and done
}
TOLD_OF = {"due_on", "closes_on", "standing"}  # what a reminder depends on


def settle_duties(*, opening: Opening) -> list[Duty]:
    """Make the stored windows of an opening equal to what its facts, place and visits say: all
    visits, so it is done as the custodian, whoever added one.
    """
    with as_custodian(opening.site_id):
        lock_opening(opening.id)
        return settle_locked_duties(opening=opening)


def settle_locked_duties(*, opening: Opening, applying: Applicable | None = None) -> list[Duty]:
    """The same of an opening that this transaction has locked, by who acts as its custodian;
    `applying` is what the transaction has read to apply to the opening.
    """
    stored = {d.requirement: d for d in Duty.objects.filter(opening=opening)}
    windows = duty_windows(opening, applying)
    settled = [_settle(opening, stored.get(w["requirement"]), w) for w in windows]
    kept = {w["requirement"] for w in windows}
    for duty in stored.values():
        if duty.requirement not in kept and (changed := _end(duty)):
            duty.save(update_fields=changed)
    return settled


def begin_duties(*, site: Site, facts: Sequence[OpeningFacts]) -> list[Duty]:
    """The duties of openings just recorded at a site, which nothing has happened to yet."""
    with as_custodian(site.id):
        today = civil_date(working_now(), site.time_zone)
        place = place_of(site.id, today)
        return Duty.objects.bulk_create(
            _new(row.opening, window)
            for row in facts
            for window in windows_by(told_by(row.opening, row), place, [], today)
        )


def end_duties(*, site: Site, facts: Sequence[OpeningFacts]) -> None:
    """The duties of openings just removed, to which nothing else has happened since their record:
    what `settle_duties` makes of each, for all of them at once.
    """
    openings = [row.opening for row in facts]
    stored: dict[UUID, dict[str, Duty]] = {opening.id: {} for opening in openings}
    moved: dict[tuple[str, ...], list[Duty]] = {}
    missing: list[Duty] = []
    with as_custodian(site.id):
        today = civil_date(working_now(), site.time_zone)
        place = place_of(site.id, today)
        for duty in Duty.objects.filter(opening__in=openings):
            stored[duty.opening_id][duty.requirement] = duty
        for row in facts:
            mine, known = stored[row.opening_id], told_by(row.opening, row)
            known.facts["removed_on"] = str(row.opening.removed_on)
            windows = {w["requirement"]: w for w in windows_by(known, place, [], today)}
            for name, duty in mine.items():
                changed = _fit(duty, windows[name]) if name in windows else _end(duty)
                moved.setdefault(tuple(changed), []).append(duty)
            missing += [_new(row.opening, w) for name, w in windows.items() if name not in mine]
        for columns, duties in moved.items():
            if columns:
                Duty.objects.bulk_update(duties, columns)
        Duty.objects.bulk_create(missing)


def _settle(opening: Opening, duty: Duty | None, window: dict[str, Any]) -> Duty:
    if duty is None:
        duty = _new(opening, window)
        duty.save(force_insert=True)
    elif changed := _fit(duty, window):
        duty.save(update_fields=changed)
    return duty


def _fit(duty: Duty, window: dict[str, Any]) -> list[str]:
    """Make a stored duty say what the window says; answers the columns that changed."""
    fields = shown(window)
    changed = [name for name, value in fields.items() if getattr(duty, name) != value]
    if TOLD_OF & set(changed):
        fields["look_at"] = current().now
        changed.append("look_at")
    for name in changed:
        setattr(duty, name, fields[name])
    if changed:
        duty.version += 1
        changed.append("version")
    return changed


def _end(duty: Duty) -> list[str]:
    """End a duty that no requirement asks for any more; answers the columns that changed."""
    if duty.standing == Duty.Standing.ENDED:
        return []
    duty.standing, duty.reason, duty.look_at = Duty.Standing.ENDED, "", current().now
    duty.version += 1
    return ["standing", "reason", "version", "look_at"]


def _new(opening: Opening, window: dict[str, Any]) -> Duty:
    return Duty(
        site_id=opening.site_id,
        opening=opening,
        requirement=window["requirement"],
        look_at=current().now,
        **shown(window),
    )


def shown(window: dict[str, Any]) -> dict[str, Any]:
    """What is stored of a window, by the names of the columns."""
    return {
        "activity": window["activity"],
        "opens_on": date.fromisoformat(window["opens_on"]),
        "due_on": date.fromisoformat(window["due_on"]),
        "closes_on": date.fromisoformat(window["closes_on"]),
        "standing": _STANDING.get(window["state"], Duty.Standing.RUNNING),
        "reason": window["reason"] or "",
        "citation": window["citation"],
        "adopted_by": window["adopted_by"],
        "adoption": window["adoption"],
        "layer": window["layer"],
        "last_visit_id": window.get("last_visit_id"),
        "last_reported_visit_id": window.get("last_reported_visit_id"),
    }
