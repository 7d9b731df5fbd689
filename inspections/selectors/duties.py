"""Duties as they stand on a day."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery

import rules
from doors.clock import civil_date
from doors.models import Opening
from doors.selectors.jurisdictions import Place, place_of
from doors.selectors.openings import FactsOnDay, facts_on
from doors.selectors.sandboxes import working_now
from inspections.models import Duty, DutyPlan, Repair
from inspections.selectors.reported_visits import counting_visits
from inspections.selectors.requirements import Applicable
from inspections.selectors.visits import standing_visits
from rules.layers import Layer

STATES = ("upcoming", "open", "due", "overdue", "suspended", "ended")


def duty_state(duty: Duty, today: date) -> str:
    """upcoming, open, due, overdue, suspended or ended, on a civil day at the site."""
    if duty.standing != Duty.Standing.RUNNING:
        return str(duty.standing)
    if today > duty.closes_on:
        return "overdue"
    if today >= duty.due_on:
        return "due"
    return "open" if today >= duty.opens_on else "upcoming"


def running_duties() -> QuerySet[Duty]:
    """The running duties of every site in sight, with what a reader needs to find the door."""
    return Duty.objects.filter(standing=Duty.Standing.RUNNING).select_related("opening__site")


def duty_windows(opening: Opening, applying: Applicable | None = None) -> list[dict[str, Any]]:
    """The windows as the rules library computes them today, in the site's zone, each with the
    id of the visit, recorded here or reported, that met it last. What was read as `applying` to
    the opening in this transaction is not read again, if it is of today.
    """
    today = civil_date(working_now(), opening.site.time_zone)
    if applying is None or applying.on != today:
        return windows_on(opening, today, place_of(opening.site_id, today))
    return _windows(opening, today, applying.place, applying.known)


def windows_on(
    opening: Opening, on: date, place: Place, supposed: tuple[Layer, ...] = ()
) -> list[dict[str, Any]]:
    """The windows of a day at a place, by what is recorded now; `supposed` are layers laid upon
    those of the place.
    """
    return _windows(opening, on, place, facts_on(opening, on), supposed)


def _windows(
    opening: Opening,
    on: date,
    place: Place,
    known: FactsOnDay,
    supposed: tuple[Layer, ...] = (),
) -> list[dict[str, Any]]:
    visits, reported = _visits(opening), _reported(opening)
    history = [*visits, *reported, *_repairs(opening)]
    windows = windows_by(known, place, history, on, supposed)
    met_by = {v["on"]: UUID(v["id"]) for v in visits if v["complete"]}
    told_by = {v["on"]: UUID(v["id"]) for v in reported if v["on"] not in met_by}
    last = [w["last_on"] for w in windows]
    met = zip(map(met_by.get, last), map(told_by.get, last), strict=True)
    return [
        w | {"last_visit_id": visit, "last_reported_visit_id": told}
        for w, (visit, told) in zip(windows, met, strict=True)
    ]


def windows_by(
    known: FactsOnDay,
    place: Place,
    history: list[dict[str, Any]],
    on: date,
    supposed: tuple[Layer, ...] = (),
) -> list[dict[str, Any]]:
    """The windows of a door of which this is known, after this history."""
    return rules.duties(
        facts=known.facts,
        jurisdiction=place.library_place,
        history=history,
        on=on,
        listed_instructions=known.listed_instructions,
        layers=[*place.layers, *supposed],
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


def duties_shown() -> QuerySet[Duty]:
    """The duties in sight with what is shown of each, in as many queries for many as for one."""
    plans = Prefetch("plans", queryset=DutyPlan.objects.order_by("-recorded_at", "id"))
    return Duty.objects.select_related("opening__site").prefetch_related(plans)


def plan_of(duty: Duty) -> DutyPlan | None:
    """What is planned for its present window, of a duty as `duties_shown` gives it."""
    latest = next(iter(duty.plans.all()), None)
    stands = latest is not None and latest.planned_on and latest.due_on == duty.due_on
    return latest if stands else None


def planned_by(rows: QuerySet[Duty], name: str) -> QuerySet[Duty]:
    """Those of which the present window is planned with that firm or person."""
    newest = DutyPlan.objects.filter(duty=OuterRef("pk")).order_by("-recorded_at", "id")
    named = newest.filter(due_on=OuterRef("due_on")).values("by")[:1]
    return rows.annotate(_by=Subquery(named)).filter(_by=name)
