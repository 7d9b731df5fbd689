"""How the readings of one quantity of one door went over the years, and where they are heading.

A trend runs through the readings since the last break alone. A bounded number of readings is
looked at, the latest; the queries are as many for one quantity as for all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import F, Window
from django.db.models.functions import RowNumber

import rules
from doors.clock import civil_date
from doors.errors import NotVisibleError
from doors.models import Opening
from doors.selectors.sandboxes import working_now
from inspections.models import Duty, Reading, Visit
from inspections.selectors.bounds import Bound, bounds_of
from inspections.selectors.breaks import Break, Change, changes_at
from inspections.selectors.expectations import Expectation, expectation_of
from inspections.selectors.requirements import applicable
from rules.errors import InputError
from rules.measurands import MEASURANDS
from rules.quantities import Unit, quantity, rounded, unit

READINGS = 200  # of each quantity; a door measured three times a quarter has sixteen years of them
PLACES = 9


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: `value` in the unit of the series, and as it was sent."""

    on: date
    at: datetime
    value: str
    sent: str
    sent_unit: str
    visit: str
    instrument: str


@dataclass(frozen=True, slots=True)
class Trend:
    """The series of one quantity: `fitted` says how many of its points, the last ones, the line
    was laid through; `more` that there are earlier readings, which were not looked at.
    """

    quantity: str
    unit: Unit
    points: list[Point]
    more: bool
    breaks: list[Break]
    fitted: int
    bounds: list[Bound]
    measured: Mapping[str, Any] | None
    next_duty: Duty | None
    expectation: Expectation


@dataclass(frozen=True, slots=True)
class _Ground:
    """What holds for every quantity of an opening today."""

    bounds: dict[str, list[Bound]]
    changes: list[Change]
    duty: Duty | None


def trends_of(opening: Opening, only: str | None = None) -> list[Trend]:
    """The trend of each quantity measured at an opening whose site is at hand, by name."""
    read = _points(opening, only)
    if not read:
        return []
    today = civil_date(working_now(), opening.site.time_zone)
    bounds = bounds_of(applicable(opening, today).requirements)
    ground = _Ground(bounds, changes_at(opening), _next_duty(opening, today))
    return [_trend(name, points, ground) for name, points in sorted(read.items())]


def trend_of(opening: Opening, name: str) -> Trend:
    """The trend of one quantity; nothing by this address where it was never measured there."""
    if name not in MEASURANDS:
        raise NotVisibleError
    found = trends_of(opening, name)
    if not found:
        raise NotVisibleError
    return found[0]


def _points(opening: Opening, only: str | None) -> dict[str, list[Point]]:
    """The latest readings of visits that stand, by quantity, oldest first, one more than shown."""
    newest = [F("performed_at").desc(), F("visit_id").desc(), F("index").desc()]
    rows = Reading.objects.filter(opening=opening, visit__superseded_by=None)
    if only is not None:
        rows = rows.filter(quantity=only)
    numbered = rows.annotate(
        place=Window(RowNumber(), partition_by=[F("quantity")], order_by=newest)
    )
    kept = list(numbered.filter(place__lte=READINGS + 1).order_by("performed_at", "visit", "index"))
    used = _instruments({row.visit_id for row in kept})
    points: dict[str, list[Point]] = defaultdict(list)
    for row in kept:
        if row.quantity in MEASURANDS:
            serial = used.get((row.visit_id, row.index), "")
            points[row.quantity].append(
                Point(
                    row.performed_on,
                    row.performed_at,
                    row.value,
                    row.value,
                    row.unit,
                    str(row.visit_id),
                    serial,
                )
            )
    return points


def _instruments(visits: set[Any]) -> dict[tuple[Any, int], str]:
    """Serial number of the instrument of each reading that was sent, where it was told."""
    told = Visit.objects.filter(id__in=visits).values_list(
        "id", "findings__instruments", "findings__readings"
    )
    found: dict[tuple[Any, int], str] = {}
    for visit_id, instruments, readings in told:
        serials = {each["ref"]: each.get("serial", "") for each in instruments or []}
        for index, reading in enumerate(readings or []):
            found[visit_id, index] = serials.get(reading.get("instrument"), "")
    return found


def _next_duty(opening: Opening, today: date) -> Duty | None:
    """The first that is due from today on; what is overdue is owed now, and tells of no later
    day.
    """
    running = Duty.objects.filter(opening=opening, standing=Duty.Standing.RUNNING)
    return running.filter(due_on__gte=today).order_by("due_on", "id").first()


def _trend(name: str, read: list[Point], ground: _Ground) -> Trend:
    bounds = ground.bounds.get(name, [])
    shown = bounds[0].unit if bounds else unit(read[-1].sent_unit)
    points = [_in_unit(point, shown) for point in read[-READINGS:]]
    breaks = _breaks(points, [c.found for c in ground.changes if c.concerns(name)])
    fitted = [p for p in points if not breaks or p.at >= breaks[-1].at]
    measured = _measured(name, shown, fitted, bounds, ground.duty) if fitted else None
    return Trend(
        quantity=name,
        unit=shown,
        points=points,
        more=len(read) > READINGS,
        breaks=breaks,
        fitted=len(fitted),
        bounds=bounds,
        measured=measured,
        next_duty=ground.duty,
        expectation=expectation_of(fitted, measured, bounds, ground.duty, since_break=bool(breaks)),
    )


def _in_unit(point: Point, shown: Unit) -> Point:
    if point.sent_unit == shown.symbol:
        return point
    exact = quantity(point.sent, point.sent_unit).in_unit(shown)
    return replace(point, value=rounded(exact, PLACES))


def _breaks(points: list[Point], changes: list[Break]) -> list[Break]:
    """Changes after the first reading, and each first reading of another instrument than the one
    before it; an instrument of unknown serial number is no other one.
    """
    found = [change for change in changes if change.at > points[0].at]
    last = ""
    for point in points:
        if point.instrument and last and point.instrument != last:
            words = f"measured with {point.instrument}, before with {last}"
            found.append(Break(point.at, point.on, "instrument", words))
        last = point.instrument or last
    return sorted(found, key=lambda each: each.at)


def _measured(
    name: str, shown: Unit, fitted: list[Point], bounds: list[Bound], duty: Duty | None
) -> dict[str, Any] | None:
    """The library's answer; None where there are too few readings for one."""
    asked: dict[str, Any] = {
        "kind": "series",
        "quantity": name,
        "unit": shown.symbol,
        "points": [{"on": p.on.isoformat(), "value": p.value} for p in fitted],
    }
    for bound in bounds:
        asked[bound.side] = {"value": bound.text, "unit": bound.unit.symbol}
    if duty is not None:
        asked["before"] = duty.due_on.isoformat()
    try:
        return rules.measure(asked)
    except InputError as refused:
        if {problem.code for problem in refused.problems} <= {"too_few"}:
            return None
        raise
