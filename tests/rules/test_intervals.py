"""Durations, month arithmetic and the windows that each meaning of an interval opens."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import load
from rules.errors import InputError
from rules.intervals import Period, Window, add, parse_period, window_after, window_from_start
from rules.model import IntervalSpec
from rules.vocabulary import Activity, Meaning

DAYS = st.dates(min_value=date(1950, 1, 1), max_value=date(2150, 12, 31))
MEANINGS = st.sampled_from([m for m in Meaning if m is not Meaning.CALENDAR_PERIOD])


def interval(meaning: Meaning, every: str = "P3M", **tolerance: Any) -> IntervalSpec:
    """An interval of an operation test."""
    return IntervalSpec(Activity.OPERATION_TEST, every, meaning, **tolerance)


@pytest.mark.parametrize(
    ("text", "period"),
    [
        ("P1Y", Period(months=12)),
        ("P3M", Period(months=3)),
        ("P1W", Period(days=7)),
        ("P10D", Period(days=10)),
        ("P1Y6M", Period(months=18)),
        ("P2Y1M1W3D", Period(months=25, days=10)),
    ],
)
def test_a_duration_is_read(text: str, period: Period) -> None:
    """Years are twelve months, weeks seven days; the parts add up."""
    assert parse_period(text) == period


@pytest.mark.parametrize(
    "text",
    [
        *("", "P", "3M", "P3", "PM", "P1.5Y", "P-1M", "-P1M", "PT5M", "P1DT5H", "P0D", "P0Y"),
        *("P1M1Y", "p1y", " P1Y", "P1Y ", "P1Y\n", "P٣M", "P99999Y"),
    ],
)
def test_what_is_no_duration_is_refused_at_its_place(text: str) -> None:
    """Hours, fractions, signs, nothing, wrong order and foreign digits are refused by pointer."""
    with pytest.raises(InputError) as refused:
        parse_period(text, "/add/0/every")
    assert [p.pointer for p in refused.value.problems] == ["/add/0/every"]


@pytest.mark.parametrize(
    ("day", "text", "times", "expected"),
    [
        (date(2028, 2, 29), "P1Y", 1, date(2029, 2, 28)),
        (date(2028, 2, 29), "P1Y", 4, date(2032, 2, 29)),  # counted from the anchor: back to 29
        (date(2029, 2, 28), "P1Y", 3, date(2032, 2, 28)),  # counted from the visit: stays 28
        (date(2027, 1, 31), "P1M", 1, date(2027, 2, 28)),
        (date(2027, 1, 31), "P1M", 2, date(2027, 3, 31)),  # not 28 March: one step, not two
        (date(2027, 3, 31), "P1M", -1, date(2027, 2, 28)),
        (date(2026, 11, 30), "P3M", 1, date(2027, 2, 28)),
        (date(2026, 12, 31), "P1M1D", 1, date(2027, 2, 1)),  # months first, then days
        (date(2026, 3, 15), "P2W", 1, date(2026, 3, 29)),
    ],
)
def test_months_are_added_by_the_calendar(day: date, text: str, times: int, expected: date) -> None:
    """A day the target month lacks becomes its last; several intervals are one step."""
    assert add(day, parse_period(text), times) == expected


@pytest.mark.parametrize("times", [1, -1])
def test_the_end_of_the_calendar_is_an_error_not_a_crash(times: int) -> None:
    """Beyond the years 1 to 9999 an addition is refused."""
    with pytest.raises(InputError):
        add(date.max if times > 0 else date.min, Period(days=1), times)
    with pytest.raises(InputError):
        add(date.max if times > 0 else date.min, Period(months=1), times)


@given(DAYS, st.integers(1, 240), st.integers(-40, 40))
def test_the_day_of_the_month_is_kept_where_the_month_has_it(
    day: date, months: int, times: int
) -> None:
    """The target month is right, and the day is the same or the last of a shorter month."""
    moved = add(day, Period(months=months), times)
    assert (moved.year - day.year) * 12 + moved.month - day.month == months * times
    last_of_month = (moved + timedelta(days=1)).day == 1
    assert moved.day == day.day or (moved.day < day.day and last_of_month)


@given(DAYS, DAYS, st.integers(1, 60))
def test_adding_months_keeps_the_order_of_days(one: date, other: date, months: int) -> None:
    """An earlier visit never leads to a later due day."""
    first, second = sorted((one, other))
    assert add(first, Period(months=months)) <= add(second, Period(months=months))


@pytest.mark.parametrize(
    ("spec", "window"),
    [
        (interval(Meaning.NOT_LATER_THAN), ("2026-03-16", "2026-06-15", "2026-06-15")),
        (
            interval(Meaning.NOT_LATER_THAN, late="P1M"),
            ("2026-03-16", "2026-06-15", "2026-07-15"),
        ),
        (
            interval(Meaning.FROM_DATE, early="P10D", late="P10D"),
            ("2026-06-05", "2026-06-15", "2026-06-25"),
        ),
        (
            interval(Meaning.FROM_MONTH, early="P10D", late="P10D"),
            ("2026-05-21", "2026-06-30", "2026-07-10"),
        ),
        (interval(Meaning.FROM_MONTH), ("2026-03-16", "2026-06-30", "2026-06-30")),
        (interval(Meaning.CALENDAR_PERIOD), ("2026-04-01", "2026-06-30", "2026-06-30")),
        (
            interval(Meaning.CALENDAR_PERIOD, late="P10D"),
            ("2026-04-01", "2026-06-30", "2026-07-10"),
        ),
        (
            interval(Meaning.BETWEEN, least="P2M", greatest="P4M"),
            ("2026-05-15", "2026-06-15", "2026-07-15"),
        ),
    ],
)
def test_the_meanings_of_quarterly_differ_after_15_march(
    spec: IntervalSpec, window: tuple[str, str, str]
) -> None:
    """One word, one visit, and a different window for each publisher's meaning."""
    assert window_after(date(2026, 3, 15), spec) == Window(*map(date.fromisoformat, window))


