"""A trace as a packet draws it: as sent, with what the computation saw."""

from __future__ import annotations

from typing import Any

from inspections.plots.traces import Trace, drawn_from
from inspections.selectors.drawings import drawn_trace

SENT: dict[str, Any] = {
    "kind": "travel",
    "units": {"t": "min", "position": "in"},
    "signal_at": "0.05",
    "samples": [["0", "0.00"], ["0.1", None], ["0.2", "75.50"]],
}
MEASURED: dict[str, Any] = {
    "readings": [
        {"quantity": "closing_speed", "value": "10.0", "unit": "in/s"},
        {"quantity": "closing_time", "value": "24.0", "unit": "s"},
        {"quantity": "start_delay", "value": "1.25", "unit": "s"},
    ],
    "pauses": [{"at": "12.0", "value": "3.0", "then": "closing"}],
    "closed": True,
}
SPEED = {"quantity": "closing_speed", "limit": {"low": "6", "high": "24", "unit": "in/s"}}


def test_samples_stay_as_sent_and_times_become_seconds() -> None:
    """No value is rounded or filled in; a dropped sample is left out."""
    drawn = drawn_trace(SENT, MEASURED, [])
    assert drawn is not None
    assert (drawn["t"], drawn["values"]) == (["0", "12"], ["0.00", "75.50"])
    assert drawn_from(drawn, Trace).unit == "in"


def test_the_moments_of_the_course_are_marked() -> None:
    """Signal, start, end, and every stop on the way."""
    drawn = drawn_trace(SENT, MEASURED, [])
    assert drawn is not None
    assert [(mark["t"], mark["words"]) for mark in drawn["marks"]] == [
        ("3", "signal"),
        ("4.25", "starts to close"),
        ("28.25", "closed"),
        ("12.0", "stands still for 3.0 s, then closing"),
    ]


def test_limits_of_speed_start_where_the_door_starts() -> None:
    """They are slopes, and only of quantities that this trace gave."""
    other = {"quantity": "gap", "limit": {"low": None, "high": "0.125", "unit": "in"}}
    drawn = drawn_trace(SENT, MEASURED, [SPEED, other])
    assert drawn is not None
    assert drawn["limits"] == [
        {"words": "at least 6 in/s", "value": "6", "unit": "in/s", "from_t": "4.25"},
        {"words": "at most 24 in/s", "value": "24", "unit": "in/s", "from_t": "4.25"},
    ]


def test_without_a_signal_nothing_is_guessed() -> None:
    """A trace that does not say when the signal came gets no such marks, its slopes no start."""
    silent = {name: value for name, value in SENT.items() if name != "signal_at"}
    drawn = drawn_trace(silent, {**MEASURED, "pauses": []}, [SPEED])
    assert drawn is not None
    assert drawn["marks"] == []
    assert all("from_t" not in limit for limit in drawn["limits"])


def test_a_kind_without_samples_is_not_drawn() -> None:
    """A stopwatch time has no course."""
    assert drawn_trace({"kind": "stopwatch"}, {"readings": []}, []) is None
