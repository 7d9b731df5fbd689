"""What is owed on an opening: windows and states through a history."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import duties, parse_layer
from rules.duties import duty_json, owed
from rules.errors import InputError
from rules.history import read_history
from rules.model import Citation, IntervalSpec, Requirement, Resolved
from rules.predicates import ALWAYS
from rules.vocabulary import (
    Activity,
    Adoption,
    Basis,
    DutyState,
    Kind,
    Meaning,
    Protects,
    Standing,
)

YEARLY = IntervalSpec(Activity.PERIODIC_INSPECTION, "P1Y", Meaning.NOT_LATER_THAN)
QUARTERLY = IntervalSpec(
    Activity.OPERATION_TEST,
    "P3M",
    Meaning.FROM_DATE,
    early="P10D",
    late="P10D",
    met_by=(Activity.PERIODIC_INSPECTION,),
)
AFTER_REPAIR = IntervalSpec(Activity.REPAIR_RETEST, "", Meaning.NOT_LATER_THAN, after="repair")
ACCEPTANCE = IntervalSpec(
    Activity.ACCEPTANCE_TEST, "P30D", Meaning.NOT_LATER_THAN, after="installation"
)


def resolved(
    spec: IntervalSpec, name: str = "house-rule/interval", since: str | None = None
) -> Resolved:
    """An interval as a place resolved it."""
    requirement = Requirement(
        id=name,
        kind=Kind.INTERVAL,
        title="how often",
        basis=Basis.MAINTENANCE,
        protects=Protects.CLOSING,
        applies=ALWAYS,
        spec=spec,
        citation=Citation("House rule", "2020", "1"),
        standing=Standing.SECONDARY,
    )
    day = date.fromisoformat(since) if since else None
    return Resolved(requirement, "us", Adoption.RECORDED, advisory=False, lineage=(), since=day)


def inspected(
    *days: str, activity: str = "periodic_inspection", **more: object
) -> list[dict[str, Any]]:
    """Visits of one activity on those days."""
    return [{"activity": activity, "on": day, **more} for day in days]


def repaired(*days: str) -> list[dict[str, Any]]:
    """Repairs on those days."""
    return [{"event": "repair", "on": day} for day in days]


def one_duty(
    spec: IntervalSpec,
    history: list[dict[str, Any]],
    on: str,
    *,
    since: str | None = None,
    facts: dict[str, Any] | None = None,
) -> dict:
    """The only duty of that interval, as JSON."""
    day = date.fromisoformat(on)
    found = owed([resolved(spec, since=since)], facts or {}, read_history(history), day)
    assert len(found) == 1
    return duty_json(found[0])


@pytest.mark.parametrize(
    ("on", "state"),
    [
        ("2026-06-04", "upcoming"),
        ("2026-06-05", "open"),
        ("2026-06-14", "open"),
        ("2026-06-15", "due"),
        ("2026-06-25", "due"),
        ("2026-06-26", "overdue"),
    ],
)
def test_the_state_follows_the_window(on: str, state: str) -> None:
    """Upcoming before it opens, due from its day until it closes, overdue the day after."""
    visit = inspected("2026-03-15", activity="operation_test")
    assert one_duty(QUARTERLY, visit, on)["state"] == state


@pytest.mark.parametrize(
    ("on", "state"), [("2029-02-27", "open"), ("2029-02-28", "due"), ("2029-03-01", "overdue")]
)
def test_a_year_from_the_leap_day_ends_on_28_february(on: str, state: str) -> None:
    """Passed on 29 February 2028, not to exceed a year: owed by 28 February 2029."""
    duty = one_duty(YEARLY, inspected("2028-02-29"), on)
    assert (duty["due_on"], duty["state"]) == ("2029-02-28", state)


@pytest.mark.parametrize(
    ("next_from", "due"), [("visit", "2032-02-28"), ("due_date", "2032-02-29")]
)
def test_the_leap_day_comes_back_only_from_a_fixed_due_date(next_from: str, due: str) -> None:
    """Counted from each visit the day stays the 28th; counted from the first it returns."""
    visits = inspected("2028-02-29", "2029-02-28", "2030-02-28", "2031-02-28")
    spec = replace(YEARLY, next_from=next_from)
    assert one_duty(spec, visits, "2031-06-01")["due_on"] == due


@pytest.mark.parametrize(
    ("next_from", "visit", "due"),
    [
        ("visit", "2026-06-06", "2026-09-06"),  # early: the next one is earlier too
        ("due_date", "2026-06-06", "2026-09-15"),
        ("visit", "2026-07-20", "2026-10-20"),  # late: the next one is later too
        ("due_date", "2026-07-20", "2026-09-15"),
    ],
)
def test_the_next_one_runs_from_the_visit_or_from_the_due_date(
    next_from: str, visit: str, due: str
) -> None:
    """Met early or late, the publisher's choice decides from when the next one runs."""
    spec = replace(QUARTERLY, next_from=next_from)
    visits = inspected("2026-03-15", visit, activity="operation_test")
    duty = one_duty(spec, visits, "2026-08-01")
    assert (duty["due_on"], duty["last_on"]) == (due, visit)
    assert duty["last_was_late"] is (visit > "2026-06-25")


