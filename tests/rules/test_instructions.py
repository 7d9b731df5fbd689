"""A door's own listed instructions: the last layer, which never loosens what binds."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from rules.asking import requirements
from rules.errors import InputError
from rules.layers import INSTRUCTIONS
from rules.model import LimitSpec, Resolved, SequenceSpec
from rules.vocabulary import Change
from tests.rules.small_library import DAY, DOOR, library

CITED = {"publication": "Installation instructions", "edition": "C", "clause": "4.2"}


def told(*instructions: dict[str, Any], on: date = DAY) -> dict[str, Resolved]:
    """The set of an invented door with these instructions on file."""
    found = requirements(
        facts=DOOR,
        jurisdiction="shire",
        on=on,
        listed_instructions=[{"citation": CITED, **item} for item in instructions],
        library=library(),
    )
    return {item.requirement.id: item for item in found.items}


def limit(item: Resolved) -> LimitSpec:
    """The limit of a requirement that is one."""
    assert isinstance(item.requirement.spec, LimitSpec)
    return item.requirement.spec


def test_supplies_a_number_that_is_left_to_each_door() -> None:
    """A number to be supplied per door comes from the instructions and then binds."""
    item = told({"target": "habit/pause", "low": "1 s", "high": "5 s"})["habit/pause"]
    assert (str(limit(item).low), str(limit(item).high)) == ("1 s", "5 s")
    assert not limit(item).supplied_per_door
    assert (item.layer, item.advisory) == (INSTRUCTIONS, False)


def test_replaces_a_habit_even_with_a_wider_number() -> None:
    """Common practice gives way to the door's own setting, which binds."""
    item = told({"target": "habit/speed", "high": "30 in/s"})["habit/speed"]
    assert (str(limit(item).high), item.advisory) == ("30 in/s", False)
    assert [step.change for step in item.lineage] == [Change.ADD, Change.REPLACE]


def test_adopts_a_habit_without_a_number() -> None:
    """Naming a habit alone makes it bind as it stands."""
    assert not told({"target": "habit/quarterly"})["habit/quarterly"].advisory


def test_tightens_what_binds() -> None:
    """A stricter number takes the place of a binding one."""
    item = told({"target": "code/force/motion", "high": "20 lbf"})["code-2020/force/motion"]
    assert str(limit(item).high) == "20 lbf"
    assert item.lineage[-1].change is Change.TIGHTEN


def test_never_loosens_what_binds() -> None:
    """A looser number stands beside the binding one, which stays as it was."""
    found = told({"target": "code/force/motion", "high": "60 lbf"})
    assert str(limit(found["code-2020/force/motion"]).high) == "30 lbf"
    beside = found["listed_instructions/code/force/motion"]
    assert (str(limit(beside).high), beside.layer) == ("60 lbf", INSTRUCTIONS)


def test_same_number_changes_nothing() -> None:
    """Repeating the binding number leaves the set as it was."""
    found = told({"target": "code/force/motion", "high": "30 lbf"})
    assert found["code-2020/force/motion"].layer == "land"
    assert "listed_instructions/code/force/motion" not in found


def test_times_of_a_sequence_are_supplied_but_never_loosened() -> None:
    """A step's time left to the door is filled; a stated one is only made stricter."""
    times = {"pause_time": {"high": "5 s"}, "start_delay": {"high": "20 s"}}
    spec = told({"target": "habit/obstruct", "times": times})["habit/obstruct"].requirement.spec
    assert isinstance(spec, SequenceSpec)
    assert [(time.quantity, str(time.high)) for time in spec.times] == [
        ("pause_time", "5 s"),
        ("start_delay", "10 s"),
    ]


def test_time_that_the_sequence_did_not_state_is_added() -> None:
    """Instructions may time a step that no publication times."""
    times = {"closing_time": {"high": "30 s"}}
    spec = told({"target": "habit/obstruct", "times": times})["habit/obstruct"].requirement.spec
    assert isinstance(spec, SequenceSpec)
    assert str(spec.times[-1].high) == "30 s"


def test_adds_a_requirement_of_its_own() -> None:
    """A whole requirement, as a data file writes it, stands under the instructions."""
    own = {
        "kind": "check",
        "id": "cap",
        "title": "The cap is firm",
        "basis": "maintenance",
        "protects": "people",
        "standing": "secondary",
        "check": {"check": "cap", "asks": "Is the cap firm?"},
    }
    assert told(own)["listed_instructions/cap"].layer == INSTRUCTIONS


def test_speaks_between_its_days_alone() -> None:
    """Instructions replaced by a later revision speak until their last day."""
    item = {"target": "habit/speed", "high": "9 in/s", "until": "2025-12-31"}
    assert told(item)["habit/speed"].advisory
    assert not told(item, on=date(2025, 12, 31))["habit/speed"].advisory


def test_brings_in_a_rule_that_is_no_reference() -> None:
    """Instructions may name a rule that stands outside the reference list."""
    item = told({"target": "other/by-name"})["other-2015/by-name"]
    assert (item.layer, item.advisory) == (INSTRUCTIONS, False)


@pytest.mark.parametrize(
    ("item", "pointer", "code"),
    [
        ({"target": "habit/no-such"}, "/listed_instructions/0/target", "unknown_target"),
        ({}, "/listed_instructions/0/target", "missing"),
        ({"target": "habit/speed", "hihg": "9 in/s"}, "/listed_instructions/0/hihg", "unknown_key"),
        ({"target": "habit/speed", "high": "9 lbf"}, "/listed_instructions/0/high", "cannot_move"),
        ({"target": "habit/speed", "high": "9 mph"}, "/listed_instructions/0/high", "unknown_unit"),
        ({"target": "habit/speed", "high": "fast"}, "/listed_instructions/0/high", "not_a_number"),
        ({"target": "habit/speed", "every": "P1Y"}, "/listed_instructions/0/target", "cannot_move"),
        ({"target": "habit/speed", "citation": None}, "/listed_instructions/0/citation", "missing"),
        (
            {"target": "habit/speed", "low": "30 in/s"},
            "/listed_instructions/0/low",
            "cannot_move",
        ),
        (
            {"target": "habit/obstruct", "times": {"pause": {"high": "5 s"}}},
            "/listed_instructions/0/times/pause",
            "unknown_quantity",
        ),
        ({"kind": "check"}, "/listed_instructions/0/id", "missing"),
        (
            {"target": "habit/obstruct", "times": {"pause_time": "5 s"}},
            "/listed_instructions/0/times/pause_time",
            "wrong_type",
        ),
        (
            {"target": "habit/obstruct", "times": {"pause_time": {"high": "5 in"}}},
            "/listed_instructions/0/times/pause_time/high",
            "wrong_dimension",
        ),
    ],
)
def test_mistakes_are_named_by_their_place(item: dict[str, Any], pointer: str, code: str) -> None:
    """Every mistake in an instruction is refused with its pointer and why."""
    with pytest.raises(InputError) as refused:
        told(item)
    assert (pointer, code) in {(p.pointer, p.code) for p in refused.value.problems}


@pytest.mark.parametrize("raw", ["text", {"target": "x"}, [1], 7])
def test_anything_but_a_list_of_objects_is_refused(raw: object) -> None:
    """Listed instructions are a list of objects."""
    with pytest.raises(InputError) as refused:
        requirements(
            facts=DOOR,
            jurisdiction="shire",
            on=DAY,
            listed_instructions=raw,  # type: ignore[arg-type]
            library=library(),
        )
    assert refused.value.problems[0].pointer.startswith("/listed_instructions")
