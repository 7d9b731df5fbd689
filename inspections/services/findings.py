"""From what was sent of a visit to what the rules library judges, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import rules
from doors.errors import RefusedError
from doors.models import Opening
from inspections.selectors.measurements import measured
from inspections.selectors.requirements import Applicable
from inspections.selectors.visits import past_readings
from rules.errors import InputError

# A stop in a trace is reported, not judged: whether it was a test with an obstruction, only who
# was there can say, as a reading of that test.
_STOPS = "pause_time"
_JUDGED = ("checks", "sequences", "decision_rule", "no_access")


@dataclass(frozen=True, slots=True)
class Judged:
    """The library's answer, and the readings it judged: those sent, then those of the traces."""

    judgement: dict[str, Any]
    measured: list[dict[str, Any]]


def judged_findings(
    opening: Opening, applying: Applicable, activity: str, findings: Mapping[str, Any]
) -> Judged:
    """Measure the traces and judge everything together; refuses with pointers into the body."""
    traces = [measured(t, f"/traces/{n}") for n, t in enumerate(findings.get("traces", []))]
    readings = [dict(r) for r in findings.get("readings", [])]
    readings += [r for trace in traces for r in trace["readings"] if r["quantity"] != _STOPS]
    asked = {
        "on": applying.on.isoformat(),
        "activity": activity,
        "readings": _qualified(opening, applying, readings, findings),
        **{name: findings[name] for name in _JUDGED if findings.get(name)},
    }
    judgement = _judged(applying, asked)
    judgement["measurements"] = traces
    return Judged(judgement, readings)


def _judged(applying: Applicable, asked: Mapping[str, Any]) -> dict[str, Any]:
    """The library's answer; what it refuses of the day is refused of the moment that was sent."""
    try:
        return rules.judge(applying.requirements, asked)
    except InputError as refused:
        sent = {"/on": "/performed_at"}
        problems = [replace(p, pointer=sent.get(p.pointer, p.pointer)) for p in refused.problems]
        raise InputError(problems) from refused


def _qualified(
    opening: Opening,
    applying: Applicable,
    readings: list[dict[str, Any]],
    findings: Mapping[str, Any],
) -> list[dict[str, Any]]:
    """Each reading with the instrument it names and the door's past of the same quantity."""
    instruments = {i["ref"]: i for i in findings.get("instruments", [])}
    past = past_readings(opening, applying.on)
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