@pytest.mark.parametrize("next_from", ["visit", "due_date"])
def test_a_visit_before_the_window_opens_does_not_meet_the_duty(next_from: str) -> None:
    """A test 9 days after the last one is not the next quarter's."""
    spec = replace(QUARTERLY, next_from=next_from)
    visits = inspected("2026-03-15", "2026-03-24", activity="operation_test")
    duty = one_duty(spec, visits, "2026-05-01")
    assert (duty["due_on"], duty["last_on"]) == ("2026-06-15", "2026-03-15")


def test_fixed_due_dates_forgive_what_was_missed_before_the_last_window() -> None:
    """After years without a visit, one inside the window of this year meets this year's duty."""
    spec = replace(YEARLY, early="P30D", late="P30D", next_from="due_date")
    visits = inspected("2020-03-01", "2023-02-20")
    duty = one_duty(spec, visits, "2023-02-21")
    assert (duty["due_on"], duty["last_was_late"]) == ("2024-03-01", False)


@pytest.mark.parametrize(
    ("visits", "due", "late"),
    [
        (["2021-03-05"], "2022-03-01", True),  # five days late for 2021, not early for 2022
        (["2021-03-05", "2021-12-01"], "2023-03-01", False),
        (["2021-02-20", "2021-03-05"], "2023-03-01", False),  # the second one is in 2022's year
        (["2021-02-20", "2021-02-21"], "2022-03-01", False),  # the second one meets nothing more
    ],
)
def test_without_tolerance_a_late_visit_makes_up_for_the_year_it_missed(
    visits: list[str], due: str, *, late: bool
) -> None:
    """Due every 1 March: each year's duty is met once, the missed one first."""
    spec = replace(YEARLY, next_from="due_date")
    duty = one_duty(spec, inspected("2020-03-01", *visits), "2022-01-01")
    assert (duty["due_on"], duty["last_was_late"]) == (due, late)


@pytest.mark.parametrize(
    ("since", "installed", "due"),
    [
        ("2023-01-23", None, "2023-04-23"),
        (None, "2024-02-29", "2024-05-29"),
        ("2023-01-23", "2024-02-29", "2024-05-29"),
        ("2023-01-23", "2001-01-01", "2023-04-23"),
    ],
)
def test_the_first_one_is_owed_an_interval_after_the_later_beginning(
    since: str | None, installed: str | None, due: str
) -> None:
    """Rule and door must both have begun; every visit from that day on meets it."""
    facts = {"installed_on": date.fromisoformat(installed)} if installed else {}
    duty = one_duty(QUARTERLY, [], "2023-01-01", since=since, facts=facts)
    assert (duty["due_on"], duty["last_on"], duty["missing_facts"]) == (due, None, [])
    assert duty["opens_on"] == max(filter(None, (since, installed)))


def test_an_alteration_begins_the_door_anew() -> None:
    """A door altered after its installation counts from its alteration."""
    facts = {"installed_on": date(2001, 1, 1), "altered_on": date(2024, 1, 1)}
    assert one_duty(YEARLY, [], "2024-06-01", facts=facts)["due_on"] == "2025-01-01"


