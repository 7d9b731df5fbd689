"""The JSON Schemas say what the code takes and gives."""

import json
from decimal import Decimal
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from rules.asking import requirements
from rules.errors import InputError, UnknownNameError
from rules.judging import judge
from rules.judging.findings import FIELDS
from rules.measurands import MEASURANDS
from rules.quantities import UNITS
from rules.shapes import schema
from rules.vocabulary import Activity
from tests.rules.hand_made import (
    DAY,
    at_most,
    check,
    found,
    per_door,
    permission,
    reading,
    resolved,
    sequence,
    the_set,
)

PASSED = {"check": "label", "result": "conforms"}
COURSE = {"sequence": "signal_closes", "result": "conforms"}


def valid(name: str, document: object) -> bool:
    """Whether the schema takes the document."""
    return Draft202012Validator(schema(name)).is_valid(document)


@pytest.mark.parametrize("name", ["findings", "verdicts"])
def test_is_a_schema(name: str) -> None:
    """The schema is one, its examples are valid, and its lists of words are the code's."""
    document = schema(name)
    Draft202012Validator.check_schema(document)
    assert all(valid(name, example) for example in document.get("examples", []))
    text = json.dumps(document)
    assert json.dumps(sorted(MEASURANDS)) in text
    assert json.dumps(list(UNITS)) in text
    assert json.dumps(sorted(Activity)) in text


def test_unknown_name() -> None:
    """A schema that does not exist is refused by name."""
    with pytest.raises(UnknownNameError, match="no schema is named 'colour'"):
        schema("colour")


def whole(findings: dict[str, Any]) -> dict[str, Any]:
    """The findings as the command line takes them."""
    return {"jurisdiction": "us", "on": "2026-03-01", "facts": {}, **findings}


FORCE = reading("opening_force", "14", "lbf")
GAUGE = {"ref": "g1", "resolution": "0.1", "uncertainty": "0.2", "calibration_due_on": "2027-01-01"}
STATED = {"quantity": "opening_force", "result": "not_tested", "reason": "x"}


@pytest.mark.parametrize(
    "findings",
    [
        found(),
        found(FORCE),
        found({**FORCE, "value": 14}),
        found({**FORCE, "value": 14.5}),
        found({**FORCE, "uncertainty": {"value": "2", "unit": "N"}, "repeat": 1}),
        found({**FORCE, "instrument": GAUGE, "history": ["14", {"value": "60", "unit": "N"}]}),
        found(STATED),
        found({**STATED, "reason": " "}),
        found({**STATED, "value": "1"}),
        found({**FORCE, "value": "-1"}),
        found({**FORCE, "value": "x"}),
        found({**FORCE, "value": ""}),
        found({**FORCE, "value": True}),
        found({**FORCE, "unit": "furlong"}),
        found({**FORCE, "repeat": 0}),
        found({**FORCE, "colour": "red"}),
        found({"quantity": "opening_force", "value": "1"}),
        found(checks=[PASSED]),
        found(checks=[{**PASSED, "result": "ok"}]),
        found(checks=[{"check": "label", "result": "not_tested"}]),
        found(checks=[{"check": "label", "result": "not_tested", "reason": "x"}]),
        found(sequences=[{**COURSE, "steps": [{"step": "closes", "seen": True}]}]),
        found(sequences=[{**COURSE, "steps": [{"step": "closes"}]}]),
        found(sequences=[{**COURSE, "times": [reading("start_delay", "1", "s")]}]),
        found(sequences=[{**COURSE, "times": [{"quantity": "start_delay"}]}]),
        found(decision_rule="guarded"),
        found(decision_rule="strict"),
        found(activity="annual"),
        {"activity": "periodic_inspection", "no_access": "locked"},
        {"activity": "periodic_inspection", "no_access": ""},
    ],
)
def test_findings_schema_agrees_with_the_code(findings: dict[str, Any]) -> None:
    """What the schema takes, judging takes; what it refuses, judging refuses."""
    held = the_set(
        at_most("opening_force", "15 lbf"), check("label"), sequence("signal_closes", "closes")
    )
    read = json.loads(json.dumps(findings), parse_float=Decimal)
    try:
        judge(held, read)
    except InputError:
        accepted = False
    else:
        accepted = True
    assert valid("findings", whole(findings)) is accepted


def test_findings_schema_names_every_field() -> None:
    """The fields of the schema are those that are read."""
    fields = set(schema("findings")["properties"])
    assert fields == FIELDS | {"jurisdiction", "facts", "listed_instructions"}


def test_verdicts_schema_holds_for_every_kind_of_answer() -> None:
    """Limits, checks, sequences, permissions, repeats, refusals to judge, no access."""
    held = the_set(
        at_most("opening_force", "15 lbf"),
        resolved(at_most("opening_force", "4 lbf"), "usual", advisory=True),
        check("label"),
        sequence("signal_closes", "closes", times=(at_most("start_delay", "10 s"),)),
        permission("occupancy_group", "B"),
        per_door("pause_time"),
    )
    times = [reading("start_delay", "1", "s", uncertainty="0.2")]
    course = {**COURSE, "steps": [{"step": "closes", "seen": True}], "times": times}
    pulls = [{**FORCE, "uncertainty": "0.5", "repeat": n} for n in (1, 2)]
    full = found(*pulls, reading("gap", "1", "mm"), checks=[PASSED], sequences=[course])
    for findings in (full, found(), {"activity": "operation_test", "no_access": "locked"}):
        answer = judge(held, findings)
        answer["library"]["requirements_digest"] = "0" * 64  # made by hand, it has no digest
        Draft202012Validator(schema("verdicts")).validate(answer)


def test_verdicts_schema_holds_for_the_packaged_data() -> None:
    """The answer on a real set of requirements is what the schema says."""
    facts = {"door_type": "accordion", "operation": "power", "fire_door": True}
    held = requirements(facts=facts, jurisdiction="us-ca", on=DAY)
    Draft202012Validator(schema("verdicts")).validate(judge(held, found(FORCE)))


def test_what_two_schemas_share_is_the_same_in_both() -> None:
    """`compared` takes facts and findings word for word as their own schemas say them."""
    compared = schema("compared")["$defs"]
    compared["facts"] = json.loads(
        json.dumps(compared["facts"]).replace("/measured_decimal", "/decimal")
    )
    facts, findings = schema("facts")["$defs"], schema("findings")["$defs"]
    facts["measured_decimal"] = facts.pop("decimal")
    for source in (facts, findings):
        shared = (source.keys() & compared.keys()) - {"visit"}
        assert len(shared) > 6
        assert {name: source[name] for name in shared} == {name: compared[name] for name in shared}
