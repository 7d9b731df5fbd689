"""What a retest covers after a failure and a repair, and the words for the parts of a door."""

from __future__ import annotations

from datetime import date
from itertools import product
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import rules
from rules.errors import InputError
from rules.measurands import MEASURANDS
from rules.model import CheckSpec, RequirementSet, SequenceSpec
from rules.planning.order import order
from rules.planning.retests import retest_scope
from rules.practice.parts import EVERY_SEQUENCE, known_parts, parts
from rules.shapes import schema
from rules.vocabulary import DoorType

DAY = date(2026, 3, 1)


def door(door_type: str, **facts: object) -> RequirementSet:
    """What applies to a fire door of that type."""
    known = {"fire_door": True, "installed_on": "2019-05-01", "means_of_egress": True}
    known |= {"hold_open": False}
    operation = "power" if door_type == "accordion" else "manual"
    told = {"door_type": door_type, "operation": operation, **known, **facts}
    return rules.requirements(facts=told, jurisdiction="us", on=DAY)


ACCORDION = door("accordion")


def scope(
    held: RequirementSet, failed: list[str], repaired: list[str]
) -> dict[str, dict[str, Any]]:
    """The scope by subject; where several requirements ask for one, the last."""
    return {one["subject"]: one for one in retest_scope(held, subjects=failed, parts=repaired)}


def of_sort(found: dict[str, dict[str, Any]], sort: str, *, needed: bool = False) -> list[str]:
    """The names of one sort in their order."""
    return [
        subject.partition(":")[2]
        for subject, one in found.items()
        if subject.startswith(f"{sort}:") and (one["needed"] or not needed)
    ]


def packaged_names() -> set[str]:
    """Every subject that the packaged data asks for."""
    specs = [one.spec for one in rules.load().requirements.values()]
    found = {f"sequence:{spec.sequence}" for spec in specs if isinstance(spec, SequenceSpec)}
    found |= {f"check:{spec.check}" for spec in specs if isinstance(spec, CheckSpec)}
    return found | {f"quantity:{name}" for name in MEASURANDS}


# --- the vocabulary --------------------------------------------------------------------------


def test_every_part_that_a_rule_names_is_a_word() -> None:
    """What a sequence says of the parts it hangs on uses the vocabulary and no other word."""
    named = {
        part
        for one in rules.load().requirements.values()
        if isinstance(one.spec, SequenceSpec)
        for part in one.spec.after_parts
    }
    assert named
    assert named <= known_parts().parts.keys()


def test_parts_and_failures_name_what_is_there() -> None:
    """No sequence, quantity or check is made up for a part or a failure."""
    told = {subject for one in known_parts().parts.values() for subject in one.hanging}
    told |= {subject for one in known_parts().failures.values() for subject in one.beside}
    told |= known_parts().failures.keys()
    assert told - {EVERY_SEQUENCE} <= packaged_names()


def test_order_names_what_is_there() -> None:
    """Every sequence of the data has its place in a visit, and no place is made up."""
    assert {f"sequence:{name}" for name in order().places} == {
        name for name in packaged_names() if name.startswith("sequence:")
    }
    assert {one for names in order().during.values() for one in names} <= order().places.keys()
    for name in order().untested:
        assert {f"sequence:{name}", f"quantity:{name}"} & packaged_names()


@pytest.mark.parametrize("door_type", list(DoorType))
def test_every_door_has_parts(door_type: DoorType) -> None:
    """Label, signs and seals everywhere; a closer on no accordion door."""
    words = {one["part"] for one in parts(door_type)}
    assert {"label", "signage", "seals"} <= words
    assert ("curtain" in words) == (door_type in {"rolling", "service_counter"})
    assert ("hinge" in words) == (door_type is DoorType.SWINGING)
    assert ("leading_edge" in words) == (door_type is not DoorType.SWINGING)


def test_the_schema_has_the_vocabulary() -> None:
    """The words of the schema are those of the data."""
    assert schema("retest")["$defs"]["part"]["enum"] == [one["part"] for one in parts()]


# --- the scope -------------------------------------------------------------------------------


def test_nothing_but_the_failed_thing_where_no_part_was_repaired() -> None:
    """An obstruction that failed is tried again."""
    found = scope(ACCORDION, ["sequence:obstruction"], [])
    assert list(found) == ["sequence:obstruction"]
    assert (found["sequence:obstruction"]["by"], found["sequence:obstruction"]["needed"]) == (
        "failed",
        True,
    )


@pytest.mark.parametrize("part", ["controller", "battery", "leading_edge"])
def test_every_sequence_hangs_on_some_parts(part: str) -> None:
    """Controller, battery and sensor edge: every sequence of the door, each that binds needed."""
    found = scope(ACCORDION, ["sequence:obstruction"], [part])
    here = [
        one.requirement.spec.sequence
        for one in ACCORDION.items
        if isinstance(one.requirement.spec, SequenceSpec)
    ]
    assert sorted(of_sort(found, "sequence")) == sorted(set(here))
    needed = of_sort(found, "sequence", needed=True)
    assert needed == ["obstruction", "closes-on-signal", "egress-in-fire-mode"]