def test_with_no_beginning_known_it_is_owed_now_and_says_what_is_missing() -> None:
    """No visit, no date of installation, no start of the rule: due today, with the fact named."""
    duty = one_duty(YEARLY, [], "2026-03-01")
    assert (duty["due_on"], duty["state"]) == ("2026-03-01", "due")
    assert duty["missing_facts"] == ["installed_on"]


@pytest.mark.parametrize(
    ("last", "due"),
    [
        ("2022-12-20", "2023-03-20"),  # reaches into the rule's time: it counts
        ("2019-05-01", "2023-04-23"),  # too old: nothing is overdue on the rule's first day
    ],
)
def test_a_visit_before_the_rule_counts_where_its_interval_reaches_it(last: str, due: str) -> None:
    """A rule that starts finds nobody overdue, and no visit is lost to a new edition."""
    visits = inspected(last, activity="operation_test")
    assert one_duty(QUARTERLY, visits, "2023-02-01", since="2023-01-23")["due_on"] == due


def test_of_several_visits_before_the_rule_the_last_one_counts() -> None:
    """A rule that begins after years of visits is first owed one interval after the latest."""
    visits = [
        visit
        for day in ("2021-04-14", "2022-09-01", "2022-12-20")
        for visit in inspected(day, activity="operation_test")
    ]
    duty = one_duty(QUARTERLY, visits, "2023-02-01", since="2023-01-23")
    assert (duty["last_on"], duty["due_on"]) == ("2022-12-20", "2023-03-20")


def test_a_retest_moves_no_periodic_duty() -> None:
    """Even where a requirement lists it, the proof of a repair is no periodic visit."""
    spec = replace(YEARLY, met_by=(Activity.REPAIR_RETEST,))
    visits = inspected("2025-03-01") + inspected("2025-09-01", activity="repair_retest")
    assert one_duty(spec, visits, "2025-10-01")["due_on"] == "2026-03-01"


def test_a_visit_that_left_something_out_meets_nothing() -> None:
    """A required item not looked at leaves the duty where it was."""
    visits = inspected("2025-03-01") + inspected("2026-02-20", complete=False)
    duty = one_duty(YEARLY, visits, "2026-03-02")
    assert (duty["last_on"], duty["state"]) == ("2025-03-01", "overdue")


def test_one_visit_meets_two_duties_and_a_lesser_visit_only_its_own() -> None:
    """The yearly inspection meets the quarterly test where the rule says so, never the reverse."""
    items = [resolved(YEARLY, "a/yearly"), resolved(QUARTERLY, "b/quarterly")]
    history = read_history(
        inspected("2026-03-15") + inspected("2026-06-15", activity="operation_test")
    )
    found = [duty_json(duty) for duty in owed(items, {}, history, date(2026, 7, 1))]
    assert [(d["requirement"], d["last_on"], d["due_on"]) for d in found] == [
        ("b/quarterly", "2026-06-15", "2026-09-15"),
        ("a/yearly", "2026-03-15", "2027-03-15"),
    ]


def test_what_happens_later_is_not_known_yet() -> None:
    """Asked for a day in the past, the answer is that day's."""
    duty = one_duty(YEARLY, inspected("2025-03-01", "2026-02-01"), "2025-12-31")
    assert (duty["last_on"], duty["due_on"]) == ("2025-03-01", "2026-03-01")


@pytest.mark.parametrize(
    ("facts", "state"),
    [
        ({"in_service": False}, "suspended"),
        ({"in_service": True}, "overdue"),
        ({"removed_on": date(2026, 3, 1)}, "ended"),
        ({"removed_on": date(2026, 3, 2)}, "overdue"),
        ({"removed_on": date(2026, 3, 1), "in_service": False}, "ended"),
    ],
)
def test_a_door_out_of_service_owes_nothing_for_now(facts: dict, state: str) -> None:
    """Out of service suspends, removed ends, from its day on."""
    duty = one_duty(YEARLY, inspected("2020-01-01"), "2026-03-01", facts=facts)
    assert duty["state"] == state


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        (repaired("2026-02-01"), ("2026-02-01", None, "overdue")),
        (
            repaired("2026-02-01") + inspected("2026-02-01", activity="repair_retest"),
            ("2026-02-01", "2026-02-01", "met"),
        ),
        (
            inspected("2026-01-20", activity="repair_retest") + repaired("2026-02-01"),
            ("2026-02-01", "2026-01-20", "overdue"),
        ),
        (
            repaired("2026-01-01", "2026-02-01", "2026-02-09")
            + inspected("2026-01-05", activity="repair_retest"),
            ("2026-02-01", "2026-01-05", "overdue"),
        ),
    ],
)
def test_a_repair_makes_one_retest_owed(
    history: list[dict[str, Any]], expected: tuple[str, str | None, str]
) -> None:
    """Owed from the first repair not yet proven; a retest before the repair proves nothing."""
    duty = one_duty(AFTER_REPAIR, history, "2026-02-10")
    assert (duty["due_on"], duty["last_on"], duty["state"]) == expected


