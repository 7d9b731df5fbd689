"""Limits published for each occupant are judged as limits on the whole width, exactly."""

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from rules.asking import requirements
from rules.columns import columns
from rules.explain import explain_answer, explain_requirements
from rules.judging import judge
from rules.layers import Layer
from rules.lint import parse_layer
from rules.model import LimitSpec, RequirementSet, Resolved
from rules.portfolio import WORDS, Limits, Readings, judge_readings
from rules.wording import in_words
from tests.rules.hand_made import found, reading

DAY = date(2026, 3, 1)
DOOR: dict[str, object] = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "installed_on": "2019-05-01",
    "sprinklered": False,
}
SPRINKLERED = {"sprinklered": True, "voice_alarm": True, "occupancy_group": "B"}
FACTOR, LESSER = "ibc-2018/capacity/door", "ibc-2018/capacity/door-sprinklered"
ON_RECORD = "opening-record/width/required"
CITED = {"publication": "Town Code", "edition": "1", "clause": "7"}


def held(
    facts: Mapping[str, object] = {}, place: str = "us", layers: Sequence[Layer] = ()
) -> RequirementSet:
    """The requirements for this door."""
    return requirements(facts={**DOOR, **facts}, jurisdiction=place, on=DAY, layers=layers)


def on(answer: dict[str, Any], requirement: str) -> dict[str, Any]:
    """The one verdict on a requirement."""
    (one,) = [v for v in answer["verdicts"] if v["requirement"] == requirement]
    return one


def width(sets: RequirementSet, value: str, unit: str = "in") -> dict[str, Any]:
    """The answer where this clear width was measured."""
    return judge(sets, found(reading("clear_width", value, unit)))


@pytest.mark.parametrize(
    ("load", "facts", "requirement", "asked", "edge"),
    [
        (120, {}, FACTOR, "24", ("24", "23.999999999", "in")),
        (93, {}, FACTOR, "18.6", ("18.6", "18.59", "in")),  # W6
        (300, SPRINKLERED, LESSER, "45", ("45", "44.99", "in")),  # W5
        (220, SPRINKLERED, LESSER, "33", ("838.2", "838.19", "mm")),  # W7, in mm
        (221, SPRINKLERED, LESSER, "33.15", ("33.15", "33", "in")),
        (120, {"sprinklered": True, "voice_alarm": False}, FACTOR, "24", ("24", "23", "in")),
        (120, {**SPRINKLERED, "occupancy_group": "I-2"}, FACTOR, "24", ("2", "1.9", "ft")),
    ],
)
def test_a_width_is_judged_against_what_the_load_asks(
    load: int,
    facts: dict[str, object],
    requirement: str,
    asked: str,
    edge: tuple[str, str, str],
) -> None:
    """Factor x load in the published unit, inclusive, beside the 32 in; W5 to W7 of the table."""
    sets = held({"occupant_load": load, **facts})
    inside, outside, unit = edge
    good = on(width(sets, inside, unit), requirement)
    bad = on(width(sets, outside, unit), requirement)
    assert (good["verdict"], bad["verdict"]) == ("conforms", "does_not_conform")
    assert (good["quantity"], good["limit"]["low"], good["limit"]["unit"]) == (
        "clear_width",
        asked,
        "in",
    )
    assert good["limit"]["printed_si"] is None
    assert good["citation"]["clause"].startswith("1005.3.2")
    names = {v["requirement"] for v in width(sets, "9")["verdicts"]}
    assert names & {LESSER, FACTOR} == {requirement}


def test_the_verdict_says_how_the_number_came_about() -> None:
    """120 occupants x 0.2 in = 24 in: in the message, in the answer, and on both pages."""
    sets = held({"occupant_load": 120})
    answer = width(sets, "30")
    one = on(answer, FACTOR)
    told = "120 occupants x 0.2 in = 24 in"
    assert one["limit"]["worked_out"] == told
    assert one["message"] == (f"30 in is inside the limit of at least 24 in ({told}), by 6 in.")
    assert on(answer, "ibc-2018/width/clear")["limit"]["worked_out"] is None
    assert told in " ".join(explain_answer(answer).split())
    assert f"clear width at least 24 in ({told})" in " ".join(explain_requirements(sets).split())


def test_the_minimum_stands_beside_it_and_the_strictest_governs() -> None:
    """93 occupants ask 18.6 in, so 32 in governs; 200 ask 40 in, which govern (W6)."""
    few = width(held({"occupant_load": 93}), "31")
    assert (on(few, FACTOR)["verdict"], on(few, "ibc-2018/width/clear")["verdict"]) == (
        "conforms",
        "does_not_conform",
    )
    many = width(held({"occupant_load": 200}), "36")
    assert on(many, "ibc-2018/width/clear")["verdict"] == "conforms"
    assert {"quantity": "clear_width", "requirement": FACTOR} in many["summary"]["governing"]
    assert many["summary"]["verdict"] == "does_not_conform"


def test_an_unknown_load_leaves_that_requirement_alone_open() -> None:
    """Inconclusive, fact_missing, with no margin; the fixed minimum is judged all the same."""
    answer = width(held(), "36")
    one = on(answer, FACTOR)
    assert (one["verdict"], one["reason"]) == ("inconclusive", "fact_missing: occupant_load")
    assert (one["margin"], one["limit"]["low"]) == (None, None)
    assert one["message"] == "It cannot be told what this asks without: occupant_load."
    assert one["limit"]["worked_out"] == "occupants x 0.2 in = unknown"
    assert "occupants x 0.2 in = unknown" in explain_answer(answer)
    assert on(answer, "ibc-2018/width/clear")["verdict"] == "conforms"
    assert "occupant_load" in answer["summary"]["missing_facts"]


