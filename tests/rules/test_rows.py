"""Every row of the project's table of limits: what the data must say of it, and no more."""

from __future__ import annotations

import pytest

from rules.library import load
from rules.model import (
    CheckSpec,
    FilingSpec,
    ImpairmentSpec,
    IntervalSpec,
    LimitSpec,
    PermissionSpec,
    RecordSpec,
    Requirement,
    RetentionSpec,
    SequenceSpec,
)
from rules.vocabulary import Activity, Meaning
from tests.rules.rows import (
    CHECKS,
    EXISTING_IN_MINNESOTA,
    IMPAIRMENTS,
    INTERVALS,
    LIMITS,
    NOMINAL,
    OTHERS,
    PER_DOOR,
    RETENTIONS,
    SEQUENCES,
    rows,
)

TABLES = (
    *(LIMITS, NOMINAL, PER_DOOR, INTERVALS, RETENTIONS, IMPAIRMENTS),
    *(CHECKS, SEQUENCES, OTHERS),
)
NUMBERED = {
    *(f"1.{number}" for number in range(1, 21)),
    *("1.7b", "2.1", "2.2", "2.3", "2.4", "2.5", "2.6", "2.7", "2.8", "2.9"),
    *("3", "4", "5", "6", "7", "10", "11", "12"),
}


def own() -> dict[str, Requirement]:
    """What the places themselves write, by id."""
    amendments = (a for place in load().places.values() for a in place.amendments)
    return {a.requirement.id: a.requirement for a in amendments if a.requirement is not None}


def packaged(name: str) -> Requirement:
    """The packaged requirement of that id, as its publication or its place first states it."""
    return load().requirements.get(name) or own()[name]


# --- whole and true --------------------------------------------------------------------------


def test_every_requirement_stands_in_a_row_and_every_row_in_the_data() -> None:
    """Nothing is invented beside the rows, and no row has been left out; what only tells that a
    text was not read asks nothing.
    """
    listed = {row[1] for table in TABLES for row in rows(table)}
    gaps = {name for name, one in load().requirements.items() if one.states_a_gap}
    assert listed == (load().requirements.keys() - gaps) | own().keys()
    assert {row[0] for table in TABLES for row in rows(table)} - {"trade"} == NUMBERED


@pytest.mark.parametrize("row", rows(LIMITS), ids=lambda row: row[1])
def test_limit_says_what_was_read(row: list[str]) -> None:
    """Bounds as published, in the published unit, with the standing of their source."""
    _, name, low, high, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, LimitSpec)
    assert (str(spec.low or "-"), str(spec.high or "-")) == (
        low.replace("_", " "),
        high.replace("_", " "),
    )
    assert requirement.standing == standing


@pytest.mark.parametrize("row", rows(EXISTING_IN_MINNESOTA), ids=lambda row: row[1])
def test_one_states_own_rule_for_existing_doors(row: list[str]) -> None:
    """The numbers of 1104.7.1 and 1104.8 as that state prints them, for existing doors alone."""
    _, name, low, high, printed = row
    replaced = own()[name]
    spec = replaced.spec
    assert isinstance(spec, LimitSpec)
    found = [str(spec.low or "-"), str(spec.high or "-"), spec.printed_si]
    assert found == [text.replace("_", " ") for text in (low, high, printed)]
    assert (replaced.standing, replaced.doors) == ("secondary", "existing")


@pytest.mark.parametrize("row", rows(NOMINAL), ids=lambda row: row[1])
def test_about_is_told_and_holds_nobody(row: list[str]) -> None:
    """A usual value is advisory, and no bound is made of it."""
    _, name, usual, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, LimitSpec)
    assert (str(spec.nominal), requirement.standing) == (usual.replace("_", " "), standing)


@pytest.mark.parametrize("row", rows(PER_DOOR), ids=lambda row: row[1])
def test_numbers_that_nobody_found_are_left_to_each_door(row: list[str]) -> None:
    """No text gives them, so the library gives none either; only which sides may be given."""
    _, name, sides, quantity = row
    spec = packaged(name).spec
    assert isinstance(spec, LimitSpec)
    assert (spec.supplied_per_door, spec.low, spec.high) == (True, None, None)
    assert (spec.comparator, spec.quantity) == (sides, quantity)


