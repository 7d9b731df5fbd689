"""Windows of repeated work against windows built from python-dateutil alone.

dateutil is other people's code; which window a publisher means is stated in the project's table of
tolerance definitions (NFPA 25-2020, 3.7.1: secondary; the accreditor's tolerances: secondary).
Every run draws other days; 10,000 of them agreed when this was written.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from dateutil.relativedelta import MO, SU, relativedelta
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rules import duties
from rules.intervals import Window, window_after, window_from_start
from rules.model import IntervalSpec
from rules.vocabulary import Activity, Meaning

DAYS = st.dates(date(1950, 1, 1), date(2150, 12, 31))
TEST = Activity.OPERATION_TEST
MONTH_END = relativedelta(day=31)
MONTH_START = relativedelta(day=1)


def delta(text: str) -> relativedelta:
    """What dateutil calls that duration."""
    count = int(text[1:-1])
    match text[-1]:
        case "Y":
            return relativedelta(years=count)
        case "M":
            return relativedelta(months=count)
        case "W":
            return relativedelta(weeks=count)
        case _:
            return relativedelta(days=count)


def from_date(last: date, every: str, early: str, late: str) -> Window:
    """The interval after the date of the last one, a tolerance each way."""
    due = last + delta(every)
    return Window(due - delta(early), due, due + delta(late))


def from_month(last: date, every: str, early: str, late: str) -> Window:
    """The month in which the interval is over, a tolerance at both of its ends."""
    due = last + delta(every)
    first, end = due + MONTH_START, due + MONTH_END
    return Window(first - relativedelta(days=1) - delta(early), end, end + delta(late))


@settings(max_examples=250)
@given(
    DAYS,
    st.sampled_from([(Meaning.FROM_DATE, from_date), (Meaning.FROM_MONTH, from_month)]),
    st.sampled_from(["P1M", "P3M", "P6M", "P1Y", "P3Y", "P5Y"]),
    st.sampled_from(["P1D", "P10D", "P20D"]),
    st.sampled_from(["P10D", "P20D", "P1M", "P45D"]),
)
def test_date_and_month_with_a_tolerance(
    last: date,
    meaning: tuple[Meaning, Callable[[date, str, str, str], Window]],
    every: str,
    early: str,
    late: str,
) -> None:
    """From any day on, ends of months and 29 February among them."""
    word, theirs = meaning
    spec, expected = (
        IntervalSpec(TEST, every, word, early=early, late=late),
        theirs(last, every, early, late),
    )
    assume(last < expected.opens_on)  # else it is refused: nobody can be asked to come before
    assert window_after(last, spec) == expected


@settings(max_examples=150)
@given(DAYS, st.sampled_from([(2, 3, 4), (4, 6, 8), (9, 12, 15), (30, 36, 40), (54, 60, 66)]))
def test_between_a_least_and_a_greatest_number_of_months(
    last: date, months: tuple[int, int, int]
) -> None:
    """Quarterly 2 to 4 months, half-yearly 4 to 8, yearly 9 to 15, and the two longer ones."""
    least, every, greatest = (f"P{number}M" for number in months)
    spec = IntervalSpec(TEST, every, Meaning.BETWEEN, least=least, greatest=greatest)
    expected = Window(*(last + relativedelta(months=number) for number in months))
    assert window_after(last, spec) == expected


@settings(max_examples=150)
@given(DAYS, st.sampled_from([1, 2, 3, 4, 6, 12]))
def test_calendar_months_quarters_and_years(last: date, months: int) -> None:
    """The next calendar period: found by stepping through the year's periods from January."""
    first = last + relativedelta(month=1, day=1)
    while first <= last:
        first += relativedelta(months=months)
    expected = Window(first, *[first + relativedelta(months=months, days=-1)] * 2)
    spec = IntervalSpec(TEST, f"P{months}M", Meaning.CALENDAR_PERIOD)
    assert window_after(last, spec) == expected


@settings(max_examples=100)
@given(DAYS)
def test_calendar_weeks(last: date) -> None:
    """The next week runs from dateutil's next Monday to the Sunday after it."""
    monday = last + relativedelta(days=1, weekday=MO)
    sunday = monday + relativedelta(weekday=SU)
    spec = IntervalSpec(TEST, "P1W", Meaning.CALENDAR_PERIOD)
    assert window_after(last, spec) == Window(monday, sunday, sunday)


@settings(max_examples=150)
@given(DAYS, st.sampled_from(["P1D", "P1W", "P1M", "P3M", "P6M", "P1Y", "P4Y", "P5Y"]))
def test_not_later_than(last: date, every: str) -> None:
    """From the next day on, and no later than the interval after it: A22's 29 February as well."""
    due = last + delta(every)
    spec = IntervalSpec(TEST, every, Meaning.NOT_LATER_THAN)
    assert window_after(last, spec) == Window(last + relativedelta(days=1), due, due)
    assert window_from_start(last, spec) == Window(last, due, due)


@pytest.mark.parametrize(
    ("fact", "due"), [({"communal": True}, "2023-04-23"), ({"flat_entrance": True}, "2024-01-23")]
)
def test_the_english_regulations_through_the_verb(fact: dict[str, bool], due: str) -> None:
    """W16 whole: an old door in flats above 11 m in England, nothing on record, on 1 February
    2023. Secondary: devonshires.com on the Fire Safety (England) Regulations 2022.
    """
    facts = {
        "door_type": "swinging",
        "fire_door": True,
        "flats": True,
        "building_height": {"value": "18", "unit": "m"},
        "communal": False,
        "flat_entrance": False,
        "installed_on": "2001-05-01",
        **fact,
    }
    owed = duties(facts=facts, jurisdiction="gb-eng", history=[], on=date(2023, 2, 1))
    found = [one for one in owed if str(one["requirement"]).startswith("fire-safety-england")]
    assert [(one["due_on"], one["state"], one["opens_on"]) for one in found] == [
        (due, "open", "2023-01-23")
    ]
