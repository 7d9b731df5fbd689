"""Two years of visits to the demonstration's openings, made from a calendar and a few numbers.

The scatter of the readings comes from the opening, the visit and the quantity alone, so that the
same history is made every day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cache
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from inspections.management.checklist import Requirement, Wanting, answers, asked_in, item_of
from inspections.selectors.scenario import OpeningPlan, Plan, SitePlan, table

ACCEPTANCE, OPERATION = "acceptance_test", "operation_test"
PERIODIC, RETEST = "periodic_inspection", "repair_retest"
_YEAR = Decimal("365.25")
_FIRST = time(9)
_OF_FIXTURES = {"renewed_before", "good_for"}  # what is said of a calibration or qualification
_APART = timedelta(minutes=25)


class Calendar(Plan, frozen=True):
    """Days before today; `acceptance_after` counts from the installation."""

    periodic_inspection: list[int]
    operation_test: dict[str, list[int]]
    acceptance_after: int


class RepairPlan(Plan, frozen=True):
    """How something was mended, so many days after it was found."""

    after: int
    done_by: str
    words: str
    parts: list[dict[str, str]]


class InterimPlan(Plan, frozen=True):
    """What protects people meanwhile, from when it was found, for so many days."""

    kind: str
    words: str
    responsible: str
    days: int


class Fault(Plan, frozen=True):
    """What one periodic inspection found wanting, and what became of it."""

    opening: str
    visit: int
    remarks: str
    check: str = ""
    sequence: str = ""
    unseen: str = ""
    repair: RepairPlan | None = None
    retest_after: int = 0
    interim: InterimPlan | None = None

    @property
    def name(self) -> str:
        """The check or the sequence."""
        return self.check or self.sequence


class ReadingPlan(Plan, frozen=True):
    """How one quantity of a type of door runs: a base two years ago, a change a year, a spread."""

    unit: str
    base: str
    spread: str
    repeats: int
    decimals: int
    a_year: str = "0"
    instrument: str = ""
    uncertainty: str = ""
    activities: tuple[str, ...] = (ACCEPTANCE, PERIODIC)


class History(Plan, frozen=True):
    """The whole of it, as the fixtures write it."""

    calendar: Calendar
    site: dict[str, int]
    opening: dict[str, dict[str, Any]]
    fault: list[Fault]
    people: list[dict[str, Any]]
    instrument: list[dict[str, Any]]
    reading: dict[str, dict[str, ReadingPlan]]


@dataclass(frozen=True, slots=True)
class Past:
    """One visit of the past at one opening."""

    tag: str
    door_type: str
    activity: str
    at: datetime
    fault: Fault | None = None
    no_access: str = ""

    @property
    def reference(self) -> str:
        """The client's own reference of the visit."""
        return f"{self.tag}/{self.at:%Y-%m-%d}/{self.activity}"


@cache
def history() -> History:
    """What the fixtures say of the past."""
    return msgspec.convert(table("history"), History)


Visiting = Callable[..., Past]


def past_of(site: SitePlan, number: int, opening: OpeningPlan, today: date) -> list[Past]:
    """The visits to one opening, the `number`th of its site, oldest first."""
    starts = (datetime.combine(today, _FIRST) + number * _APART).time()
    zone = ZoneInfo(site.time_zone)

    def visit(activity: str, on: date, fault: Fault | None = None, no_access: str = "") -> Past:
        at = datetime.combine(on, starts, tzinfo=zone)
        return Past(opening.tag, opening.door_type, activity, at, fault, no_access)

    shift = history().site[site.reference]
    return sorted(_visits(opening, today, shift, visit), key=lambda past: past.at)


def _visits(opening: OpeningPlan, today: date, shift: int, visit: Visiting) -> Iterator[Past]:
    calendar, own = history().calendar, history().opening.get(opening.tag, {})
    if own.get("acceptance", True):
        installed = date.fromisoformat(opening.facts["installed_on"])
        yield visit(ACCEPTANCE, installed + timedelta(days=calendar.acceptance_after))
    for days in calendar.operation_test.get(opening.door_type, []):
        yield visit(OPERATION, today - timedelta(days=days + shift))
    for number, days in enumerate(own.get(PERIODIC, calendar.periodic_inspection)):
        on, fault = today - timedelta(days=days + shift), _fault(opening.tag, number)
        yield visit(PERIODIC, on, fault, own.get("no_access", ""))
        if fault and fault.retest_after:
            yield visit(RETEST, on + timedelta(days=fault.retest_after), fault)