def test_a_door_outside_the_means_of_egress_is_not_asked_for_its_load() -> None:
    """What does not apply misses no fact."""
    sets = held({"means_of_egress": False})
    assert not [item for item in sets.items if "occupant_load" in item.missing_facts]


def test_new_york_prints_one_factor() -> None:
    """The exception is the model code's: the city's own 0.2 in stays, sprinklered or not."""
    answer = width(held({"occupant_load": 200, **SPRINKLERED}, "us-ny-nyc"), "32")
    assert on(answer, LESSER)["verdict"] == "conforms"
    own = on(answer, "nyc-bc/capacity/door")
    assert (own["verdict"], own["limit"]["low"]) == ("does_not_conform", "40")


@pytest.mark.parametrize(("facts", "low"), [({}, "30"), (SPRINKLERED, "20")])
def test_stairs_have_a_factor_of_their_own(facts: dict[str, object], low: str) -> None:
    """0.3 in, or 0.2 in where sprinklered and with a voice alarm, of the stair's width."""
    sets = held({"egress_component": "stair", "occupant_load": 100, **facts})
    answer = judge(sets, found(reading("stair_width", "25", "in")))
    (one,) = [
        v for v in answer["verdicts"] if v["requirement"].startswith("ibc-2018/capacity/stair")
    ]
    assert one["limit"]["low"] == low
    assert one["verdict"] == ("conforms" if low == "20" else "does_not_conform")


def test_a_place_moves_the_factor_not_the_product() -> None:
    """A town that asks 0.25 in for each occupant: 30 in for 120; the lineage keeps 0.2 in."""
    town = parse_layer(
        {
            "jurisdiction": {"code": "town", "parent": "us", "name": "Town", "kind": "town"},
            "tighten": [
                {
                    "target": "ibc/capacity/door",
                    "low": "0.25 in",
                    "from": date(2018, 1, 1),
                    "citation": CITED,
                    "standing": "verified",
                }
            ],
        },
        name="town",
    )
    sets = held({"occupant_load": 120}, layers=[town])
    (item,) = [i for i in sets.items if i.requirement.id == FACTOR]
    told = "clear width at least 30 in (120 occupants x 0.25 in = 30 in)"
    assert in_words(item.requirement.spec) == told
    before = item.lineage[-1].before
    assert before is not None
    assert in_words(before.spec).startswith("clear width per person at least 0.2 in")
    assert on(width(sets, "29"), FACTOR)["verdict"] == "does_not_conform"


def test_another_load_is_another_set() -> None:
    """Equal digests judge alike, so the load is part of the digest; an equal load gives an equal
    one.
    """
    one, same, other = (held({"occupant_load": n}).digest for n in (120, 120, 121))
    assert one == same
    assert one != other


def test_the_portfolio_says_the_same() -> None:
    """200 doors of different loads, a hair inside and outside, in both engines."""
    sets = [held({"occupant_load": 100 + n}) for n in range(20)]
    visits = [
        (place, [reading("clear_width", text, "in")])
        for place in range(20)
        for low in [Fraction(100 + place) / 5]
        for text in (f"{float(low):.1f}", f"{float(low) - 0.1:.1f}", "32", "31.9", "99")
    ]
    readings = Readings.of(columns((DAY, sent) for _, sent in visits))
    of_visit = np.array([place for place, _ in visits], np.int64)
    judged = judge_readings(Limits.of(sets, readings.measures), of_visit, readings)
    together = {
        (int(visit), judged.limits.requirements[row], WORDS[int(code)].value)
        for line in judged.lines
        for visit, row, code in zip(line.visit, line.requirement, line.verdict, strict=True)
    }
    singly = {
        (number, v["requirement"], v["verdict"])
        for number, (place, sent) in enumerate(visits)
        for v in judge(sets[place], found(*sent))["verdicts"]
        if v.get("quantity") == "clear_width"
    }
    assert together == singly
    assert {word for *_, word in singly} >= {"conforms", "does_not_conform"}


def test_a_width_on_record_is_asked_for_and_no_record_asks_nothing() -> None:
    """The width that the plans require is judged where the record has it, in its own exact
    millimetres; without it no such requirement stands.
    """
    sets = held({"occupant_load": 10, "required_clear_width": {"value": "36", "unit": "in"}})
    good, bad = on(width(sets, "36"), ON_RECORD), on(width(sets, "914.3", "mm"), ON_RECORD)
    assert (good["verdict"], good["margin"]) == ("conforms", {"value": "0", "unit": "mm"})
    assert (bad["verdict"], bad["limit"]["low"]) == ("does_not_conform", "914.4")
    assert good["limit"]["worked_out"] == "the width required on record x 1 = 914.4 mm"
    assert ON_RECORD not in {item.requirement.id for item in held({"occupant_load": 10}).items}


def test_nobody_to_serve_asks_for_nothing() -> None:
    """A load of none asks 0 in; any width conforms, whatever the instrument shows."""
    sent = reading("clear_width", "1", "in", instrument={"resolution": "0.1"})
    assert on(judge(held({"occupant_load": 0}), found(sent)), FACTOR)["verdict"] == "conforms"


def test_every_packaged_share_is_shared_out() -> None:
    """No limit on a share is left in any set, with or without the fact."""
    for facts in ({"occupant_load": 7}, {}):
        items: list[Resolved] = [*held(facts).items]
        specs = [i.requirement.spec for i in items if isinstance(i.requirement.spec, LimitSpec)]
        assert not [s for s in specs if s.quantity.endswith("_per_person")]
        assert [s for s in specs if s.shared]