@pytest.mark.parametrize("row", rows(INTERVALS), ids=lambda row: row[1])
def test_interval_says_what_was_read(row: list[str]) -> None:
    """The activity, the period, what the publisher means by it, and the standing."""
    _, name, activity, every, meaning, standing = row
    requirement = packaged(name)
    spec = requirement.spec
    assert isinstance(spec, IntervalSpec)
    meant = "-" if spec.meaning is Meaning.NOT_LATER_THAN else spec.meaning
    assert (spec.activity, spec.every or "-", meant) == (activity, every, meaning)
    assert requirement.standing == standing


@pytest.mark.parametrize("row", rows(RETENTIONS), ids=lambda row: row[1])
def test_retention_says_what_was_read(row: list[str]) -> None:
    """How long a record is kept, and from when."""
    _, name, keep, counted_from, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, RetentionSpec)
    assert (spec.keep, spec.counted_from, requirement.standing) == (keep, counted_from, standing)


@pytest.mark.parametrize("row", rows(IMPAIRMENTS), ids=lambda row: row[1])
def test_impairment_says_what_was_read(row: list[str]) -> None:
    """After how many hours out of service something is owed, where hours are named."""
    _, name, over, standing = row
    requirement = packaged(name)
    assert isinstance(spec := requirement.spec, ImpairmentSpec)
    assert (spec.over or "-", requirement.standing) == (over, standing)


@pytest.mark.parametrize("row", rows(CHECKS), ids=lambda row: row[1])
def test_check_has_the_standing_of_its_source(row: list[str]) -> None:
    """A thing looked at, answered by yes or no."""
    requirement = packaged(row[1])
    assert isinstance(requirement.spec, CheckSpec)
    assert requirement.standing == row[2]


@pytest.mark.parametrize("row", rows(SEQUENCES), ids=lambda row: row[1])
def test_sequence_has_the_standing_of_its_source(row: list[str]) -> None:
    """A course of events, seen step by step."""
    requirement = packaged(row[1])
    assert isinstance(requirement.spec, SequenceSpec)
    assert requirement.standing == row[2]


@pytest.mark.parametrize("row", rows(OTHERS), ids=lambda row: row[1])
def test_other_kinds_have_the_standing_of_their_source(row: list[str]) -> None:
    """Permissions, records, filings and qualifications."""
    requirement = packaged(row[1])
    assert (requirement.kind, requirement.standing) == (row[2], row[3])


# --- rows that say more than a number --------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "least", "greatest"),
    [
        ("quarterly", "P2M", "P4M"),
        ("semiannual", "P4M", "P8M"),
        ("annual", "P9M", "P15M"),
        ("three-yearly", "P30M", "P40M"),
        ("five-yearly", "P54M", "P66M"),
    ],
)
def test_months_between_two_tests(name: str, least: str, greatest: str) -> None:
    """One publisher names the least and the greatest number of months between two tests."""
    spec = packaged(f"nfpa-25-2020/frequency/{name}").spec
    assert isinstance(spec, IntervalSpec)
    assert (spec.least, spec.greatest) == (least, greatest)


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("quarterly", "P10D"), ("semiannual", "P20D"), ("annual", "P30D"), ("three-yearly", "P45D")],
)
def test_days_either_way(name: str, tolerance: str) -> None:
    """An accreditor gives days before and after the date."""
    spec = packaged(f"accreditor-2014/frequency/{name}").spec
    assert isinstance(spec, IntervalSpec)
    assert (spec.early, spec.late) == (tolerance, tolerance)


@pytest.mark.parametrize("publisher", ["nfpa-25-2020", "accreditor-2014", "accreditor-before-2014"])
def test_fuller_visit_meets_an_adopted_frequency(publisher: str) -> None:
    """Whoever adopts a publisher's word for a door's tests need not come twice in a year."""
    found = [r.spec for r in load().publications[publisher].requirements if "frequency/" in r.id]
    assert found
    for spec in found:
        assert isinstance(spec, IntervalSpec)
        fuller = {Activity.ACCEPTANCE_TEST, Activity.PERIODIC_INSPECTION} - {spec.activity}
        assert set(spec.met_by) == fuller