def _fault(tag: str, number: int) -> Fault | None:
    return next((f for f in history().fault if (f.opening, f.visit) == (tag, number)), None)


def findings_of(past: Past, requirements: Sequence[Requirement], today: date) -> dict[str, Any]:
    """What was sent of a past visit: people, instruments, and everything the activity asks."""
    sent = {
        "attestation": {"name": history().people[0]["name"], "at": past.at.isoformat()},
        "people": people_on(past.at.date(), today),
    }
    if past.no_access:
        return sent | {"no_access": past.no_access}
    if past.activity == RETEST and past.fault:
        again = [each for each in requirements if item_of(each) == past.fault.name]
        return sent | answers(again, {})
    fault = past.fault
    wanting = {fault.name: Wanting(fault.remarks, fault.unseen)} if fault else {}
    return {
        **sent,
        "instruments": instruments_on(past.at.date(), today),
        "readings": list(_readings(past, today)),
        **answers(asked_in(requirements, past.activity), wanting),
    }


def people_on(on: date, today: date) -> list[dict[str, Any]]:
    """Who came, with their qualification as it stood that day."""
    found = []
    for person in history().people:
        known = {name: value for name, value in person.items() if name not in _OF_FIXTURES}
        if "renewed_before" in person:
            until = _last_renewed(person, on, today) + timedelta(days=person["good_for"])
            known["valid_until"] = until.isoformat()
        found.append(known)
    return found


def instruments_on(on: date, today: date) -> list[dict[str, Any]]:
    """What was measured with, and its calibration as it stood that day."""
    found = []
    for instrument in history().instrument:
        known = {name: value for name, value in instrument.items() if name not in _OF_FIXTURES}
        calibrated = _last_renewed(instrument, on, today)
        due = calibrated + timedelta(days=instrument["good_for"])
        known |= {"calibrated_on": calibrated.isoformat(), "calibration_due_on": due.isoformat()}
        found.append(known)
    return found


def _last_renewed(thing: Mapping[str, Any], on: date, today: date) -> date:
    """The last of its renewals, each as soon as the one before it ran out, by that day."""
    last: date = today - timedelta(days=thing["renewed_before"])
    while last > on:
        last -= timedelta(days=thing["good_for"])
    return last


def _readings(past: Past, today: date) -> Iterator[dict[str, Any]]:
    own = history().opening.get(past.tag, {})
    for quantity, plan in history().reading[past.door_type].items():
        if past.activity in plan.activities:
            yield from _repeats(past, quantity, plan, own.get(quantity, {}), today)


def _repeats(
    past: Past, quantity: str, plan: ReadingPlan, own: Mapping[str, str], today: date
) -> Iterator[dict[str, Any]]:
    """Each repeat about the mean that the door has drifted to; a door two years old or more has
    not drifted before.
    """
    scatter = Random(f"{past.tag} {past.activity} {(today - past.at.date()).days} {quantity}")  # noqa: S311
    years = max(Decimal(0), 2 - Decimal((today - past.at.date()).days) / _YEAR)
    mean = Decimal(own.get("base", plan.base)) + years * Decimal(own.get("a_year", plan.a_year))
    for repeat in range(1, plan.repeats + 1):
        value = mean + Decimal(scatter.gauss(0, float(plan.spread)))
        shown = f"{value:.{plan.decimals}f}"
        reading: dict[str, Any] = {"quantity": quantity, "value": shown, "unit": plan.unit}
        if plan.repeats > 1:
            reading["repeat"] = repeat
        qualified = {"instrument": plan.instrument, "uncertainty": plan.uncertainty}
        yield reading | {name: value for name, value in qualified.items() if value}
