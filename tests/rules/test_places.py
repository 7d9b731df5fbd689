"""What the packaged places ask of one door each, where texts and authorities differ."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest

import rules
from rules.model import IntervalSpec, Resolved
from rules.vocabulary import Adoption

DAY = date(2026, 3, 1)
SWINGING = {
    "door_type": "swinging",
    "operation": "manual",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "interior": True,
    "closer": True,
    "workplace": True,
    "health_care": False,
    "installed_on": "2016-05-01",
}


def held(place: str, facts: Mapping[str, object], **more: object) -> dict[str, Resolved]:
    """What holds at the place for the door, by id."""
    found = rules.requirements(facts={**facts, **more}, jurisdiction=place, on=DAY)
    return {item.requirement.id: item for item in found.items}


def binding(found: Mapping[str, Resolved], prefix: str) -> set[str]:
    """What binds for sure, of those whose ids begin so."""
    return {
        name
        for name, item in found.items()
        if name.startswith(prefix) and not item.advisory and not item.missing_facts
    }


# --- health care -----------------------------------------------------------------------------


def test_hospital_is_held_to_the_edition_that_its_federal_letter_names() -> None:
    """NFPA 80 of 2010, adopted from 2018 on; later editions do not apply by mere reference."""
    found = held("us", SWINGING, health_care=True)
    assert "cms-sc-17-38/inspection/yearly" in found
    maintained = [i for n, i in found.items() if n.startswith("nfpa-80") and "gap" not in n]
    assert {item.applied_edition for item in maintained} == {"2010"}
    assert {item.adoption for item in maintained} == {Adoption.RECORDED}
    assert "nfpa-80-2010/opening-kept-clear" in found
    assert not binding(found, "nfpa-80-2013")


def test_other_buildings_keep_the_reference() -> None:
    """Where nobody adopted an edition the newest applies, said to be not recorded."""
    found = held("us", SWINGING)
    assert found["nfpa-80-2013/inspection/yearly"].applied_edition == "2022"
    assert found["nfpa-80-2013/inspection/yearly"].adoption is Adoption.NOT_RECORDED
    assert "nfpa-80-2010/opening-kept-clear" not in found


def test_unknown_occupancy_changes_nothing_that_both_editions_ask() -> None:
    """Only what the older edition alone has waits for the fact."""
    unknown = {name: value for name, value in SWINGING.items() if name != "health_care"}
    found = held("us", unknown)
    waiting = {n for n, item in found.items() if "health_care" in item.missing_facts}
    assert {n for n in waiting if n.startswith("nfpa-80")} == {"nfpa-80-2007/record/signed"}


def test_hospital_in_a_state_with_its_own_edition_has_both() -> None:
    """The state's edition and the federal one stand side by side."""
    found = held("us-mn", SWINGING, health_care=True)
    assert binding(found, "nfpa-80-2010") == {"nfpa-80-2010/opening-kept-clear"}
    assert found["nfpa-80-2013/swinging/label-legible"].applied_edition == "2016"


def test_unrated_doors_of_a_hospital_lie_outside_the_letter() -> None:
    """Corridor and smoke-barrier doors without a rating are no fire doors."""
    found = held("us", SWINGING, health_care=True, fire_door=False, smoke_rated=True)
    assert not [name for name in found if name.startswith(("cms-", "nfpa-80-"))]


def test_life_safety_code_row_speaks_of_new_health_care() -> None:
    """The numbers were read by way of the chapter of new health care, and hold there alone."""
    accordion = {**SWINGING, "door_type": "accordion", "operation": "power"}
    row = {f"nfpa-101-2012/special-purpose/{what}" for what in ("set-in-motion", "open", "close")}
    assert binding(held("us", accordion, health_care=True), "nfpa-101-2012/special") == row
    assert not binding(held("us", accordion), "nfpa-101-2012/special")


# --- federal law -----------------------------------------------------------------------------


@pytest.mark.parametrize("installed_on", ["1985-01-01", "2016-05-01"])
def test_workplace_rule_is_adopted_federal_law(installed_on: str) -> None:
    """29 CFR 1910.36 binds an employer for the workplace as it stands, whatever its age."""
    found = held("us", SWINGING, installed_on=installed_on)
    item = found["29-cfr-1910-36/exit-access-width"]
    assert (item.adoption, item.layer, item.missing_facts) == (Adoption.RECORDED, "us", ())
    assert not binding(held("us", SWINGING, workplace=False), "29-cfr")


def test_unknown_workplace_is_named_as_the_missing_fact() -> None:
    """A manager can say whether people are employed there."""
    unknown = {name: value for name, value in SWINGING.items() if name != "workplace"}
    found = held("us", unknown)
    assert found["29-cfr-1910-36/self-closing-opening"].missing_facts == ("workplace",)


# --- clearances ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("material", "expected"),
    [("wood", {"swinging/gap"}), ("steel", set()), (None, set())],
)
def test_clearance_depends_on_what_the_leaf_is_made_of(
    material: str | None, expected: set[str]
) -> None:
    """1/8 in binds what is not steel; steel's number is from memory; unknown stays open."""
    found = held("us", SWINGING, leaf_material=material)
    assert binding(found, "nfpa-80-2007/swinging/gap") == {f"nfpa-80-2007/{n}" for n in expected}
    if material is None:
        assert found["nfpa-80-2007/swinging/gap"].missing_facts == ("leaf_material",)
    assert ("nfpa-80-2007/swinging/gap-steel" in found) is (material != "wood")


