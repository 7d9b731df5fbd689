"""The form of a visit: what it asks for, how firmly, in which order, with which cautions first."""

from __future__ import annotations

import json
from datetime import date
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import rules
from rules.command_line import main
from rules.errors import UnknownNameError
from rules.shapes import schema
from rules.vocabulary import Activity, DoorType, Operation
from tests.rules.hand_made import ACCORDION, CITED

DAY = date(2026, 3, 1)
WHOLE = "periodic_inspection"

ROLLING = {"door_type": "rolling", "operation": "power", "fire_door": True}
SWINGING = {"door_type": "swinging", "operation": "manual", "fire_door": True}


def plan(
    facts: dict[str, Any],
    activity: str = WHOLE,
    place: str = "us",
    instructions: list[dict[str, Any]] | None = None,
) -> dict[str, Any]:
    """The form for an opening with these facts."""
    held = rules.requirements(
        facts=facts, jurisdiction=place, on=DAY, listed_instructions=instructions or []
    )
    return rules.visit_plan(held, activity=activity)


def moving(door_type: str, **facts: object) -> dict[str, Any]:
    """A fire door of a kind."""
    return {"door_type": door_type, "fire_door": True, "installed_on": "2019-05-01", **facts}


def names(planned: dict[str, Any]) -> list[str]:
    """The sequences in their order."""
    return [one["sequence"] for one in planned["sequences"]]


def said(planned: dict[str, Any]) -> set[str]:
    """Which cautions are shown."""
    return {one["caution"] for one in planned["cautions"]}


def quantity(planned: dict[str, Any], name: str) -> dict[str, Any]:
    """One quantity of the form."""
    (only,) = [one for one in planned["measure"] if one["quantity"] == name]
    return only


def test_unknown_activity_is_refused() -> None:
    """An activity that is none is named with those that are."""
    with pytest.raises(UnknownNameError, match="no activity is named 'annual'; there are: accept"):
        plan(ACCORDION, "annual")


def test_every_place_and_door_has_a_form() -> None:
    """The answer is what the schema says, whatever the door, the place and the activity."""
    validator = Draft202012Validator(schema("plan"))
    validator.check_schema(schema("plan"))
    for place, door, operation in product(rules.load().places, DoorType, Operation):
        facts = {"door_type": door.value, "operation": operation.value, "fire_door": True}
        for activity in Activity:
            planned = plan(facts, activity.value, place)
            validator.validate(planned)
            assert planned["cautions"]


@pytest.mark.parametrize("activity", list(Activity))
def test_the_form_asks_what_judging_asks(activity: Activity) -> None:
    """What is required here is what a judgement of silence calls not tested or inconclusive."""
    held = rules.requirements(facts=ACCORDION, jurisdiction="us", on=DAY)
    planned = rules.visit_plan(held, activity=activity.value)
    asked = {
        one["requirement"]
        for part in (
            *(check for group in planned["look_at"] for check in group["checks"]),
            *planned["sequences"],
        )
        for one in part["requirements"]
        if one["asked"] == "required"
    } | {
        one["requirement"]
        for part in planned["measure"]
        for one in part["limits"]
        if one["asked"] == "required"
    }
    judged = rules.judge(held, {"activity": activity.value})["verdicts"]
    assert asked == {one["requirement"] for one in judged if one["required"]}
    assert asked


def test_cautions_come_first_and_say_when() -> None:
    """Before, while, after; each with the case in which it holds."""
    planned = plan(ACCORDION)
    moments = [one["moment"] for one in planned["cautions"]]
    assert moments == sorted(moments, key=["before", "while", "after"].index)
    assert list(planned).index("cautions") < list(planned).index("look_at")
    assert all(one["applies_when"] and one["words"] for one in planned["cautions"])


@pytest.mark.parametrize(
    ("facts", "shown", "hidden"),
    [
        (ACCORDION, {"two-supplies", "egress-kept", "soft-object"}, {"stored-energy"}),
        (moving("rolling", operation="manual"), {"stored-energy", "egress-kept"}, {"soft-object"}),
        (
            moving("swinging", operation="manual", means_of_egress=False),
            {"closing-leaf"},
            {"two-supplies", "egress-kept", "stored-energy", "battery"},
        ),
        (moving("horizontal_sliding", operation="manual"), {"weights"}, {"battery"}),
    ],
)
def test_cautions_are_those_of_the_door(
    facts: dict[str, Any], shown: set[str], hidden: set[str]
) -> None:
    """A caution that does not concern the door is left out; one that may is not."""
    told = said(plan(facts))
    assert shown <= told
    assert not hidden & told
    assert {"told", "look-first", "afterwards", "may-stay-untested"} <= told


def test_caution_of_a_retest() -> None:
    """What only a repair brings is said after one alone."""
    assert "after-repair" in said(plan(ACCORDION, "repair_retest"))
    assert "after-repair" not in said(plan(ACCORDION))


def test_looked_at_before_anything_moves() -> None:
    """The check before operating is the first, what is looked at the second."""
    groups = [group["group"] for group in plan(ACCORDION)["look_at"]]
    assert groups[:2] == ["before operating", "looked at"]


def test_sequences_in_the_order_they_are_run() -> None:
    """On the signal first, in fire mode next, supplies off after the reset, restored last."""
    found = names(plan(ACCORDION, "acceptance_test"))
    wanted = [
        *("closes-on-signal", "fire-mode-signal", "obstruction", "egress-in-fire-mode"),
        *("second-push", "manual-in-fire-mode", "reset", "device-fault", "mains-loss"),
        *("mains-loss-and-signal", "low-battery", "manual-without-power", "restore"),
    ]
    assert [name for name in found if name in wanted] == wanted
    assert found[-1] == "restore"
    numbers = [one["order"] for one in plan(ACCORDION, "acceptance_test")["sequences"]]
    assert numbers == list(range(1, len(found) + 1))


