"""Findings that cannot be accepted: every mistake named by its pointer, nothing judged."""

from typing import Any

import pytest

from rules.errors import InputError
from rules.judging import judge
from tests.rules.hand_made import at_most, check, found, reading, sequence, the_set

HELD = (
    at_most("opening_force", "15 lbf"),
    check("label"),
    sequence("signal_closes", "starts", "closes"),
)
FORCE = reading("opening_force", "14", "lbf")
COURSE = {"sequence": "signal_closes", "result": "conforms"}
STEP = {"step": "starts", "seen": True}


def refused(findings: dict[str, Any]) -> set[tuple[str, str]]:
    """Pointer and code of every mistake found."""
    with pytest.raises(InputError) as caught:
        judge(the_set(*HELD), findings)
    assert str(caught.value)
    return {(problem.pointer, problem.code) for problem in caught.value.problems}


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("NaN", "not_a_number"),
        ("Infinity", "not_a_number"),
        ("1e999", "out_of_range"),
        ("1e31", "out_of_range"),
        ("-1", "negative"),
        pytest.param("9" * 5000, "too_long", id="a text of 5,000 digits"),
        pytest.param(10**5000, "too_long", id="a number of 5,001 digits"),
        ("15,5", "not_a_number"),
        ("15 lbf", "not_a_number"),
        ("", "not_a_number"),
        (" 15", "not_a_number"),
        ("\u0661\u0665", "not_a_number"),
        ("0x10", "not_a_number"),
        (True, "not_a_number"),
        (15.0, "not_a_number"),
        ([], "not_a_number"),
        (None, "required"),
    ],
)
def test_value(value: object, code: str) -> None:
    """A value is a finite decimal of a size that a measurement has, and never negative."""
    sent = reading("opening_force", value, "lbf")
    assert refused(found(sent)) == {("/readings/0/value", code)}


@pytest.mark.parametrize(
    ("unit", "code"),
    [
        ("lb", "wrong_dimension"),
        ("in", "wrong_dimension"),
        ("lbs", "unknown_unit"),
        ("", "unknown_unit"),
        (5, "unknown_unit"),
        (None, "required"),
    ],
)
def test_unit(unit: object, code: str) -> None:
    """The unit is there, is known and measures the quantity: a pound is no force here."""
    assert refused(found(reading("opening_force", "14", unit))) == {("/readings/0/unit", code)}


@pytest.mark.parametrize(
    ("extra", "pointer", "code"),
    [
        ({"uncertainty": "-0.1"}, "/uncertainty", "negative"),
        ({"uncertainty": "NaN"}, "/uncertainty", "not_a_number"),
        ({"uncertainty": {"value": "1", "unit": "s"}}, "/uncertainty/unit", "wrong_dimension"),
        ({"uncertainty": {"unit": "N"}}, "/uncertainty/value", "required"),
        ({"repeat": 0}, "/repeat", "not_a_count"),
        ({"repeat": True}, "/repeat", "not_a_count"),
        ({"repeat": "1"}, "/repeat", "not_a_count"),
        ({"instrument": []}, "/instrument", "not_an_object"),
        ({"instrument": {"make": "x"}}, "/instrument/make", "unknown_field"),
        ({"instrument": {"resolution": "-1"}}, "/instrument/resolution", "negative"),
        (
            {"instrument": {"calibration_due_on": "2026-02-30"}},
            "/instrument/calibration_due_on",
            "not_a_date",
        ),
        ({"history": "14"}, "/history", "not_a_list"),
        ({"history": ["14", "x"]}, "/history/1", "not_a_number"),
        ({"history": ["14"] * 1001}, "/history", "too_many"),
        ({"unti": "N"}, "/unti", "unknown_field"),
        ({"a/b~c": 1}, "/a~1b~0c", "unknown_field"),
        ({"result": "conforms"}, "/result", "unknown_word"),
        ({"remarks": "x" * 2001}, "/remarks", "too_long"),
        ({"remarks": 5}, "/remarks", "not_a_text"),
    ],
)
def test_parts_of_a_reading(extra: dict[str, Any], pointer: str, code: str) -> None:
    """Every part of a reading is checked, also where the limit would not need it."""
    assert (f"/readings/0{pointer}", code) in refused(found({**FORCE, **extra}))


@pytest.mark.parametrize(
    ("quantity", "code"),
    [
        ("force", "unknown_quantity"),
        (None, "required"),
        (5, "unknown_quantity"),
        (["opening_force"], "unknown_quantity"),
        ({}, "unknown_quantity"),
    ],
)
def test_unknown_quantity(quantity: object, code: str) -> None:
    """A quantity that nothing measures is a typing mistake, not an unmatched reading."""
    sent = {**FORCE, "quantity": quantity}
    assert refused(found(sent)) == {("/readings/0/quantity", code)}


