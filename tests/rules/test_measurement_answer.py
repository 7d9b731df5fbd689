"""How readings are written, and that `judge` takes them as they are."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import rules
from rules.measurands import MEASURANDS
from rules.measurement.answer import decimal, exact_reading, fraction_text, reading, significant
from tests.rules.courses import Course, Leg, Sensor, trace


@pytest.mark.parametrize(
    ("value", "error", "text", "uncertainty"),
    [
        (254.0312, 0.6, "254.0", "1.2"),
        (254.0312, 0.6001, "254.0", "1.3"),  # rounded up, never down
        (0.123456, 0.00061, "0.1235", "0.0013"),
        (12345.6, 600.0, "12346", "1200"),
        (-0.0001, 0.5, "0.0", "1.0"),  # never minus zero
        (24.0, None, "24.0000", None),
        (0.0, None, "0", None),
        (1e-13, 1e-12, "0.000000000", "0.000000001"),
    ],
)
def test_a_value_has_as_many_decimals_as_its_uncertainty(
    value: float, error: float | None, text: str, uncertainty: str | None
) -> None:
    """The uncertainty is twice the standard error with two digits, rounded up."""
    answer = reading("closing_speed", value, "mm/s", error)
    assert (answer["value"], answer.get("uncertainty")) == (text, uncertainty)


def test_an_exact_uncertainty_is_not_rounded_up_by_binary_fractions() -> None:
    """0.2 s stay 0.20 s."""
    assert exact_reading("closing_time", Fraction(24), "s", 0.2)["uncertainty"] == "0.20"


@given(st.floats(-1e12, 1e12), st.integers(0, 9))
def test_a_decimal_text_is_near_its_value_and_has_no_exponent(value: float, decimals: int) -> None:
    """Half a step at most from the number as it would be printed."""
    text = decimal(value, decimals)
    assert "e" not in text.lower()
    assert abs(Decimal(text) - Decimal(repr(value))) <= Decimal(5).scaleb(-decimals - 1)


@given(st.integers(-(10**12), 10**12), st.integers(0, 9))
def test_a_decimal_that_ends_is_written_exactly(value: int, places: int) -> None:
    """Up to nine decimals nothing is lost."""
    assert Fraction(fraction_text(Fraction(value, 10**places))) == Fraction(value, 10**places)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1234.5, 3, "1234"),
        (0.012345, 3, "0.0123"),
        (10.0, 3, "10"),
        (0.0, 3, "0"),
        (-2.5, 6, "-2.5"),
    ],
)
def test_significant_digits(value: float, digits: int, text: str) -> None:
    """Trailing zeros are left off, whole numbers are not shortened."""
    assert significant(value, digits) == text


def test_the_readings_of_every_kind_are_measurands_and_judge_takes_them() -> None:
    """What `measure` calls a reading has a name, a unit and a form that `judge` accepts."""
    rows = Sensor(rate=20, noise=1).look(Course((Leg(254, 12), Leg(0, 2), Leg(254, 12))))
    force = [[0, 0, 0], [0.1, 60, 0], [0.2, 30, 0.1], [0.3, 30, 0.5], [0.4, 30, 0.9]]
    volts = [[0, 13.8], [1, 13.8], [2, 12.6], [9, 11.2], [10, 10.9], [11, 10.8]]
    length = {"value": "0.8", "unit": "m"}
    traces: list[dict[str, object]] = [
        trace(rows, signal_at="0.5"),
        {
            "kind": "force",
            "units": {"t": "s", "force": "N", "position": "m"},
            "samples": force,
            "required_width": length,
        },
        {
            "kind": "battery",
            "units": {"t": "h", "volts": "V"},
            "samples": volts,
            "line_lost_at": "1.5",
            "trouble_at": "9",
            "closed_at": "10",
        },
        {"kind": "stopwatch", "travel": length, "times": ["3"], "unit": "s"},
    ]
    readings = [found for sent in traces for found in rules.measure(sent)["readings"]]
    assert len(readings) >= 12
    for found in readings:
        assert MEASURANDS[found["quantity"]].takes(rules.quantities.unit(found["unit"]))
    facts = {"door_type": "accordion", "operation": "power", "fire_door": True}
    held = rules.requirements(facts=facts, jurisdiction="us", on=date(2026, 3, 1))
    visit = {"on": "2026-03-01", "activity": "periodic_inspection", "readings": readings}
    answer = rules.judge(held, visit)
    judged = {verdict.get("quantity") for verdict in answer["verdicts"]}
    assert {"closing_speed", "set_in_motion_force"} <= judged


WIDE = {"value": "0.8", "unit": "m"}
STATED: dict[str, dict] = {
    "travel": trace(Sensor(rate=20).look(Course((Leg(254, 8),)))),
    "force": {
        "kind": "force",
        "units": {"t": "s", "force": "N"},
        "samples": [[n / 100, 50.0 + n % 3] for n in range(200)],
        "uncertainty": {"value": "2", "unit": "N"},
    },
    "battery": {
        "kind": "battery",
        "units": {"t": "h", "volts": "V"},
        "samples": [[n, 13 - n / 10] for n in range(40)],
        "close_threshold": {"value": "11", "unit": "V"},
        "uncertainty": {"value": "0.1", "unit": "V"},
    },
    "stopwatch": {"kind": "stopwatch", "travel": WIDE, "times": ["3"], "unit": "s"},
}


@pytest.mark.parametrize("kind", STATED)
def test_each_kind_states_its_uncertainty_where_the_input_allows_one(kind: str) -> None:
    """Every reading of every kind of trace, its gauge's own stated where the samples tell none."""
    readings = rules.measure(STATED[kind])["readings"]
    assert readings
    assert all(float(found["uncertainty"]) > 0 for found in readings)


@pytest.mark.parametrize("kind", ["travel", "force", "battery"])
def test_each_kind_with_samples_says_what_it_left_out(kind: str) -> None:
    """A sample without a value and one with the time of another, by their places."""
    rows = [list(row) for row in STATED[kind]["samples"]]
    rows[7][1] = None
    rows.insert(20, list(rows[19]))
    report = rules.measure({**STATED[kind], "samples": rows})["samples"]
    left_out = {each["reason"]: each["first"] for each in report["discarded"]}
    assert left_out == {"no_value": [7], "duplicate_time": [20]}
    assert report["used"] == report["received"] - 2


def test_a_trend_states_the_interval_of_its_slope_and_of_its_crossing() -> None:
    """A series of six readings or more has both."""
    points = [{"t": n, "value": 20 + n + n % 2} for n in range(8)]
    sent = {"kind": "series", "quantity": "set_in_motion_force", "unit": "lbf", "points": points}
    answer = rules.measure({**sent, "high": {"value": "40", "unit": "lbf"}})
    assert float(answer["trend"]["low"]) < float(answer["trend"]["high"])
    (forecast,) = answer["forecasts"]
    assert float(forecast["earliest"]) <= float(forecast["crosses"]) <= float(forecast["latest"])
