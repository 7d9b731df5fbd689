"""The packaged data as a whole: complete, consistent, and never changed once published."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from datetime import date
from importlib.resources import files

import pytest

import rules
from rules.layers import Layer
from rules.library import load
from rules.lint import check_layer
from rules.model import CheckSpec, IntervalSpec, LimitSpec, Requirement, SequenceSpec
from rules.vocabulary import Activity, DoorType, Kind, Standing

DATA = files("rules") / "data"
DAY = date(2026, 3, 1)
PLACES = {"us", "us-mn", "us-ca", "us-ny-nyc", "gb-eng", "de", "au", "ca-on", "sa"}


def every() -> list[Requirement]:
    """Every packaged requirement, the places' own among them."""
    library = load()
    own = (a.requirement for place in library.places.values() for a in place.amendments)
    return [*library.requirements.values(), *(r for r in own if r is not None)]


def test_published_files_have_not_changed() -> None:
    """Each data file has the digest recorded when it was published, and none is unrecorded."""
    recorded = {}
    for line in (DATA / "PUBLISHED").read_text("utf-8").splitlines():
        digest, _, name = line.partition("  ")
        recorded[name] = digest
    found = {
        f"{folder}/{entry.name}": hashlib.sha256(entry.read_bytes()).hexdigest()
        for folder in ("jurisdictions", "publications")
        for entry in (DATA / folder).iterdir()
    }
    assert found == recorded


def test_places_that_must_be_there_are_there() -> None:
    """The places whose rules differ, each with a name and an authority."""
    places = load().places
    assert places.keys() >= PLACES
    assert all(place.name and place.authority for place in places.values())


@pytest.mark.parametrize("place", load().places.values(), ids=lambda place: place.code)
def test_packaged_places_have_no_mistake(place: Layer) -> None:
    """What lint asks of anybody's file holds for ours."""
    assert list(check_layer(place, load())) == []


def test_every_requirement_says_where_it_stands() -> None:
    """A publication, an edition and a clause, or in words that none was found or read."""
    for requirement in every():
        citation = requirement.citation
        assert citation.publication, requirement.id
        assert citation.edition, requirement.id
        assert citation.clause, requirement.id


def test_unread_clauses_never_count_as_verified() -> None:
    """Whatever clause was not read is not verified."""
    for requirement in every():
        if requirement.citation.clause in {"not read", "not found", "none"}:
            assert requirement.standing is not Standing.VERIFIED, requirement.id


def test_verified_ones_say_what_was_read() -> None:
    """A verified requirement names the page that somebody read."""
    verified = [r for r in every() if r.standing is Standing.VERIFIED]
    assert verified
    assert all("read" in requirement.citation.note for requirement in verified)


def test_habits_and_only_habits_are_common_practice() -> None:
    """What no text asks for stands in one file, as common practice."""
    habits = {r.id for r in every() if r.standing is Standing.COMMON_PRACTICE}
    assert habits == {r.id for r in every() if r.id.startswith("common-practice/")}


def test_every_limit_has_a_number_or_is_supplied_per_door() -> None:
    """No limit is without a bound, and none has a bound in two dimensions."""
    for requirement in every():
        if isinstance(spec := requirement.spec, LimitSpec):
            assert spec.supplied_per_door == (spec.low is None and spec.high is None)


def test_every_force_says_where_it_is_measured() -> None:
    """A force limit without a measurement point could not be repeated by anybody."""
    unplaced = {
        requirement.id
        for requirement in every()
        if isinstance(spec := requirement.spec, LimitSpec)
        and spec.quantity.endswith("force")
        and not spec.measurement_point
    }
    assert unplaced == ACCESSIBLE_FORCES


