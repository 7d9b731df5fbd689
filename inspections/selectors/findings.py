"""From what was sent of a visit to what the rules library judges, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from uuid import UUID

import rules
from doors.errors import RefusedError
from doors.models import Opening
from doors.selectors.jurisdictions import place_as_kept
from inspections.models import Visit
from inspections.selectors.measurements import measured
from inspections.selectors.requirements import Applicable
from inspections.selectors.traces import traces_of
from inspections.selectors.visits import Past, past_readings
from rules.errors import InputError

# A stop in a trace is reported, not judged: whether it was a test with an obstruction, only who
# was there can say, as a reading of that test.
_STOPS = "pause_time"
_JUDGED = ("checks", "sequences", "decision_rule", "no_access")


@dataclass(frozen=True, slots=True)
class Judged:
    """The library's answer, the readings it judged: those sent, then those of the traces; and
    the door's past of the same quantities, against which they were held.
    """

    judgement: dict[str, Any]
    measured: list[dict[str, Any]]
    past: Past


def judged_findings(
    opening: Opening, applying: Applicable, activity: str, findings: Mapping[str, Any]
) -> Judged:
    """Measure the traces and judge everything together; refuses with pointers into the body."""
    every = past_readings(opening, applying.on)
    traces = [measured(t, f"/traces/{n}") for n, t in enumerate(findings.get("traces", []))]
    readings = _all_readings(findings, traces)
    past = {r["quantity"]: every[r["quantity"]] for r in readings if r.get("quantity") in every}
    asked = _asked(applying.on, activity, findings, readings, past)
    judgement = _judged(applying, asked)
    judgement["measurements"] = traces
    return Judged(judgement, readings, past)


def judged_again(visit: Visit) -> dict[str, Any]:
    """The judgement of a stored visit from nothing but its own record and the published rules:
    the same, byte for byte, as long as the library is the same.
    """
    basis = visit.basis
    place = place_as_kept(
        basis["library_place"],
        [each["code"] for each in basis["jurisdictions"]],
        [UUID(each["id"]) for each in basis["overrides"]],
    )
    requirements = rules.requirements(
        facts=basis["facts"],
        jurisdiction=place.library_place,
        on=visit.performed_on,
        listed_instructions=basis["listed_instructions"],
        layers=place.layers,
    )
    again = rules.judge(requirements, asked_of(visit))
    traces = [rules.measure(trace) for trace in traces_of(visit)]
    return again | {"measurements": traces}


def asked_of(visit: Visit) -> dict[str, Any]:
    """What the rules library was asked to judge of a stored visit."""
    found = visit.findings
    readings = _all_readings(found, visit.judgement["measurements"])
    return _asked(visit.performed_on, visit.activity, found, readings, visit.basis["past"])


def _all_readings(
    findings: Mapping[str, Any], traces: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    readings = [dict(r) for r in findings.get("readings", [])]
    return readings + [r for t in traces for r in t["readings"] if r["quantity"] != _STOPS]


def _asked(
    on: date,
    activity: str,
    findings: Mapping[str, Any],
    readings: list[dict[str, Any]],
    past: Past,
) -> dict[str, Any]:
    return {
        "on": on.isoformat(),
        "activity": activity,
        "readings": _qualified(readings, findings, past),
        **{name: findings[name] for name in _JUDGED if findings.get(name)},
    }


def _judged(applying: Applicable, asked: Mapping[str, Any]) -> dict[str, Any]:
    """The library's answer; what it refuses of the day is refused of the moment that was sent."""
    try:
        return rules.judge(applying.requirements, asked)
    except InputError as refused:
        sent = {"/on": "/performed_at"}
        problems = [replace(p, pointer=sent.get(p.pointer, p.pointer)) for p in refused.problems]
        raise InputError(problems) from refused


def _qualified(
    readings: list[dict[str, Any]], findings: Mapping[str, Any], past: Past
) -> list[dict[str, Any]]:
    """Each reading with the instrument it names and the door's past of the same quantity."""
    instruments = {i["ref"]: i for i in findings.get("instruments", [])}
    qualified = []
    for index, reading in enumerate(readings):
        named = reading.get("instrument")
        if named is not None and named not in instruments:
            detail = f"No instrument of this visit has the ref {str(named)[:60]!r}."
            raise RefusedError.at(f"/readings/{index}/instrument", detail)
        full = {name: value for name, value in reading.items() if name != "instrument"}
        if named is not None:
            full["instrument"] = _instrument(instruments[named])
        if "value" in reading and past.get(reading["quantity"]):
            full["history"] = past[reading["quantity"]]
        qualified.append(full)
    return qualified


def _instrument(instrument: Mapping[str, Any]) -> dict[str, Any]:
    kept = ("ref", "resolution", "uncertainty", "calibration_due_on")
    return {name: instrument[name] for name in kept if instrument.get(name) is not None}
