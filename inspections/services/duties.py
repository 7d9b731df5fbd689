"""Duties move in the transaction of whatever moves them; nothing computes them on the fly."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import UUID

import rules
from doors.clock import civil_date
from doors.models import Opening, OpeningFacts, Site
from doors.selectors.jurisdictions import Place, place_of
from doors.selectors.openings import FactsOnDay, facts_on, lock_opening, told_by
from doors.selectors.sandboxes import working_now
from doors.selectors.sight import as_custodian
from inspections.models import Duty, Repair
from inspections.selectors.reported_visits import counting_visits
from inspections.selectors.visits import standing_visits

_STANDING = {
    "suspended": Duty.Standing.SUSPENDED,
    "ended": Duty.Standing.ENDED,
    "met": Duty.Standing.ENDED,  # owed once, after an event, and done
}


def settle_duties(*, opening: Opening) -> list[Duty]:
    """Make the stored windows of an opening equal to what its facts, place and visits say: all
    visits, so it is done as the custodian, whoever added one.
    """
    with as_custodian(opening.site_id):
        return _settle_all(opening)


def _settle_all(opening: Opening) -> list[Duty]:
    lock_opening(opening.id)
    stored = {d.requirement: d for d in Duty.objects.filter(opening=opening)}
    windows = duty_windows(opening)
    settled = [_settle(opening, stored.get(w["requirement"]), w) for w in windows]
    kept = {w["requirement"] for w in windows}
    for duty in stored.values():
        if duty.requirement not in kept and duty.standing != Duty.Standing.ENDED:
            duty.standing, duty.reason = Duty.Standing.ENDED, ""
            duty.version += 1
            duty.save(update_fields=["standing", "reason", "version"])
    return settled


def begin_duties(*, site: Site, facts: Sequence[OpeningFacts]) -> list[Duty]:
    """The duties of openings just recorded at a site, which nothing has happened to yet."""
    with as_custodian(site.id):
        today = civil_date(working_now(), site.time_zone)
        place = place_of(site.id, today)
        return Duty.objects.bulk_create(
            _new(row.opening, window)
            for row in facts
            for window in _windows(told_by(row.opening, row), place, [], today)
        )


def duty_windows(opening: Opening) -> list[dict[str, Any]]:
    """The windows as the rules library computes them today, in the site's zone, each with the
    id of the visit, recorded here or reported, that met it last.
    """
    today = civil_date(working_now(), opening.site.time_zone)
    known, place = facts_on(opening, today), place_of(opening.site_id, today)
    visits, reported = _visits(opening), _reported(opening)
    history = [*visits, *reported, *_repairs(opening)]
    windows = _windows(known, place, history, today)
    met_by = {v["on"]: UUID(v["id"]) for v in visits if v["complete"]}
    told_by = {v["on"]: UUID(v["id"]) for v in reported if v["on"] not in met_by}
    last = [w["last_on"] for w in windows]
    met = zip(map(met_by.get, last), map(told_by.get, last), strict=True)
    return [
        w | {"last_visit_id": visit, "last_reported_visit_id": told}
        for w, (visit, told) in zip(windows, met, strict=True)
    ]


def _windows(
    known: FactsOnDay, place: Place, history: list[dict[str, Any]], today: date
) -> list[dict[str, Any]]:
    return rules.duties(
        facts=known.facts,
        jurisdiction=place.library_place,
        history=history,
        on=today,
        listed_instructions=known.listed_instructions,
        layers=place.layers,
    )


def _visits(opening: Opening) -> list[dict[str, Any]]:
    rows = standing_visits(opening).values_list("id", "activity", "performed_on", "complete")
    return [
        {"id": str(id_), "activity": activity, "on": on.isoformat(), "complete": complete}
        for id_, activity, on, complete in rows
    ]


def _reported(opening: Opening) -> list[dict[str, Any]]:
    """The reported visits that the custodian lets count; each is taken to be whole, as told."""
    rows = counting_visits(opening).values_list("id", "activity", "performed_on")
    return [
        {"id": str(id_), "activity": activity, "on": on.isoformat()} for id_, activity, on in rows
    ]


def _repairs(opening: Opening) -> list[dict[str, Any]]:
    zone, rows = opening.site.time_zone, Repair.objects.filter(deficiency__opening=opening)
    days = {civil_date(done_at, zone) for done_at in rows.values_list("done_at", flat=True)}
    return [{"event": "repair", "on": day.isoformat()} for day in sorted(days)]


def _settle(opening: Opening, duty: Duty | None, window: dict[str, Any]) -> Duty:
    fields = _shown(window)
    if duty is None:
        duty = _new(opening, window)
        duty.save(force_insert=True)
        return duty
    changed = [name for name, value in fields.items() if getattr(duty, name) != value]
    for name in changed:
        setattr(duty, name, fields[name])
    if changed:
        duty.version += 1
        duty.save(update_fields=[*changed, "version"])
    return duty


def _new(opening: Opening, window: dict[str, Any]) -> Duty:
    requirement = window["requirement"]
    return Duty(site_id=opening.site_id, opening=opening, requirement=requirement, **_shown(window))


def _shown(window: dict[str, Any]) -> dict[str, Any]:
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