@pytest.mark.parametrize(
    ("name", "load", "holds"),
    [
        ("ibc-2018/permission/manual-sliding", 10, True),
        ("ibc-2018/permission/manual-sliding", 11, False),
        ("nfpa-101-2000/permission/manual-sliding", 9, True),
        ("nfpa-101-2000/permission/manual-sliding", 10, False),
        ("nfpa-101-2012/permission/manual-sliding-health-care", 10, False),
        ("nfpa-101-1988/special-purpose/load", 49, True),
        ("nfpa-101-1988/special-purpose/load", 50, False),
    ],
)
def test_permission_by_occupant_load(name: str, load: int, holds: bool) -> None:  # noqa: FBT001
    """Up to which occupant load a door of its kind may stand in a means of egress."""
    spec = packaged(name).spec
    assert isinstance(spec, PermissionSpec)
    assert spec.permitted_when.ask({"occupant_load": load, "occupancy_group": "B"}).holds is holds


def test_record_of_an_inspection_has_eleven_items() -> None:
    """As the publisher counts them for NFPA 80-2013, 5.2.2."""
    spec = packaged("nfpa-80-2013/record/contents").spec
    assert isinstance(spec, RecordSpec)
    assert len(set(spec.contents)) == 11


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("ibc-2018/special-purpose/set-in-motion", "133 N"),
        ("ibc-2018/special-purpose/close", "67 N"),
        ("ibc-2018/power-lost/set-in-motion", "220 N"),
        ("nfpa-101-2012/special-purpose/lateral-load", "222 N"),
        ("ada-2010/width/clear", "815 mm"),
        ("ibc-2018/width/clear", "813 mm"),
        ("ada-2010/force/interior-hinged", "22.2 N"),
        ("cbc-2022/accessible/powered-alternative", "38 N"),
        ("ibc-2021/egress-force/latch-rotation", "315 N-cm"),
    ],
)
def test_printed_si_is_kept_beside_and_never_decides(name: str, printed: str) -> None:
    """What a publisher prints in SI is rounded; it is kept as text, not as a bound."""
    spec = packaged(name).spec
    assert isinstance(spec, LimitSpec)
    assert spec.printed_si == printed


@pytest.mark.parametrize("name", ["ibc-2006", "ibc-2012", "ibc-2015", "ibc-2018", "ibc-2021"])
def test_lateral_load_is_told_beside_its_force(name: str) -> None:
    """Row 1.7: 15 lb under 250 lb, of which the printed 1100 N is no conversion."""
    spec = packaged(f"{name}/special-purpose/lateral-load").spec
    assert isinstance(spec, LimitSpec)
    assert (str(spec.test_load), spec.method) == ("250 lbf", "printed SI of the load: 1100 N")


# --- rows that must not be encoded -----------------------------------------------------------


def test_what_was_not_found_or_is_to_be_left_out_is_in_no_file() -> None:
    """Rows 2.10 to 2.12, the alarm panel's 200 s, deadlines in days, and their like."""
    every = {**load().requirements, **own()}
    unread = ("a156.38", "en-12604", "en-12605", "en-14637", "ul-864")
    assert not [name for name in load().publications if name.startswith(unread)]
    limits = {name: r.spec for name, r in every.items() if isinstance(r.spec, LimitSpec)}
    energies = {name for name, spec in limits.items() if spec.quantity == "kinetic_energy"}
    assert energies == {"a156.19-1997/kinetic-energy", "en-16005-2012/kinetic-energy"}
    stops = {name for name, spec in limits.items() if spec.quantity == "stop_force"}
    assert stops == {"a156.10-1999/sliding/stop-force"}
    numbered = {spec.quantity for spec in limits.values() if spec.low or spec.high}
    assert not numbered & UNFOUND
    responses = [r.spec for r in every.values() if isinstance(r.spec, ImpairmentSpec | FilingSpec)]
    assert not [spec for spec in responses if spec.within]


UNFOUND = {
    *("obstruction_force", "pause_time", "obstruction_attempts", "reversal_distance"),
    *("retraction_distance", "trouble_signal_delay", "battery_low_voltage"),
    *("battery_close_voltage", "peak_closing_speed"),
}


@pytest.mark.parametrize(
    "name",
    [
        *("nyc-bc", "bs-9999", "bs-5839-1", "dibt-hold-open", "din-vde-0833-2", "nbc"),
        *("qdc-mp-6-1", "sbc-801", "cbc-11b", "approved-document-m-volume-2"),
    ],
)
def test_edition_that_no_source_states_has_no_year(name: str) -> None:
    """It holds from ever and says so, instead of from a year that somebody made up."""
    publication = load().publications[name]
    assert (publication.edition, publication.edition_year) == ("edition not stated", None)