def test_a_sequence_nobody_placed_runs_before_the_end() -> None:
    """A course that an instruction adds has no usual place; the return to normal stays last."""
    added = {
        "id": "own-course",
        "kind": "sequence",
        "title": "A course of its own",
        "basis": "maintenance",
        "protects": "closing",
        "standing": "secondary",
        "citation": CITED,
        "required_in": [WHOLE],
        "sequence": {"sequence": "own", "do": "Do.", "steps": [{"step": "one", "expect": "seen"}]},
    }
    found = names(plan(ACCORDION, instructions=[added]))
    assert found[-2:] == ["own", "restore"]


def test_two_publishers_ask_for_one_measurement_once() -> None:
    """One quantity, every limit held against it, each as published with its source."""
    force = quantity(plan(ACCORDION), "set_in_motion_force")
    assert len(force["limits"]) > 1
    assert {one["limit"]["words"] for one in force["limits"]} == {"at most 30 lbf"}
    assert all(one["citation"]["publication"] for one in force["limits"])
    assert (force["asked"], force["unit"]) == ("required", "lbf")


def test_what_only_the_doors_instructions_say() -> None:
    """Without them the form asks for the number; with them it gives it, and says whose it is."""
    without = quantity(plan(ACCORDION), "pause_time")
    assert (without["asked"], without["limits"][0]["limit"]["supplied"]) == ("per_door", False)
    told = {"target": "per-door/obstruction-pause", "high": "5 s", "citation": CITED}
    given = quantity(plan(ACCORDION, instructions=[told]), "pause_time")
    assert (given["asked"], given["limits"][0]["limit"]["words"]) == ("per_door", "at most 5 s")
    assert given["during"] == "obstruction"
    form = plan(ACCORDION, instructions=[told])
    (course,) = (one for one in form["sequences"] if one["sequence"] == "obstruction")
    words = {one["quantity"]: one["limit"]["words"] for one in course["times"]}
    assert (words["pause_time"], words["obstruction_force"]) == (
        "at most 5 s",
        "to be supplied for each door",
    )


@pytest.mark.parametrize("facts", [ACCORDION, ROLLING, SWINGING])
def test_a_quantity_is_taken_during_a_sequence_of_the_same_form(facts: dict[str, Any]) -> None:
    """Whoever builds screens from the form finds the sequence that a measurement points to."""
    form = plan(facts)
    run = {one["sequence"] for one in form["sequences"]}
    assert {one["during"] for one in form["measure"]} - {None} <= run


def test_a_curtain_is_timed_while_it_drops_and_a_battery_while_its_charger_is_on() -> None:
    """Where the sequence of one kind of door is not that of another."""
    assert quantity(plan(ROLLING), "closing_speed")["during"] == "drop-test"
    assert quantity(plan(ACCORDION), "closing_speed")["during"] == "closes-on-signal"
    assert quantity(plan(ACCORDION), "battery_float_voltage")["during"] is None


def test_a_quantity_without_a_number_says_its_units() -> None:
    """An app offers units also where the door's own instructions are not on file."""
    without = quantity(plan(ACCORDION), "start_delay")
    assert (without["unit"], without["units"]) == (None, ["s", "min", "h"])


def test_a_number_per_door_is_not_asked_in_an_operation_test() -> None:
    """The short test by the building's own staff asks for no measurement of that kind."""
    asked = {one["quantity"] for one in plan(ACCORDION, "operation_test")["measure"]}
    assert "pause_time" not in asked


def test_what_may_be_left_says_why() -> None:
    """The load across the leaf in a periodic inspection, with its reason."""
    left = {one["name"]: one["because"] for one in plan(ACCORDION)["may_stay_untested"]}
    assert "seldom brought to a door" in left["lateral_load_opening_force"]


def test_retest_offers_everything_that_may_hang_on_a_repair() -> None:
    """Nothing is required before it is known what was repaired; nothing is hidden either."""
    words = {one["asked"] for one in plan(ACCORDION, "repair_retest")["sequences"]}
    assert words == {"where_repaired", "advisory"}


def test_record_and_people() -> None:
    """What the record contains, how long it is kept, and who may do it."""
    planned = plan(ACCORDION)
    contents = [content for one in planned["record"] for content in one["contents"]]
    assert len(contents) >= 11
    assert any(one["retention"] and one["retention"]["keep"] == "P3Y" for one in planned["record"])
    assert planned["qualifications"]


def test_what_is_not_known_of_the_opening_is_told() -> None:
    """A fact that would tell more is named; the item stays in the form."""
    planned = plan({"door_type": "accordion", "operation": "power", "fire_door": True})
    assert "means_of_egress" in planned["missing_facts"]
    assert "egress-in-fire-mode" in names(planned)


def test_command_line(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The same answer as the function, or a page."""
    file = tmp_path / "facts.json"
    file.write_text(json.dumps({"jurisdiction": "us", "facts": ACCORDION}), encoding="utf-8")
    asked = ["plan", str(file), "--on", "2026-03-01", "--activity", WHOLE]
    assert main(asked) == 0
    assert json.loads(capsysbinary.readouterr().out) == plan(ACCORDION)
    assert main([*asked, "--explain"]) == 0
    page = capsysbinary.readouterr().out.decode()
    order = ["Before you begin", "Look at", "Measure", "Run, in this order", "Write down"]
    places = [page.index(heading) for heading in order]
    assert places == sorted(places)
    assert "at most 10 s" in page
    assert "licensed practice decide" in page