@pytest.mark.parametrize(
    ("readings", "problem"),
    [
        ([{**FORCE, "repeat": 1}, {**FORCE, "repeat": 1}], ("/readings/1/repeat", "duplicate")),
        (
            [FORCE, {"quantity": "opening_force", "result": "not_tested", "reason": "x"}],
            ("/readings/1/quantity", "contradiction"),
        ),
        (
            [{"quantity": "opening_force", "result": "not_tested", "reason": "x"}, FORCE],
            ("/readings/1/quantity", "contradiction"),
        ),
        (
            [{"quantity": "opening_force", "result": "not_tested"}],
            ("/readings/0/reason", "required"),
        ),
        (
            [{**FORCE, "result": "not_tested", "reason": "x"}],
            ("/readings/0/result", "contradiction"),
        ),
        (["14 lbf"], ("/readings/0", "not_an_object")),
        ("14 lbf", ("/readings", "not_a_list")),
        ([FORCE] * 1001, ("/readings", "too_many")),
    ],
)
def test_readings_together(readings: object, problem: tuple[str, str]) -> None:
    """One quantity is measured or not, its repeats are told apart, and a list is a list."""
    assert problem in refused({"activity": "periodic_inspection", "readings": readings})


@pytest.mark.parametrize(
    ("more", "problem"),
    [
        ({"checks": [{"check": "label"}]}, ("/checks/0/result", "required")),
        ({"checks": [{"check": "label", "result": "ok"}]}, ("/checks/0/result", "unknown_word")),
        ({"checks": [{"result": "conforms"}]}, ("/checks/0/check", "required")),
        (
            {"checks": [{"check": "label", "result": "not_tested"}]},
            ("/checks/0/reason", "required"),
        ),
        (
            {"checks": [{"check": "label", "result": "not_applicable", "reason": " "}]},
            ("/checks/0/reason", "required"),
        ),
        (
            {"checks": [{"check": "no such thing", "result": "conforms"}]},
            ("/checks/0/check", "unknown_check"),
        ),
        (
            {"checks": [{"check": "label", "result": "conforms", "steps": []}]},
            ("/checks/0/steps", "unknown_field"),
        ),
        (
            {"sequences": [{"sequence": "no such thing", "result": "conforms"}]},
            ("/sequences/0/sequence", "unknown_sequence"),
        ),
        (
            {"sequences": [{"sequence": "no-holes", "result": "conforms"}]},
            ("/sequences/0/sequence", "unknown_sequence"),
        ),
        (
            {"checks": [{"check": "drop-test", "result": "conforms"}]},
            ("/checks/0/check", "unknown_check"),
        ),
        (
            {"sequences": [{**COURSE, "steps": [{"step": "flies", "seen": True}]}]},
            ("/sequences/0/steps/0/step", "unknown_step"),
        ),
        (
            {"sequences": [{**COURSE, "steps": [STEP, STEP]}]},
            ("/sequences/0/steps/1/step", "duplicate"),
        ),
        (
            {"sequences": [{**COURSE, "steps": [{"step": "starts", "seen": "yes"}]}]},
            ("/sequences/0/steps/0/seen", "not_a_boolean"),
        ),
        (
            {"sequences": [{**COURSE, "times": [reading("start_delay", "-1", "s")]}]},
            ("/sequences/0/times/0/value", "negative"),
        ),
        (
            {"sequences": [{**COURSE, "times": [reading("start_delay", "1", "in")]}]},
            ("/sequences/0/times/0/unit", "wrong_dimension"),
        ),
        ({"decision_rule": "strict"}, ("/decision_rule", "unknown_word")),
        ({"on": "2026-03-02"}, ("/on", "other_day")),
        ({"on": "2026-13-01"}, ("/on", "not_a_date")),
        ({"on": "20260301"}, ("/on", "not_a_date")),
        ({"activity": "annual"}, ("/activity", "unknown_word")),
        ({"activity": None}, ("/activity", "required")),
        ({"colour": "red"}, ("/colour", "unknown_field")),
        ({"no_access": ""}, ("/no_access", "required")),
        ({"no_access": True}, ("/no_access", "required")),
        (
            {"no_access": "locked", "checks": [{"check": "label", "result": "conforms"}]},
            ("/checks", "contradiction"),
        ),
    ],
)
def test_the_rest(more: dict[str, Any], problem: tuple[str, str]) -> None:
    """Checks, sequences and the head of the findings are checked as strictly as readings."""
    assert problem in refused({"activity": "periodic_inspection", **more})


def test_every_mistake_is_named_at_once() -> None:
    """Nobody has to send a visit five times to find five mistakes."""
    sent = found(reading("opening_force", "-1", "lbf"), reading("gap", "1", "s"), activity="x")
    assert refused(sent) == {
        ("/readings/0/value", "negative"),
        ("/readings/1/unit", "wrong_dimension"),
        ("/activity", "unknown_word"),
    }


@pytest.mark.parametrize(
    ("more", "asked"),
    [
        ({"checks": [{"check": "label", "result": "not_tested"}]}, "why it was not tested"),
        ({"readings": [{"quantity": "gap", "result": "not_tested"}]}, "why it was not tested"),
        ({"no_access": " "}, "why nobody got to it"),
    ],
)
def test_who_left_something_is_asked_why(more: dict[str, Any], asked: str) -> None:
    """The words stand before the person at the door, who knows no field of the API."""
    with pytest.raises(InputError) as caught:
        judge(the_set(*HELD), {"activity": "periodic_inspection", **more})
    assert [asked in each.message for each in caught.value.problems] == [True]
