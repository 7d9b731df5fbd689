"""Calendar arithmetic against dateutil, and windows against those printed by others.

W-numbers are those of the project's table of worked examples.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from rules.intervals import Period, add, window_after, window_from_start
from rules.model import IntervalSpec
from rules.vocabulary import Activity, Meaning

WITHIN_TEN_DAYS: dict[str, Any] = {"early": "P10D", "late": "P10D"}


@given(
    st.dates(date(1900, 1, 1), date(2200, 12, 31)),
    st.integers(0, 600),
    st.integers(0, 2000),
    st.sampled_from([1, -1]),
)
def test_additions_agree_with_dateutil(day: date, months: int, days: int, sign: int) -> None:
    """python-dateutil's relativedelta, an independent implementation: equal for every day."""
    expected = day + relativedelta(months=sign * months, days=sign * days)
    assert add(day, Period(months, days), sign) == expected


@given(st.dates(date(1900, 1, 1), date(2200, 12, 31)), st.integers(1, 24), st.integers(1, 60))
def test_anchored_intervals_agree_with_dateutil(day: date, months: int, times: int) -> None:
    """Several intervals from one anchor: relativedelta multiplied, then added once."""
    assert add(day, Period(months), times) == day + relativedelta(months=months) * times


@pytest.mark.parametrize(
    ("meaning", "opens", "closes"),
    [
        (Meaning.FROM_DATE, date(2015, 6, 5), date(2015, 6, 25)),  # W14
        (Meaning.FROM_MONTH, date(2015, 5, 21), date(2015, 7, 10)),  # W15
    ],
)
def test_the_two_printed_readings_of_quarterly_within_ten_days(
    meaning: Meaning, opens: date, closes: date
) -> None:
    """W14, W15: last test 15 March. Secondary: keyeslifesafety.com on quarterly testing,
    23 December 2015, which prints both windows; the month-based one is called unofficial there.
    """
    spec = IntervalSpec(Activity.OPERATION_TEST, "P3M", meaning, **WITHIN_TEN_DAYS)
    window = window_after(date(2015, 3, 15), spec)
    assert (window.opens_on, window.closes_on) == (opens, closes)


@pytest.mark.parametrize(("every", "due"), [("P3M", date(2023, 4, 23)), ("P1Y", date(2024, 1, 23))])
def test_the_first_checks_after_the_english_regulations_began(every: str, due: date) -> None:
    """W16: in force on 23 January 2023, first quarterly check by 23 April 2023, first yearly one
    by 23 January 2024. Secondary: devonshires.com on the Fire Safety (England) Regulations 2022.
    """
    spec = IntervalSpec(Activity.OPERATION_TEST, every, Meaning.NOT_LATER_THAN)
    assert window_from_start(date(2023, 1, 23), spec).due_on == due