def test_without_a_repair_no_retest_is_owed() -> None:
    """An event that did not happen, or happened before the rule began, makes nothing owed."""
    on = date(2026, 3, 1)
    assert owed([resolved(AFTER_REPAIR)], {}, read_history([]), on) == []
    ruled = resolved(AFTER_REPAIR, since="2026-01-01")
    assert owed([ruled], {}, read_history(repaired("2025-12-31")), on) == []


@pytest.mark.parametrize(
    ("history", "facts", "expected"),
    [
        ([], {"installed_on": date(2026, 1, 10)}, ("2026-02-09", "overdue", [])),
        (
            inspected("2026-01-12", activity="acceptance_test"),
            {"installed_on": date(2026, 1, 10)},
            ("2026-02-09", "met", []),
        ),
        (inspected("2019-01-12", activity="acceptance_test"), {}, ("2019-01-12", "met", [])),
        ([], {}, ("2026-03-01", "due", ["installed_on"])),
    ],
)
def test_an_installation_makes_one_acceptance_owed(
    history: list[dict[str, Any]], facts: dict, expected: tuple[str, str, list[str]]
) -> None:
    """Owed within its time of the installation, met for good by one acceptance."""
    duty = one_duty(ACCEPTANCE, history, "2026-03-01", facts=facts)
    assert (duty["due_on"], duty["state"], duty["missing_facts"]) == expected


def test_a_door_older_than_the_rule_owes_no_acceptance() -> None:
    """The rule asks it of doors installed under it."""
    item = resolved(ACCEPTANCE, since="2013-01-01")
    facts = {"installed_on": date(2005, 1, 1)}
    assert owed([item], facts, read_history([]), date(2026, 3, 1)) == []


def test_advisory_and_foreign_intervals_are_no_duties() -> None:
    """Common practice binds nobody, and the alarm system's own test is not the door's."""
    items = [
        replace(resolved(YEARLY), advisory=True),
        resolved(replace(YEARLY, subject="fire_alarm_system")),
    ]
    assert owed(items, {}, read_history([]), date(2026, 3, 1)) == []


def test_an_undecided_requirement_is_shown_with_the_fact_it_waits_for() -> None:
    """It is not owed, however long ago the last visit was, and names what would tell."""
    item = replace(resolved(YEARLY), missing_facts=("door_type",))
    found = owed([item], {}, read_history(inspected("2015-05-01")), date(2026, 3, 1))
    assert [(d.state, d.missing_facts) for d in found] == [(DutyState.SUSPENDED, ("door_type",))]
    assert duty_json(found[0])["reason"] == "fact_missing: door_type"


def test_what_is_over_is_no_longer_suspended() -> None:
    """A door that is gone owes nothing, whatever was never told of it."""
    item = replace(resolved(YEARLY), missing_facts=("door_type",))
    (duty,) = owed([item], {"removed_on": date(2020, 1, 1)}, read_history([]), date(2026, 3, 1))
    assert (duty.state, duty.reason) == (DutyState.ENDED, "")


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({}, ("suspended", "fact_missing: hold_open")),
        ({"hold_open": True}, ("overdue", None)),
        ({"hold_open": True, "in_service": False}, ("suspended", "out_of_service")),
        ({"hold_open": False}, None),
    ],
)
def test_a_release_device_nobody_told_of_is_not_overdue(
    facts: dict[str, Any], expected: tuple[str, str | None] | None
) -> None:
    """An English door of which it is not known whether it is held open."""
    door = {"door_type": "swinging", "fire_door": True, "installed_on": "2015-01-01", **facts}
    found = duties(facts=door, jurisdiction="gb-eng", history=[], on=date(2026, 3, 1))
    told = {d["requirement"]: (d["state"], d["reason"]) for d in found}
    assert told.get("bs-9999/release-devices/daily") == expected


