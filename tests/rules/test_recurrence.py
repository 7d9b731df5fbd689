"""How one repeated duty runs through visits on the edges of its windows, and through changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import duties, parse_layer
from rules.intervals import add as later
from rules.intervals import parse_period
from rules.model import IntervalSpec
from rules.recurrence import Course, course
from rules.vocabulary import Activity, Meaning

START = date(2021, 1, 31)
ONE = timedelta(days=1)
WITHIN_TEN_DAYS: dict[str, Any] = {"early": "P10D", "late": "P10D"}


def interval(every: str = "P3M", meaning: Meaning = Meaning.FROM_DATE, **more: Any) -> IntervalSpec:
    """An interval of an operation test."""
    return IntervalSpec(Activity.OPERATION_TEST, every, meaning, **more)


WITHIN = interval(**WITHIN_TEN_DAYS)
FIXED = replace(WITHIN, next_from="due_date")
NO_LATER = interval("P1Y", Meaning.NOT_LATER_THAN)
SPECS = {
    "no later": NO_LATER,
    "no later, fixed": replace(NO_LATER, next_from="due_date"),
    "within ten days": WITHIN,
    "within ten days, fixed": FIXED,
    "late only": interval(late="P1M"),
    "late only, fixed": interval(late="P1M", next_from="due_date"),
    "month": interval(meaning=Meaning.FROM_MONTH, **WITHIN_TEN_DAYS),
    "month, fixed": interval(meaning=Meaning.FROM_MONTH, next_from="due_date", **WITHIN_TEN_DAYS),
    "quarters": interval(meaning=Meaning.CALENDAR_PERIOD),
    "weeks": interval("P1W", Meaning.CALENDAR_PERIOD),
    "between": interval(meaning=Meaning.BETWEEN, least="P2M", greatest="P4M"),
}
ANY = pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS)


def standing(spec: IntervalSpec, visits: list[date], start: date | None = START) -> Course:
    """The course, which there is."""
    found = course(spec, start, visits)
    assert found is not None
    return found


def after_visits(spec: IntervalSpec, number: int) -> tuple[list[date], Course]:
    """So many visits, each on its due day, and where the duty stands then."""
    visits: list[date] = []
    for _ in range(number):
        visits.append(standing(spec, visits).window.due_on)
    return visits, standing(spec, visits)


@ANY
@pytest.mark.parametrize("edge", ["opens_on", "due_on", "closes_on"])
def test_whoever_comes_on_an_edge_day_each_time_is_never_late(
    spec: IntervalSpec, edge: str
) -> None:
    """On the first day, the due day or the last day of twelve windows one after another: each
    visit meets its window, none is late, and the next one is due later. One on the very first day
    is where counting begins.
    """
    visits: list[date] = []
    for number in range(12):
        before = standing(spec, visits)
        visits.append(getattr(before.window, edge))
        after = standing(spec, visits)
        assert (after.last_on, after.last_was_late) == (visits[-1], False)
        assert after.window.due_on > before.window.due_on or (number == 0 and visits[-1] == START)
        assert after.window.opens_on <= after.window.due_on <= after.window.closes_on
        assert after.window.due_on > visits[-1]


@ANY
def test_the_day_before_a_window_opens_is_too_early(spec: IntervalSpec) -> None:
    """A visit then leaves the duty as it is; on the day itself it meets it."""
    visits, before = after_visits(spec, 3)
    too_early = before.window.opens_on - ONE
    if too_early > visits[-1]:
        assert standing(spec, [*visits, too_early]) == before
    assert standing(spec, [*visits, before.window.opens_on]).last_on == before.window.opens_on


@ANY
def test_the_day_after_a_window_closes_is_late(spec: IntervalSpec) -> None:
    """It is met, and said to be late, where no later window is met on time by the same visit."""
    visits, before = after_visits(spec, 2)
    late = before.window.closes_on + ONE
    after = standing(spec, [*visits, late])
    assert after.last_on == late
    on_time_for_another = spec.meaning is Meaning.CALENDAR_PERIOD
    assert after.last_was_late is not on_time_for_another or after.window.due_on > late


@ANY
@given(st.lists(st.integers(0, 1500), max_size=30))
def test_one_visit_never_meets_two_windows(spec: IntervalSpec, days: list[int]) -> None:
    """Added one by one in their order, visits move the due day on, never back; a second visit on
    one day changes nothing.
    """
    visits = sorted(START + timedelta(days=day) for day in set(days))
    due = standing(spec, []).window.due_on
    for number in range(1, len(visits) + 1):
        some = visits[:number]
        now = standing(spec, some)
        assert now.window.due_on >= due
        assert standing(spec, [*some, some[-1]]).window == now.window
        due = now.window.due_on


@given(st.lists(st.integers(0, 3000), max_size=40), st.sampled_from(["P1M", "P3M", "P1Y"]))
def test_fixed_due_days_are_whole_intervals_from_the_anchor(days: list[int], every: str) -> None:
    """Whatever the visits, the due day is the anchor and so many intervals, counted in one step."""
    spec = replace(FIXED, every=every)
    now = standing(spec, sorted(START + timedelta(days=day) for day in days))
    dues = [later(START, parse_period(every), number) for number in range(1, 200)]
    assert now.window.due_on in dues


def test_a_visit_on_a_fixed_due_day_meets_that_one() -> None:
    """Due every 31 January: one made on the due day of 2023 is 2023's, though 2022's was missed;
    nobody is asked to come again the next day.
    """
    spec = SPECS["no later, fixed"]
    on_the_day = standing(spec, [date(2023, 1, 31)])
    assert (str(on_the_day.window.due_on), on_the_day.last_was_late) == ("2024-01-31", False)
    day_before = standing(spec, [date(2023, 1, 30)])
    assert (str(day_before.window.due_on), day_before.last_was_late) == ("2023-01-31", True)


def test_a_visit_on_the_day_from_which_due_days_are_counted_skips_none() -> None:
    """Accepted on the day of its installation, a door is first due one interval later, not two;
    and no window is said to be open in which a visit would not count.
    """
    for spec in (SPECS["no later, fixed"], FIXED):
        now = standing(spec, [START])
        assert now.window.due_on == later(START, parse_period(spec.every))
        assert (now.last_on, now.last_was_late) == (START, False)
    assert standing(FIXED, []).window.opens_on == date(2021, 4, 20)
    assert standing(FIXED, [date(2021, 4, 19)]) == standing(FIXED, [])


def test_where_windows_overlap_the_one_still_open_is_met_first() -> None:
    """Monthly with 20 days each way: a visit in the tolerance of the first is the first's, and the
    next one on the same day of the window is the second's.
    """
    spec = interval("P1M", early="P20D", late="P20D", next_from="due_date")
    first_due = date(2021, 2, 28)
    visits = [first_due + timedelta(days=15)]
    assert str(standing(spec, visits).window.due_on) == "2021-03-31"
    visits.append(visits[0] + ONE)
    assert str(standing(spec, visits).window.due_on) == "2021-04-30"


@pytest.mark.parametrize(
    ("visits", "due", "last"),
    [
        ([], "2022-01-31", None),
        (["2021-01-31"], "2022-01-31", "2021-01-31"),
        (["2021-01-30", "2021-01-31"], "2022-01-31", "2021-01-31"),
        (["2019-06-01"], "2022-01-31", "2019-06-01"),
        (["2020-06-01"], "2021-06-01", "2020-06-01"),
        (["2020-01-31"], "2021-01-31", "2020-01-31"),
        (["2020-01-30"], "2022-01-31", "2020-01-30"),
    ],
)
def test_the_first_one_after_a_rule_begins(visits: list[str], due: str, last: str | None) -> None:
    """One interval after its first day; a visit on that day or before it counts where it reaches
    that day, and one that reaches no further makes nobody overdue.
    """
    now = standing(NO_LATER, [date.fromisoformat(day) for day in visits])
    assert str(now.window.due_on) == due
    assert now.last_on == (date.fromisoformat(last) if last else None)
    assert now.last_was_late is False


# --- an interval that is changed ---------------------------------------------------------------

CHANGE = date(2026, 1, 1)
LENGTHS = ["P1M", "P3M", "P6M", "P1Y", "P2Y"]


def changed(old: str, new: str, visits: list[date], **more: Any) -> tuple[Course, Course]:
    """Where it stands on the day of the change under the old interval, and under the new one."""
    before = standing(interval(old, Meaning.NOT_LATER_THAN, **more), visits)
    after = course(interval(new, Meaning.NOT_LATER_THAN, **more), CHANGE, [], before)
    assert after is not None
    return before, after


@given(
    st.sampled_from(LENGTHS),
    st.sampled_from(LENGTHS),
    st.lists(st.integers(0, 1795), max_size=6),
    st.sampled_from(["visit", "due_date"]),
)
def test_a_changed_interval_puts_off_nothing_owed_and_makes_nobody_overdue(
    old: str, new: str, days: list[int], next_from: str
) -> None:
    """Whoever was not overdue is not so by the change; a shorter interval, or one whose due days
    stand fixed, is never owed later than the one before it was.
    """
    visits = sorted(START + timedelta(days=day) for day in days)
    before, after = changed(old, new, visits, next_from=next_from)
    if before.window.closes_on >= CHANGE:
        assert after.window.closes_on >= CHANGE
    if LENGTHS.index(new) <= LENGTHS.index(old) or next_from == "due_date":
        assert after.window.due_on <= before.window.due_on
    assert after.last_on == before.last_on


@pytest.mark.parametrize(
    ("visit", "next_from", "due", "late"),
    [
        ("2026-03-05", "visit", "2026-09-05", True),
        ("2026-02-27", "visit", "2026-08-27", False),
        ("2026-03-05", "due_date", "2026-07-01", True),
        ("2026-07-01", "due_date", "2027-01-01", False),
    ],
)
def test_what_was_owed_before_a_change_is_met_by_the_next_visit(
    visit: str, next_from: str, due: str, *, late: bool
) -> None:
    """Yearly, last on 1 March 2025, made half-yearly on 1 January 2026: still due on 1 March."""
    old = replace(NO_LATER, next_from=next_from)
    before = course(old, date(2024, 3, 1), [date(2025, 3, 1)])
    new = replace(old, every="P6M")
    unmet = course(new, CHANGE, [], before)
    assert unmet is not None
    assert str(unmet.window.due_on) == "2026-03-01"
    met = course(new, CHANGE, [date.fromisoformat(visit)], before)
    assert met is not None
    assert (str(met.window.due_on), met.last_was_late) == (due, late)


ACCORDION = {"door_type": "accordion", "operation": "power", "fire_door": True}
TIGHTER = """
[jurisdiction]
code = "us-xx-springfield"
parent = "us"
name = "Springfield"
kind = "city"
authority = "Fire Prevention Bureau"

