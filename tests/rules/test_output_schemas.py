"""What the command line gives is what the schemas that ship say, over all places and doors."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import rules
from rules.command_line import main
from rules.comparing import under
from rules.shapes import NAMES, schema
from rules.vocabulary import Activity, DoorType, Operation
from tests.rules.test_command_line import OPENING, OVERRIDE, VISIT
from tests.rules.test_trace_schema import EXAMPLES

PLACES = sorted(rules.load().places)
DAY = date(2026, 3, 1)
INSTRUCTIONS = [
    {
        "target": "common-practice/closing-speed",
        "low": "8 in/s",
        "high": "12 in/s",
        "citation": {"publication": "instructions", "edition": "C", "clause": "4.2"},
    }
]


def check(name: str) -> Draft202012Validator:
    """The validator of a schema that ships."""
    return Draft202012Validator(schema(name))


def opening(door_type: str, operation: str, **facts: object) -> dict[str, Any]:
    """What is known of an opening of that type; `facts` besides."""
    return {"door_type": door_type, "operation": operation, **facts}


@pytest.mark.parametrize("name", NAMES)
def test_is_a_schema(name: str) -> None:
    """Every one is sound, and none takes just anything."""
    document = schema(name)
    Draft202012Validator.check_schema(document)
    assert not Draft202012Validator(document).is_valid({"colour": "red"})
    assert document["description"]


@pytest.mark.parametrize("place", PLACES)
def test_requirements_and_duties_of_every_door(place: str) -> None:
    """Every type of door, moved in every way, known or not: the answer is as the schema says."""
    listed, owed, judged = check("requirements"), check("duties"), check("verdicts")
    past = [{"activity": "periodic_inspection", "on": "2025-06-15"}]
    known = {Operation.POWER: "2019-05-01", Operation.LOW_ENERGY: "1989-05-01"}
    for door_type, operation in product(DoorType, Operation):
        installed = known.get(operation)
        facts = opening(door_type, operation, means_of_egress=True, installed_on=installed)
        held = rules.requirements(
            facts=facts, jurisdiction=place, on=DAY, listed_instructions=INSTRUCTIONS
        )
        listed.validate([rules.requirement_json(item) for item in held.items])
        duties = rules.duties(facts=facts, jurisdiction=place, history=past, on=DAY)
        owed.validate(duties)
        judged.validate(rules.judge(held, {"activity": Activity.PERIODIC_INSPECTION.value}))


def test_a_stranger_in_a_requirement_is_refused() -> None:
    """A field more, a field less, a rule without its part: the schema says no."""
    held = rules.requirements(facts=OPENING["facts"], jurisdiction="us", on=DAY)
    sound = [rules.requirement_json(item) for item in held.items]
    spoil: list[Callable[[dict[str, Any]], object]] = [
        lambda one: one.update(colour="red"),
        lambda one: one.pop("citation"),
        lambda one: one.pop(one["kind"]),
        lambda one: one.update(kind="habit"),
        lambda one: one.update(lineage=[]),
    ]
    for spoilt in spoil:
        wrong = copy.deepcopy(sound)
        spoilt(wrong[0])
        assert check("requirements").is_valid(sound)
        assert not check("requirements").is_valid(wrong)


@pytest.mark.parametrize("place", PLACES)
def test_comparisons(place: str) -> None:
    """Two editions, for doors with stored visits: what is taken and what is given."""
    findings = {key: VISIT[key] for key in ("on", "activity", "readings")}
    taken = {"jurisdiction": place, "facts": OPENING["facts"], "visits": [{"findings": findings}]}
    check("compared").validate(taken)
    asked: dict[str, Any] = {"facts": taken["facts"], "jurisdiction": place, "on": DAY}
    sets = [under(edition, **asked) for edition in ("nfpa-80-2010", "nfpa-80-2022")]
    stored = rules.judge(sets[0], findings)
    visits = [{"findings": findings}, {"findings": findings, "answer": stored}]
    check("compared").validate({**taken, "visits": visits})
    check("comparison").validate([rules.compare(sets[0], sets[1], visits)])


@pytest.mark.parametrize("trace", EXAMPLES, ids=lambda trace: str(trace["kind"]))
def test_measurements(trace: dict[str, Any]) -> None:
    """Every kind of trace."""
    check("trace").validate(trace)
    check("measurement").validate(rules.measure(json.loads(json.dumps(trace), parse_float=Decimal)))


def test_lint(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """A sound file, one with remarks, one with mistakes."""
    silent = OVERRIDE.replace('existing_doors = "this_edition"\n', "")
    for text, problems, remarks in (
        (OVERRIDE, 0, 0),
        (silent, 0, 1),
        (OVERRIDE.replace("lbf", "furlong"), 1, 0),
    ):
        path = tmp_path / "town.toml"
        path.write_text(text, encoding="utf-8")
        main(["lint", str(path)])
        answer = json.loads(capsysbinary.readouterr().out)
        check("lint").validate(answer)
        assert (len(answer["problems"]), len(answer["remarks"])) == (problems, remarks)


def undescribed(at: str, part: object, whole: dict[str, Any]) -> Iterator[str]:
    """The fields of a schema that do not say what they are, nor point to what does."""
    if isinstance(part, list):
        for each in part:
            yield from undescribed(at, each, whole)
    elif isinstance(part, dict):
        for name, field in part.get("properties", {}).items():
            said = field.get("description") or meant(field, whole).get("description")
            if not said:
                yield f"{at}/{name}"
        for name, inner in part.items():
            if name not in {"if", "then", "else", "not"}:
                yield from undescribed(f"{at}/{name}", inner, whole)


def meant(field: dict[str, Any], whole: dict[str, Any]) -> dict[str, Any]:
    """What a field points to within its schema."""
    found: dict[str, Any] = whole if "$ref" in field else {}
    for step in field.get("$ref", "").removeprefix("#").strip("/").split("/"):
        found = found.get(step, {}) if step else found
    return found


@pytest.mark.parametrize("name", ["plan", "findings", "trace", "measurement", "verdicts", "duties"])
def test_every_field_that_an_app_reads_or_writes_says_what_it_is(name: str) -> None:
    """An app is built on the form, the findings and the verdicts without knowing any code."""
    whole = schema(name)
    assert list(undescribed("", whole, whole)) == []