@pytest.mark.parametrize(
    ("history", "pointers"),
    [
        ({"activity": "operation_test"}, ["/history"]),
        ("operation_test", ["/history"]),
        ([7], ["/history/0"]),
        ([{}], ["/history/0/on", "/history/0/activity"]),
        ([{"on": "2026-03-01"}], ["/history/0/activity"]),
        ([{"activity": "quarterly", "on": "2026-03-01"}], ["/history/0/activity"]),
        ([{"activity": "operation_test", "on": "2026-02-30"}], ["/history/0/on"]),
        ([{"activity": "operation_test", "on": "2026-03-01T08:00:00Z"}], ["/history/0/on"]),
        ([{"activity": "operation_test", "on": 20260301}], ["/history/0/on"]),
        ([{"event": "flood", "on": "2026-03-01"}], ["/history/0/event"]),
        (
            [{"event": "repair", "activity": "repair_retest", "on": "2026-03-01"}],
            ["/history/0/activity"],
        ),
        (
            inspected("2026-03-01") + inspected("2026-03-01", complete="yes", door="7"),
            ["/history/1/door", "/history/1/complete"],
        ),
        ([{}] * 50_001, ["/history"]),
    ],
)
def test_a_wrong_history_is_refused_with_every_place(history: object, pointers: list[str]) -> None:
    """Each mistake is named by its pointer; nothing is guessed."""
    with pytest.raises(InputError) as refused:
        read_history(history)
    assert [p.pointer for p in refused.value.problems] == pointers


def test_the_longest_history_is_read() -> None:
    """As many items as are allowed are read, whatever they are; one more is refused whole."""
    longest: list[object] = [{}] * 50_000
    with pytest.raises(InputError) as refused:
        read_history(longest)
    assert refused.value.problems[-1].pointer == "/history/49999/activity"


SPECS = st.sampled_from(
    [
        YEARLY,
        QUARTERLY,
        replace(QUARTERLY, next_from="due_date"),
        replace(YEARLY, next_from="due_date"),
        replace(QUARTERLY, meaning=Meaning.FROM_MONTH),
        replace(QUARTERLY, meaning=Meaning.CALENDAR_PERIOD, early="", late=""),
        replace(QUARTERLY, meaning=Meaning.BETWEEN, least="P2M", greatest="P4M"),
    ]
)
HISTORIES = st.lists(st.dates(date(2015, 1, 1), date(2026, 1, 1)), max_size=12)


@given(SPECS, HISTORIES, st.none() | st.dates(date(2010, 1, 1), date(2025, 1, 1)))
def test_the_order_of_a_history_does_not_matter(
    spec: IntervalSpec, days: list[date], installed: date | None
) -> None:
    """However the visits are sent, the same is owed, after the last visit that counted."""
    facts = {"installed_on": installed} if installed else {}
    activity = spec.activity.value
    answers = []
    for order in (days, sorted(days), sorted(days, reverse=True)):
        history = read_history(inspected(*map(str, order), activity=activity))
        answers.append([duty_json(d) for d in owed([resolved(spec)], facts, history, date.max)])
    assert answers[0] == answers[1] == answers[2]
    duty = answers[0][0]
    assert duty["last_on"] is None or duty["last_on"] in map(str, days)
    assert duty["opens_on"] <= duty["due_on"] <= duty["closes_on"]


@given(SPECS, HISTORIES, st.integers(0, 6000))
def test_a_visit_in_the_open_window_moves_the_duty_on(
    spec: IntervalSpec, days: list[date], later: int
) -> None:
    """Done while open, due or overdue, the activity is owed again only after that day."""
    on = date(2016, 1, 1) + timedelta(days=later)
    visits = [str(day) for day in days if day < on]
    facts = {"installed_on": date(2015, 1, 1)}
    before = one_duty(spec, inspected(*visits, activity=spec.activity.value), str(on), facts=facts)
    visits.append(str(on))
    after = one_duty(spec, inspected(*visits, activity=spec.activity.value), str(on), facts=facts)
    if before["state"] == "upcoming":
        assert after == before
    else:
        assert after["last_on"] == str(on)
        assert after["due_on"] > max(before["due_on"], str(on)) or spec.next_from == "due_date"
        assert after["due_on"] > before["due_on"]