[[tighten]]
target = "nfpa-80/inspection/yearly"
from = 2026-01-01
until = 2026-12-31
every = "P6M"
citation = { publication = "Ordinance 7", edition = "2025", clause = "3" }
standing = "verified"

[[relax]]
target = "nfpa-80/inspection/yearly"
from = 2027-01-01
every = "P2Y"
citation = { publication = "Ordinance 9", edition = "2026", clause = "1" }
standing = "verified"
"""


def yearly(last: str | None, on: str, installed: str = "2019-05-01") -> tuple[str, str]:
    """When the inspection is due in that town, and its state."""
    history = [{"activity": "periodic_inspection", "on": last}] if last else []
    found = duties(
        facts={**ACCORDION, "installed_on": installed},
        jurisdiction="us",
        history=history,
        on=date.fromisoformat(on),
        layers=[parse_layer(TIGHTER)],
    )
    (one,) = [d for d in found if d["requirement"] == "nfpa-80-2013/inspection/yearly"]
    return one["due_on"], one["state"]


@pytest.mark.parametrize(
    ("last", "on", "expected"),
    [
        (None, "2026-01-02", ("2020-05-01", "overdue")),
        ("2024-03-01", "2026-01-02", ("2025-03-01", "overdue")),  # overdue before, overdue still
        ("2025-03-01", "2026-01-02", ("2026-03-01", "open")),  # half a year had passed: not overdue
        ("2025-09-01", "2026-01-02", ("2026-03-01", "open")),  # counted by the new interval
        ("2025-09-01", "2025-12-31", ("2026-09-01", "open")),  # the day before, by the old one
        ("2026-01-01", "2026-01-02", ("2026-07-01", "open")),
        ("2024-03-01", "2027-02-01", ("2025-03-01", "overdue")),  # through both changes
        ("2026-03-01", "2027-02-01", ("2028-03-01", "open")),
    ],
)
def test_a_town_that_changes_how_often_forgives_no_overdue_door(
    last: str | None, on: str, expected: tuple[str, str]
) -> None:
    """Yearly, half-yearly from 2026, every two years from 2027."""
    assert yearly(last, on) == expected


def test_a_door_installed_after_the_change_knows_no_other_interval() -> None:
    """Counted from its own installation by the interval of its day."""
    assert yearly(None, "2026-05-02", "2026-05-01") == ("2026-11-01", "open")
