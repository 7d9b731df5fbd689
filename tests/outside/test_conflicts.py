"""The thirteen conflicts between published texts: both sides stand, neither is merged away.

Numbers and clauses are those of the texts named in each test. "Secondary" means that a page that
quotes the text was read, not the publisher's own book; "from memory" that nothing was read.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

import rules
from rules.model import IntervalSpec, LimitSpec, PermissionSpec, Resolved, RetentionSpec

DAY = date(2026, 3, 1)
SWINGING = {
    "door_type": "swinging",
    "operation": "manual",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": True,
    "interior": True,
    "closer": True,
    "installed_on": "2024-01-01",
    "occupant_load": 40,
}
ACCORDION = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
}


def held(facts: Mapping[str, object], place: str, on: date = DAY) -> dict[str, Resolved]:
    """What holds for the door at the place, by id, leaving out what may not apply."""
    found = rules.requirements(facts=facts, jurisdiction=place, on=on)
    return {item.requirement.id: item for item in found.items if not item.missing_facts}


def bounds(found: Mapping[str, Resolved], quantity: str) -> dict[str, str]:
    """The bounds on one quantity, advisory ones in brackets, by id."""
    answer = {}
    for name, item in found.items():
        spec = item.requirement.spec
        if isinstance(spec, LimitSpec) and spec.quantity == quantity:
            bound = str(spec.high or spec.low)
            answer[name] = f"({bound})" if item.advisory else bound
    return answer


def verdicts(
    facts: Mapping[str, object], place: str, quantity: str, value: str, unit: str
) -> dict[str, str]:
    """How one reading is judged under every binding limit on its quantity."""
    held_here = rules.requirements(facts=facts, jurisdiction=place, on=DAY)
    answer: Any = rules.judge(
        held_here,
        {
            "on": "2026-03-01",
            "activity": "periodic_inspection",
            "readings": [{"quantity": quantity, "value": value, "unit": unit}],
            "checks": [],
            "sequences": [],
        },
    )
    return {
        verdict["requirement"]: verdict["verdict"]
        for verdict in answer["verdicts"]
        if verdict.get("quantity") == quantity and verdict["reading"]
    }


def test_1_accessible_fire_door_is_exempt_federally_and_capped_in_california() -> None:
    """ADA 2010, 404.2.9 leaves fire doors out; CBC 11B-404.2.9(3) caps them at 15 lb. Secondary."""
    federal = held(SWINGING, "us")
    assert not any(name.startswith("ada-2010/force") for name in federal)
    state = held(SWINGING, "us-ca")
    assert bounds(state, "opening_force")["cbc-11b/accessible/fire-door"] == "15 lbf"
    other = held({**SWINGING, "fire_door": False}, "us")
    assert bounds(other, "opening_force")["ada-2010/force/interior-hinged"] == "5 lbf"


def test_2_lateral_load_force_of_two_publishers() -> None:
    """IBC 2018, 1010.1.4.3 item 4: 15 lb under 250 lb (secondary). NFPA 101, 7.2.1.14(4): 50 lbf
    under the same 250 (from memory, so advisory).
    """
    assert bounds(held(ACCORDION, "us"), "lateral_load_opening_force") == {
        "ibc-2018/special-purpose/lateral-load": "15 lbf",
        "nfpa-101-2012/special-purpose/lateral-load": "(50 lbf)",
    }
    reading = verdicts(ACCORDION, "us", "lateral_load_opening_force", "30", "lbf")
    assert reading == {"ibc-2018/special-purpose/lateral-load": "does_not_conform"}


NFPA_NEW = "nfpa-101-2000/egress-force/set-in-motion"
NFPA_EXISTING = "nfpa-101-2000/egress-force/existing-set-in-motion"


@pytest.mark.parametrize(
    ("installed_on", "expected"),
    [
        ("1998-01-01", {NFPA_EXISTING: "50 lbf"}),
        ("2005-01-01", {NFPA_NEW: "30 lbf"}),
    ],
)
def test_3_new_and_existing_doors_have_other_forces(
    installed_on: str, expected: dict[str, str]
) -> None:
    """NFPA 101-2000, 7.2.1.4.5 and its exception 1: 30 lbf new, 50 lbf existing. Secondary."""
    found = held({**SWINGING, "installed_on": installed_on}, "us", date(2008, 1, 1))
    forces = bounds(found, "set_in_motion_force")
    assert {name: bound for name, bound in forces.items() if "nfpa-101" in name} == expected


@pytest.mark.parametrize(
    ("installed_on", "expected"),
    [
        ("1998-01-01", {NFPA_EXISTING: "conforms"}),
        ("2007-06-01", {NFPA_NEW: "does_not_conform"}),
        ("2015-01-01", {NFPA_NEW: "does_not_conform"}),
        (None, {NFPA_NEW: "inconclusive", NFPA_EXISTING: "inconclusive"}),
    ],
)
def test_3_one_door_is_new_or_existing_and_never_both(
    installed_on: str | None, expected: dict[str, str]
) -> None:
    """40 lbf: too much for a door built under NFPA 101-2000 or what carries it on, allowed by
    exception 1 of 7.2.1.4.5 in a building that stood before. Secondary.
    """
    door = {name: fact for name, fact in SWINGING.items() if name != "installed_on"}
    door |= {"installed_on": installed_on} if installed_on else {}
    found = verdicts(door, "us", "set_in_motion_force", "40", "lbf")
    assert {name: word for name, word in found.items() if "nfpa-101" in name} == expected


def test_3_existing_forces_of_two_codes_are_two_rules() -> None:
    """NFPA 101's 50 lbf sets an existing door in motion; the fire code's 50 lb (one state's 1104.8)
    opens it fully, and its motion stays at 30 lb. Secondary.
    """
    found = held({**SWINGING, "installed_on": "1995-01-01"}, "us-mn")
    assert bounds(found, "set_in_motion_force") == {
        "ifc-2018/existing/set-in-motion": "30 lbf",
        "nfpa-101-2000/egress-force/existing-set-in-motion": "50 lbf",
    }
    assert bounds(found, "opening_force")["ifc-2018/existing/open-fully"] == "50 lbf"


def test_4_power_lost_motion_differs_by_text() -> None:
    """IBC 1010.1.4.2: 50 lb; A156.19-1997, 4.6: 30 lbf; EN 16005:2012: 90 N. Secondary."""
    low_energy = {**SWINGING, "operation": "low_energy", "installed_on": "2019-01-01"}
    assert bounds(held(low_energy, "us"), "set_in_motion_force") == {
        "ibc-2018/power-lost/set-in-motion": "50 lbf",
        "a156.19-1997/power-lost/set-in-motion": "30 lbf",
    }
    assert bounds(held(low_energy, "de"), "set_in_motion_force") == {
        "en-16005-2012/power-lost/set-in-motion": "90 N"
    }
    assert verdicts(low_energy, "us", "set_in_motion_force", "40", "lbf") == {
        "ibc-2018/power-lost/set-in-motion": "conforms",
        "a156.19-1997/power-lost/set-in-motion": "does_not_conform",
    }


@pytest.mark.parametrize(
    ("load", "ibc", "nfpa"), [(9, True, True), (10, True, False), (11, False, False)]
)
def test_5_occupant_load_of_ten(load: int, ibc: bool, nfpa: bool) -> None:  # noqa: FBT001
    """IBC 1010.1.2 exception 9: 10 or fewer; NFPA 101, 7.2.1.4.1: fewer than 10. Secondary."""
    sliding = {
        **SWINGING,
        "door_type": "horizontal_sliding",
        "occupancy_group": "B",
        "occupant_load": load,
        "health_care": False,
        "installed_on": "2019-01-01",
    }
    found = held(sliding, "us")
    answers = {}
    for name in ("ibc-2018", "nfpa-101-2000"):
        spec = found[f"{name}/permission/manual-sliding"].requirement.spec
        assert isinstance(spec, PermissionSpec)
        answers[name] = spec.permitted_when.ask(sliding).holds
    assert answers == {"ibc-2018": ibc, "nfpa-101-2000": nfpa}


@pytest.mark.parametrize(
    ("installed_on", "ratio"),
    [("2009-06-01", None), ("2015-06-01", "1.20"), ("2023-06-01", "1.25")],
)
def test_6_battery_margin_belongs_to_its_edition(installed_on: str, ratio: str | None) -> None:
    """NFPA 72, 10.6.7.2.1: none before 2010, 20 % from 2010, 25 % from 2022. One weak secondary
    source.
    """
    door = {**ACCORDION, "release_control": "fire_alarm", "installed_on": installed_on}
    found = bounds(held(door, "us"), "battery_capacity_ratio")
    assert list(found.values()) == ([] if ratio is None else [ratio])


def test_7_quarterly_has_four_meanings() -> None:
    """NFPA 25-2020, 3.7.1: two to four months apart. The Joint Commission from 2014: three months
    from the date, ten days either way; before: once a calendar quarter; by an unofficial reading
    from the month. Secondary.
    """
    known = rules.load().requirements
    meanings = set()
    for name in (
        "nfpa-25-2020/frequency/quarterly",
        "accreditor-2014/frequency/quarterly",
        "accreditor-before-2014/frequency/quarterly",
        "accreditor-2014/frequency/quarterly-by-month",
    ):
        spec = known[name].spec
        assert isinstance(spec, IntervalSpec)
        assert spec.every == "P3M"
        meanings.add(spec.meaning.value)
    assert meanings == {"between", "from_date", "calendar_period", "from_month"}


def test_8_clear_width_by_all_leaves_or_by_one() -> None:
    """ADA 2010, 404.3.1: all leaves together, power on and off; CBC 11B-404.3: one leaf at 90
    degrees. Secondary.
    """
    powered = {**SWINGING, "operation": "power"}
    state = held(powered, "us-ca")
    assert bounds(state, "clear_width")["ada-2010/width/automatic-power-on"] == "32 in"
    assert bounds(state, "clear_width_power_off") == {"ada-2010/width/automatic-power-off": "32 in"}
    assert bounds(state, "clear_width_one_leaf") == {"cbc-2022/accessible/one-leaf": "32 in"}
    assert bounds(held(powered, "us"), "clear_width_one_leaf") == {}


@pytest.mark.parametrize(("value", "verdict"), [("813", "conforms"), ("812.8", "conforms")])
def test_9_thirty_two_inches_print_813_and_815(value: str, verdict: str) -> None:
    """IBC prints 813 mm, ADA 815 mm beside 32 in (812.8 mm exactly): inches decide. Secondary."""
    found = verdicts(SWINGING, "us", "clear_width", value, "mm")
    assert found["ada-2010/width/clear"] == verdict
    assert found["ibc-2018/width/clear"] == verdict


def test_10_records_are_kept_by_three_clocks() -> None:
    """NFPA 80-2013, 5.2.2: three years (publisher's blog); Ontario: two years (secondary); NFPA 72,
    14.6.2: until the next test and a year (weak secondary).
    """
    known = rules.load().requirements
    found = []
    for name in (
        "nfpa-80-2013/record/retention",
        "o-reg-213-07/record/retention",
        "nfpa-72-2010/record/alarm-tests",
    ):
        spec = known[name].spec
        assert isinstance(spec, RetentionSpec)
        found.append((spec.keep, spec.counted_from))
    assert found == [("P3Y", "record"), ("P2Y", "record"), ("P1Y", "next_record")]


@pytest.mark.parametrize(
    ("door_type", "yearly"),
    [("swinging", False), ("horizontal_sliding", True), ("rolling", True), ("accordion", True)],
)
def test_11_one_state_exempts_swinging_doors(door_type: str, yearly: bool) -> None:  # noqa: FBT001
    """2020 Minnesota State Fire Code, 705.2 exception and 705.2.6: no periodic test of swinging
    fire doors, yearly for sliding and rolling ones. Secondary.
    """
    door = {**ACCORDION, "door_type": door_type}

    def periodic(place: str) -> bool:
        duties = rules.duties(facts=door, jurisdiction=place, history=[], on=DAY)
        return any(
            duty["activity"] == "periodic_inspection" and duty["every"] == "P1Y"
            for duty in duties
            if not duty["missing_facts"]
        )

    assert periodic("us-mn") is yearly
    assert periodic("us")


def test_12_fifteen_pounds_print_66_and_67_newtons() -> None:
    """One state's fire code prints 67 N for 15 lb in chapter 10 and 66 N in 1104.8: 66.5 N is
    14.95 lbf and conforms under both. Secondary.
    """
    old = {**SWINGING, "installed_on": "1995-01-01"}
    found = held(old, "us-mn")["ifc-2018/existing/latch-release"].requirement.spec
    assert isinstance(found, LimitSpec)
    assert (str(found.high), found.printed_si) == ("15 lbf", "66 N")
    new = held({**SWINGING, "installed_on": "2021-01-01"}, "us-mn")
    spec = new["ibc-2018/egress-force/latch-release"].requirement.spec
    assert isinstance(spec, LimitSpec)
    assert (str(spec.high), spec.printed_si) == ("15 lbf", "67 N")
    judged = verdicts(old, "us-mn", "latch_release_force", "66.5", "N")
    assert judged["ifc-2018/existing/latch-release"] == "conforms"
    above = verdicts(old, "us-mn", "latch_release_force", "66.9", "N")
    assert above["ifc-2018/existing/latch-release"] == "does_not_conform"


def test_13_a_pedestrian_door_is_not_a_fire_door() -> None:
    """A156.10-1999: a powered pedestrian sliding leaf of up to 160 lb closes at 1 ft/s or less; a
    fire door at up to 24 in/s. Which set is used shows in the answer. Secondary.
    """
    pedestrian = {
        **ACCORDION,
        "door_type": "horizontal_sliding",
        "fire_door": False,
        "leaf_weight": {"value": "150", "unit": "lb"},
    }
    assert bounds(held(pedestrian, "us"), "closing_speed") == {
        "a156.10-1999/sliding/closing-speed": "1 ft/s"
    }
    fire = bounds(held(ACCORDION, "us"), "closing_speed")
    assert fire["sliding-door-course/closing-speed"] == "24 in/s"
    assert "a156.10-1999/sliding/closing-speed" not in fire
    assert set(verdicts(ACCORDION, "us", "closing_speed", "20", "in/s").values()) == {"conforms"}
    assert set(verdicts(pedestrian, "us", "closing_speed", "20", "in/s").values()) == {
        "does_not_conform"
    }