@pytest.mark.parametrize(
    ("every", "opens", "closes"),
    [
        ("P1W", "2026-03-16", "2026-03-22"),  # 15 March 2026 is a Sunday
        ("P7D", "2026-03-16", "2026-03-22"),
        ("P1M", "2026-04-01", "2026-04-30"),
        ("P2M", "2026-05-01", "2026-06-30"),
        ("P4M", "2026-05-01", "2026-08-31"),
        ("P6M", "2026-07-01", "2026-12-31"),
        ("P1Y", "2027-01-01", "2027-12-31"),
    ],
)
def test_a_calendar_period_is_the_next_whole_one(every: str, opens: str, closes: str) -> None:
    """Weeks run from Monday to Sunday, parts of a year from January."""
    window = window_after(date(2026, 3, 15), interval(Meaning.CALENDAR_PERIOD, every))
    assert (str(window.opens_on), str(window.closes_on)) == (opens, closes)


@pytest.mark.parametrize(
    ("spec", "pointer"),
    [
        (interval(Meaning.NOT_LATER_THAN, "PT4H"), "/every"),
        (interval(Meaning.CALENDAR_PERIOD, "PT4H"), "/every"),
        (interval(Meaning.FROM_DATE, early="P1H"), "/early"),
        (interval(Meaning.FROM_DATE, late="ten days"), "/late"),
        (interval(Meaning.FROM_DATE, "P1W", early="P10D"), "/early"),
        (interval(Meaning.BETWEEN, least="P7M", greatest="P4M"), "/least"),
        (interval(Meaning.BETWEEN, least="P4M", greatest="P6M"), "/least"),
        (interval(Meaning.BETWEEN, least="", greatest="P4M"), "/least"),
        (interval(Meaning.BETWEEN, least="P2M", greatest=""), "/greatest"),
    ],
)
def test_an_interval_that_cannot_be_counted_is_refused_by_its_key(
    spec: IntervalSpec, pointer: str
) -> None:
    """Hours, tolerances longer than the interval, and bounds in the wrong order."""
    with pytest.raises(InputError) as refused:
        window_after(date(2026, 3, 15), spec)
    assert [p.pointer for p in refused.value.problems] == [pointer]


def test_every_interval_of_the_packaged_data_can_be_counted() -> None:
    """No requirement that ships asks for a window that does not exist."""
    specs = [
        requirement.spec
        for publication in load().publications.values()
        for requirement in publication.every
        if isinstance(requirement.spec, IntervalSpec) and not requirement.spec.after
    ]
    assert len(specs) > 30
    for spec in specs:
        assert window_after(date(2028, 2, 29), spec).due_on > date(2028, 2, 29)


@pytest.mark.parametrize("every", ["P5M", "P2Y", "P10D", "P1M1D"])
def test_a_calendar_period_must_divide_a_year(every: str) -> None:
    """There is no calendar period of five months, ten days or two years."""
    with pytest.raises(InputError, match="calendar period"):
        window_after(date(2026, 3, 15), interval(Meaning.CALENDAR_PERIOD, every))


@pytest.mark.parametrize(
    ("every", "start", "window"),
    [
        ("P3M", "2026-04-01", ("2026-04-01", "2026-06-30")),
        ("P3M", "2026-04-02", ("2026-07-01", "2026-09-30")),
        ("P1W", "2026-03-16", ("2026-03-16", "2026-03-22")),  # a Monday
        ("P1W", "2026-03-17", ("2026-03-23", "2026-03-29")),
    ],
)
def test_a_cut_calendar_period_is_not_owed(every: str, start: str, window: tuple[str, str]) -> None:
    """A rule that starts inside a quarter or week is owed from the first whole one."""
    spec = interval(Meaning.CALENDAR_PERIOD, every)
    first = window_from_start(date.fromisoformat(start), spec)
    assert (str(first.opens_on), str(first.due_on)) == window


@given(DAYS, MEANINGS, st.integers(2, 36))
def test_a_window_opens_before_it_is_due_and_closes_after(
    last: date, meaning: Meaning, months: int
) -> None:
    """Opens, due and closes stand in order, all after the visit they are counted from."""
    spec = interval(
        meaning,
        f"P{months}M",
        early="P10D",
        late="P10D",
        least=f"P{months - 1}M",
        greatest=f"P{months + 1}M",
    )
    window = window_after(last, spec)
    assert last < window.opens_on <= window.due_on <= window.closes_on


@given(DAYS, st.sampled_from(["P1W", "P1M", "P2M", "P3M", "P4M", "P6M", "P1Y"]))
def test_calendar_periods_follow_one_another_without_a_gap(last: date, every: str) -> None:
    """Every day of the window leads to the same next window, which opens the day after."""
    spec = interval(Meaning.CALENDAR_PERIOD, every)
    window = window_after(last, spec)
    assert window.opens_on - last <= window.closes_on - window.opens_on + timedelta(days=31)
    after_first = window_after(window.opens_on, spec)
    assert after_first == window_after(window.closes_on, spec)
    assert after_first.opens_on == window.closes_on + timedelta(days=1)