ACCORDION = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "health_care": False,
    "installed_on": "2019-05-01",
}
ACCEPTED = {"activity": "acceptance_test", "on": "2019-05-01"}
TOWN = """
[jurisdiction]
code = "us-xx-springfield"
parent = "us"
name = "Springfield"
kind = "city"
authority = "Fire Prevention Bureau"

[[adopt]]
requirement = "common-practice/quarterly-operation-test"
from = 2026-01-01
citation = { publication = "Ordinance 7", edition = "2025", clause = "3" }
standing = "verified"
"""


def test_the_verb_answers_with_the_clause_that_makes_it_owed() -> None:
    """In a place without an adoption on record, the yearly inspection of the model edition."""
    found = duties(
        facts=ACCORDION,
        jurisdiction="us",
        history=[ACCEPTED, *inspected("2025-05-02")],
        on=date(2026, 3, 1),
    )
    (yearly,) = [d for d in found if d["activity"] == "periodic_inspection"]
    assert (yearly["due_on"], yearly["state"]) == ("2026-05-02", "open")
    assert yearly["citation"]["publication"].startswith("NFPA 80")
    assert yearly["citation"]["clause"]
    assert yearly["adoption"] == "not_recorded"
    assert {d["state"] for d in found if d["after"] == "installation"} == {"met"}


def test_common_practice_is_owed_only_where_a_town_adopts_it() -> None:
    """The quarterly operation test is nobody's duty until a place makes it one, from its day."""
    asked: dict[str, Any] = {"facts": ACCORDION, "jurisdiction": "us", "history": [ACCEPTED]}
    layers = [parse_layer(TOWN)]
    on = date(2026, 3, 1)
    assert "operation_test" not in {d["activity"] for d in duties(**asked, on=on)}
    (quarterly,) = [
        d for d in duties(**asked, on=on, layers=layers) if d["activity"] == "operation_test"
    ]
    assert quarterly["layer"] == "us-xx-springfield"
    assert (quarterly["due_on"], quarterly["state"]) == ("2026-04-01", "open")
    earlier = duties(**asked, on=date(2025, 12, 31), layers=layers)
    assert "operation_test" not in {d["activity"] for d in earlier}


def test_the_verb_names_the_place_of_a_mistake() -> None:
    """In the facts or in the history, by pointer; a moment is no civil day."""
    asked: dict[str, Any] = {"facts": ACCORDION, "jurisdiction": "us", "on": date(2026, 3, 1)}
    with pytest.raises(InputError) as refused:
        duties(**asked, history=[{"activity": "operation_test", "on": "yesterday"}])
    assert refused.value.problems[0].pointer == "/history/0/on"
    with pytest.raises(InputError) as refused:
        duties(**{**asked, "facts": {"door_type": "curtain"}}, history=[])
    assert refused.value.problems[0].pointer == "/facts/door_type"
    with pytest.raises(InputError) as refused:
        duties(**{**asked, "on": datetime(2026, 3, 1, 8, tzinfo=UTC)}, history=[])
    assert refused.value.problems[0].pointer == "/on"


def test_due_days_are_civil_days_in_the_sites_zone() -> None:
    """Whatever the clock does: a visit at 01:30 on the night when that time comes twice belongs
    to its civil day, and what is due on the night when an hour is missing is due all that day.
    """
    denver = ZoneInfo("America/Denver")
    twice = [datetime(2027, 11, 7, 1, 30, tzinfo=denver, fold=fold) for fold in (0, 1)]
    assert twice[0].utcoffset() != twice[1].utcoffset()
    days = {moment.astimezone(UTC).astimezone(denver).date() for moment in twice}
    assert days == {date(2027, 11, 7)}
    assert one_duty(YEARLY, inspected(*map(str, days)), "2028-11-07")["state"] == "due"
    due = one_duty(YEARLY, inspected("2026-03-14"), "2027-03-14")
    assert (due["due_on"], due["state"]) == ("2027-03-14", "due")