def test_quantities_and_checks_that_hang_on_a_part_are_told_and_not_needed() -> None:
    """The speed after the drive was mended is told; a retest is whole without it."""
    found = scope(ACCORDION, ["sequence:closes-on-signal"], ["drive"])
    assert found["quantity:closing_speed"]["by"] == "part"
    assert not found["quantity:closing_speed"]["needed"]
    assert "drive" in found["quantity:closing_speed"]["because"]


def test_failed_first_then_sequences_as_they_are_run() -> None:
    """The order of the answer is the order of the work."""
    found = scope(ACCORDION, ["check:label-legible", "quantity:closing_speed"], ["controller"])
    assert list(found)[:2] == ["quantity:closing_speed", "check:label-legible"]
    sequences = of_sort(found, "sequence")
    assert sequences == sorted(sequences, key=lambda name: order().place(name).rank)
    assert sequences[0] == "closes-on-signal"


def test_custom_beside_a_failure_binds_nobody() -> None:
    """A door that did not close is gone through whole by custom, whatever was repaired."""
    found = scope(ACCORDION, ["sequence:closes-on-signal"], [])
    assert found["sequence:reset"]["by"] == "custom"
    assert of_sort(found, "sequence", needed=True) == ["closes-on-signal"]


def test_requirement_ids_and_subjects_name_the_same() -> None:
    """An id is taken as what it asks for; what asks for nothing observed stays by its id."""
    by_id = retest_scope(
        ACCORDION, subjects=["nfpa-80-2007/operation/obstruction"], parts=["drive"]
    )
    assert by_id == retest_scope(ACCORDION, subjects=["sequence:obstruction"], parts=["drive"])
    (kept,) = retest_scope(
        ACCORDION, subjects=["requirement:nfpa-80-2013/record/contents"], parts=[]
    )
    assert kept["subject"] == "requirement:nfpa-80-2013/record/contents"


def test_what_nobody_asks_for_any_more_is_told() -> None:
    """A failed thing stays in the answer though the rules no longer ask for it."""
    (only,) = retest_scope(door("swinging"), subjects=["sequence:drop-test"], parts=[])
    assert (only["requirement"], only["needed"]) == (None, False)
    assert "any more" in only["because"]


@pytest.mark.parametrize(
    ("door_type", "part", "needed"),
    [
        ("swinging", "closer", ["closes-and-latches"]),
        ("swinging", "hinge", ["closes-and-latches"]),
        ("rolling", "governor", ["drop-test"]),
        ("rolling", "fusible_link", ["drop-test"]),
        ("service_counter", "curtain", ["drop-test"]),
        ("vertical_sliding", "counterweight", ["full-closure"]),
        ("horizontal_sliding", "weight", ["full-closure"]),
        ("accordion", "detector", ["closes-on-signal"]),
        ("accordion", "operating_device", ["egress-in-fire-mode"]),
        ("accordion", "label", []),
    ],
)
def test_what_hangs_on_a_part_of_each_door(door_type: str, part: str, needed: list[str]) -> None:
    """Only what applies to the door, and only what the part reaches."""
    found = scope(door(door_type), [], [part])
    assert of_sort(found, "sequence", needed=True) == needed


def test_what_may_apply_is_needed_and_says_what_is_not_known() -> None:
    """A fact that nobody gave takes no sequence out of a retest."""
    found = scope(door("swinging", hold_open=None), [], ["closer"])
    release = found["sequence:hold-open-release"]
    assert (release["needed"], release["missing_facts"]) == (True, ["hold_open"])
    assert release["because"].endswith("hangs on: hold_open")


def test_every_mistake_is_refused_together() -> None:
    """An unknown part lists the vocabulary; an unknown subject says how one is written."""
    with pytest.raises(InputError) as refused:
        retest_scope(ACCORDION, subjects=["gizmo", "sequence:"], parts=["battery", "gizmo"])
    problems = {one.pointer: one for one in refused.value.problems}
    assert list(problems) == ["/subjects/0", "/subjects/1", "/parts/1"]
    assert all(one["part"] in problems["/parts/1"].message for one in parts())
    assert "sequence:" in problems["/subjects/0"].message


def test_schema_holds_for_every_part_and_door() -> None:
    """The answer is what the schema says."""
    validator = Draft202012Validator(schema("retest"))
    validator.check_schema(schema("retest"))
    for door_type, part in product(DoorType, known_parts().parts):
        held = door(door_type.value)
        validator.validate(
            retest_scope(held, subjects=["sequence:drop-test", "quantity:gap"], parts=[part])
        )