# These texts, as far as they were read, say how to push (continuously, latch left out) or name the
# door alone, and not the point: inventing one would be worse than the gap.
ACCESSIBLE_FORCES = {
    "a117.1-2009/force/interior-hinged",
    "a117.1-2009/force/sliding-folding",
    "a117.1-2017/force/interior-hinged",
    "a117.1-2017/force/sliding-folding",
    "ada-2010/force/interior-hinged",
    "ada-2010/force/sliding-folding",
    "cbc-11b/accessible/exterior-hinged",
    "cbc-11b/accessible/fire-door",
    "cbc-2013/accessible/powered-alternative",
    "cbc-2022/accessible/powered-alternative",
    "nbc/barrier-free/exterior",
    "nbc/barrier-free/interior",
}


def test_one_sequence_has_one_course() -> None:
    """A sequence that several texts ask for has the same steps in each."""
    courses: dict[str, set[tuple[str, ...]]] = defaultdict(set)
    for requirement in every():
        if isinstance(spec := requirement.spec, SequenceSpec):
            courses[spec.sequence].add(tuple(step.step for step in spec.steps))
    assert {name: found for name, found in courses.items() if len(found) > 1} == {}


def test_one_check_asks_one_kind_of_thing() -> None:
    """No check has the name of a sequence."""
    checks = {r.spec.check for r in every() if isinstance(r.spec, CheckSpec)}
    sequences = {r.spec.sequence for r in every() if isinstance(r.spec, SequenceSpec)}
    assert checks & sequences == set()


def test_every_kind_is_there() -> None:
    """The data uses every kind of requirement that the vocabulary names."""
    assert {requirement.kind for requirement in every()} == set(Kind)


@pytest.mark.parametrize("door_type", DoorType)
def test_every_door_type_is_inspected_yearly_in_the_reference(door_type: DoorType) -> None:
    """For each type the model editions ask for a yearly inspection, looks and a course."""
    held = rules.requirements(
        facts={"door_type": door_type, "operation": "power", "fire_door": True},
        jurisdiction="us",
        on=DAY,
    )
    binding = [item.requirement for item in held.items if not item.advisory]
    intervals = [r.spec for r in binding if isinstance(r.spec, IntervalSpec)]
    assert any(
        spec.activity is Activity.PERIODIC_INSPECTION and spec.every == "P1Y" and not spec.subject
        for spec in intervals
    )
    required = [r for r in binding if Activity.PERIODIC_INSPECTION in r.required_in]
    assert sum(r.kind is Kind.CHECK for r in required) >= 3
    assert any(r.kind is Kind.SEQUENCE for r in required)


def test_quarterly_test_binds_nobody_by_itself() -> None:
    """No published text asks for it, so no packaged place makes it binding."""
    facts = {"door_type": "accordion", "operation": "power", "fire_door": True}
    for code in load().places:
        held = rules.requirements(facts=facts, jurisdiction=code, on=DAY)
        (item,) = (
            i for i in held.items if i.requirement.id == "common-practice/quarterly-operation-test"
        )
        assert item.advisory, code


def test_powered_accordion_is_decided_on_the_contracts_facts() -> None:
    """The facts of the contract's example decide every force, the speed and the time; a rule for
    health care alone waits for the one fact that would tell.
    """
    facts = {
        "door_type": "accordion",
        "operation": "power",
        "fire_door": True,
        "means_of_egress": True,
        "accessible_route": False,
        "installed_on": "2019-05-01",
        "occupant_load": 120,
    }
    held = rules.requirements(facts=facts, jurisdiction="us", on=DAY)
    asked = {
        "set_in_motion_force",
        "closing_force",
        "opening_force",
        "closing_speed",
        "opening_time_to_width",
        "lateral_load_opening_force",
        "standby_cycles",
    }
    found = defaultdict(set)
    for item in held.items:
        if isinstance(spec := item.requirement.spec, LimitSpec) and not item.advisory:
            found[spec.quantity].add(item.missing_facts)
    assert all(() in found[name] for name in asked)
    assert set().union(*(found[name] for name in asked)) == {(), ("health_care",)}