@pytest.mark.parametrize("door_type", ["accordion", "rolling", "vertical_sliding"])
def test_old_clause_on_sliding_doors_speaks_of_ordinary_ones(door_type: str) -> None:
    """NFPA 80-1999, 4-4.1 is no clause for special-purpose doors, and binds where adopted."""
    for name in ("closing-speed", "start-delay"):
        requirement = rules.load().requirements[f"nfpa-80-1999/sliding/{name}"]
        assert requirement.applies.ask({"door_type": door_type, "fire_door": True}).holds is False
        assert requirement.adoption_only


# --- Minnesota -------------------------------------------------------------------------------


@pytest.mark.parametrize("door_type", ["swinging", "accordion"])
def test_existing_doors_in_minnesota_follow_its_own_rule(door_type: str) -> None:
    """1104.8 and 1104.7.1 bind; the building code that nobody is known to have adopted in the year
    of the door is shown beside them.
    """
    found = held("us-mn", SWINGING, door_type=door_type, operation="manual")
    own = {f"ifc-2018/existing/{n}" for n in ("latch-release", "set-in-motion", "open-fully")}
    assert binding(found, "ifc-2018/existing") == own | {"ifc-2018/existing/clear-width"}
    forces = {n for n in binding(found, "ibc-") if "force" in n or "special-purpose/open" in n}
    assert forces == set()
    assert not binding(found, "ibc-2015/width")
    replaced = found["ifc-2018/existing/latch-release"]
    assert (replaced.applied_edition, replaced.requirement.citation.clause) == ("", "1104.8")


def test_adopted_editions_that_were_not_read_are_named_as_such() -> None:
    """Chapter 80 adopts NFPA 80-16, 105-16 and 101-12; of 105-16 nothing is known."""
    found = held("us-mn", SWINGING, smoke_rated=True)
    assert {"us-mn/adopted/nfpa-80-16", "us-mn/adopted/nfpa-101-12"} <= binding(found, "us-mn")
    assert binding(found, "nfpa-105") == {"nfpa-105-2016/text-not-read"}
    assert binding(held("us", SWINGING, smoke_rated=True), "nfpa-105") == {
        "nfpa-105-2019/repair/original-parts",
        "nfpa-105-2019/repair/retest",
    }


# --- elsewhere -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"hold_open_check": "monthly"}, {"P1M", "P3M"}),
        ({"hold_open_check": "quarterly"}, {"P3M"}),
        ({}, {"P3M"}),
    ],
)
def test_german_approval_document_decides_month_or_quarter(
    facts: dict[str, object], expected: set[str]
) -> None:
    """At most three months in any case; the month where the approval document asks for it."""
    found = held("de", SWINGING, hold_open=True, **facts)
    owed = {
        item.requirement.spec.every
        for item in found.values()
        if isinstance(item.requirement.spec, IntervalSpec)
        and item.requirement.spec.activity == "operation_test"
        and not item.missing_facts
        and not item.advisory
    }
    assert owed == expected


@pytest.mark.parametrize(
    ("apart", "expected"),
    [(True, {"retention", "retention-long-interval"}), (False, {"retention"})],
)
def test_ontario_keeps_records_longer_where_tests_are_rare(
    apart: bool,  # noqa: FBT001
    expected: set[str],
) -> None:
    """Two years, or the interval and a year where tests lie more than two years apart."""
    found = binding(held("ca-on", SWINGING, tests_over_two_years_apart=apart), "o-reg-213-07")
    assert {n.rpartition("/")[2] for n in found if "retention" in n} == expected


@pytest.mark.parametrize(
    ("height", "checked"), [("11", False), ("11.1", True), ("30", True), (None, False)]
)
def test_english_blocks_are_checked_above_eleven_metres(height: str | None, checked: bool) -> None:  # noqa: FBT001
    """More than 11 m: communal doors every three months; 11 m itself is not more."""
    facts: dict[str, object] = {"flats": True, "communal": True, "flat_entrance": False}
    if height:
        facts["building_height"] = {"value": height, "unit": "m"}
    found = held("gb-eng", SWINGING, **facts)
    name = "fire-safety-england-2022/communal/quarterly"
    assert (name in binding(found, "fire-safety")) is checked
    assert (name in found) is (checked or height is None)


@pytest.mark.parametrize(
    ("facts", "every"),
    [
        ({"door_type": "horizontal_sliding"}, {"P3M"}),
        ({"door_type": "rolling"}, {"P6M"}),
        ({"flat_entrance": False}, {"P6M"}),
        ({"flat_entrance": True}, {"P1Y"}),
    ],
)
def test_australian_service_depends_on_the_kind_of_door(
    facts: dict[str, object], every: set[str]
) -> None:
    """Sliding fire doors every three months, others every six, entrances of flats yearly."""
    found = held("au", SWINGING, **facts)
    intervals = {found[n].requirement.spec for n in binding(found, "as-1851")}
    assert {s.every for s in intervals if isinstance(s, IntervalSpec)} == every


def test_californian_cap_holds_for_doors_of_any_year() -> None:
    """The page that quotes the cap names no edition, so no year bounds it."""
    for installed_on in ("2005-01-01", "2019-05-01", "2024-01-01"):
        door = {**SWINGING, "accessible_route": True, "installed_on": installed_on}
        assert "cbc-11b/accessible/fire-door" in binding(held("us-ca", door), "cbc-11b")
