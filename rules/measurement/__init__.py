"""From raw samples to readings: one verb, one module for each kind of trace."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from rules.errors import InputError
from rules.measurement.battery import measure_battery
from rules.measurement.egress_width import measure_egress_width
from rules.measurement.force import measure_force
from rules.measurement.series import measure_series
from rules.measurement.standby import measure_standby
from rules.measurement.stopwatch import measure_stopwatch
from rules.measurement.travel import measure_travel

_KINDS: dict[str, Callable[[Mapping[str, object]], dict[str, object]]] = {
    "travel": measure_travel,
    "force": measure_force,
    "battery": measure_battery,
    "series": measure_series,
    "stopwatch": measure_stopwatch,
    "egress_width": measure_egress_width,
    "standby": measure_standby,
}


def measure(trace: Mapping[str, object]) -> dict[str, Any]:
    """What one trace tells, by its `kind`; the shapes stand in the schema `trace`.

    `readings` of the answer may be given to `judge` as they are: decimal texts with their unit
    and, where the trace allows one, their uncertainty (k = 2). What is no measurand of any
    requirement stands apart, and what was left out or could not be told is said. Raises
    InputError, by JSON Pointer, for a trace that cannot be accepted.
    """
    if not isinstance(trace, Mapping):
        raise InputError.at("", "not_an_object", "a trace is an object")
    kind = trace.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise InputError.at("/kind", "unknown_word", f"one of: {', '.join(_KINDS)}")
    return {"kind": kind, **_KINDS[kind](trace)}
