"""Trends of past readings, and when they will cross a limit."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import measure
from rules.errors import InputError


def series(points: list[dict], **more: object) -> dict:
    """What the library says of a series of forces in pounds."""
    sent = {"kind": "series", "quantity": "set_in_motion_force", "unit": "lbf", "points": points}
    return measure({**sent, **more})


def yearly(*values: float, first: int = 2015) -> list[dict]:
    """One reading every first of March."""
    return [{"on": f"{first + n}-03-01", "value": f"{value}"} for n, value in enumerate(values)]


THIRTY = {"value": "30", "unit": "lbf"}


def test_a_rising_force_is_forecast_to_cross_its_limit() -> None:
    """20 lbf in 2015 and 1 lbf more each year pass 30 lbf in March 2025."""
    answer = series(yearly(*range(20, 27)), high=THIRTY, before="2026-01-01")
    assert float(answer["trend"]["slope"]) == pytest.approx(1, rel=1e-3)
    (forecast,) = answer["forecasts"]
    crosses = date.fromisoformat(forecast["crosses"])
    assert abs(crosses - date(2025, 3, 1)) < timedelta(days=3)
    assert (forecast["expected_before"], forecast["possible_before"]) == (True, True)
    later = series(yearly(*range(20, 27)), high=THIRTY, before="2025-01-01")["forecasts"][0]
    assert (later["expected_before"], later["possible_before"]) == (False, False)


def test_a_falling_value_crosses_the_lower_limit_and_never_the_upper() -> None:
    """Each limit has its own forecast; the one the trend leads away from has no day."""
    answer = series(
        yearly(28, 27, 26, 25, 24, 23, 22), low={"value": "20", "unit": "lbf"}, high=THIRTY
    )
    low, high = answer["forecasts"]
    assert (low["limit"], low["crosses"][:4]) == ("low", "2023")
    assert (high["limit"], high["crosses"]) == ("high", None)


def test_a_limit_may_be_in_another_unit() -> None:
    """30 lbf written in newtons is crossed on the same day."""
    points = yearly(*range(20, 27))
    pounds = series(points, high=THIRTY)["forecasts"]
    newtons = series(points, high={"value": "133.446648457815", "unit": "N"})["forecasts"]
    assert pounds == newtons


def test_the_interval_of_the_crossing_holds_the_truth() -> None:
    """Ten years of readings with a scatter of 1 lbf about a known line: of 200 such series at
    least 90 % have the true day between the earliest and the latest.
    """
    draw = random.Random(11)
    held = 0
    for _ in range(200):
        rise = draw.uniform(0.5, 1.5)
        values = [15 + rise * n + draw.gauss(0, 1) for n in range(10)]
        answer = series(yearly(*(round(v, 3) for v in values)), high=THIRTY)
        (forecast,) = answer["forecasts"]
        truth = date(2015, 3, 1) + timedelta(days=365.2425 * 15 / rise)
        earliest, latest = forecast["earliest"], forecast["latest"]
        held += date.fromisoformat(earliest) <= truth and (
            latest is None or truth <= date.fromisoformat(latest)
        )
    assert held / 200 >= 0.9


def test_without_a_trend_a_crossing_is_possible_but_not_significant() -> None:
    """Scatter alone: the interval reaches both ways, and the test says so."""
    answer = series(yearly(22, 25, 21, 24, 23, 22, 24, 23), high=THIRTY, before="2300-01-01")
    assert answer["trend"]["significant"] is False
    assert answer["forecasts"][0]["latest"] is None


def test_few_readings_have_a_slope_and_no_interval() -> None:
    """Five are too few for 95 %: what is possible is then not said."""
    answer = series(yearly(20, 21, 22, 23, 24), high=THIRTY, before="2026-01-01")
    assert (answer["trend"]["low"], answer["trend"]["high"]) == (None, None)
    assert answer["forecasts"][0]["expected_before"] is True
    assert answer["forecasts"][0]["possible_before"] is None


def test_one_wild_reading_changes_little() -> None:
    """A typing error of 230 lbf among seven readings leaves the crossing within a year."""
    clean = series(yearly(*range(20, 27)), high=THIRTY)["forecasts"][0]["crosses"]
    wild = series(yearly(20, 21, 22, 230, 24, 25, 26), high=THIRTY)["forecasts"][0]["crosses"]
    assert abs(date.fromisoformat(clean) - date.fromisoformat(wild)) < timedelta(days=366)


def test_a_crossing_beyond_the_calendar_has_no_day() -> None:
    """A slope of almost nothing leads past the year 9999."""
    values = [20 + n * 1e-4 for n in range(8)]
    assert series(yearly(*values), high=THIRTY)["forecasts"][0]["crosses"] is None


def test_plain_times_are_taken_as_they_are() -> None:
    """Numbers instead of days, in any order: slope for one unit of time."""
    points = [{"t": t, "value": 10 + 2 * t} for t in (3, 1, 2, 0, 5, 4, 6)]
    answer = series(points, high=THIRTY, before="9")
    assert (answer["trend"]["slope"], answer["trend"]["per"]) == ("2", "time")
    assert answer["forecasts"][0]["crosses"] == "10"
    assert answer["forecasts"][0]["expected_before"] is False


@given(st.lists(st.integers(0, 1000), min_size=3, max_size=20, unique=True), st.randoms())
def test_the_order_of_the_readings_does_not_matter(days: list[int], draw: random.Random) -> None:
    """However the readings are sent, the trend is the same."""
    points = [
        {"on": str(date(2020, 1, 1) + timedelta(days=day)), "value": str(20 + day % 7)}
        for day in days
    ]
    shuffled = list(points)
    draw.shuffle(shuffled)
    assert series(points, high=THIRTY) == series(shuffled, high=THIRTY)


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"points": []}, "/points", "not_a_list"),
        ({"points": yearly(20, 21)}, "/points", "too_few"),
        ({"points": [{"on": "2020-01-01", "value": "1"}] * 3}, "/points", "too_few"),
        ({"points": yearly(*range(20, 1030), first=1000)}, "/points", "too_many"),
        ({"points": [*yearly(20, 21, 22), 7]}, "/points/3", "not_an_object"),
        ({"points": [*yearly(20, 21, 22), {"t": 1, "value": "2"}]}, "/points/3/t", "unknown_field"),
        (
            {"points": [*yearly(20, 21), {"on": "2021-02-29", "value": "2"}]},
            "/points/2/on",
            "not_a_date",
        ),
        ({"points": [*yearly(20, 21), {"on": "2021-02-28"}]}, "/points/2/value", "not_a_number"),
        ({"points": yearly(20, 21, -3)}, "/points/2/value", "out_of_range"),
        ({"quantity": "charm"}, "/quantity", "unknown_quantity"),
        ({"quantity": None}, "/quantity", "unknown_quantity"),
        ({"unit": "in/s"}, "/unit", "wrong_dimension"),
        ({"high": {"value": "30", "unit": "s"}}, "/high/unit", "wrong_dimension"),
        ({"before": "next year"}, "/before", "not_a_date"),
    ],
)
def test_a_wrong_series_is_refused_by_its_place(change: dict, pointer: str, code: str) -> None:
    """Points, limits and names by their pointer."""
    with pytest.raises(InputError) as refused:
        series(**{"points": yearly(20, 21, 22), **change})
    assert pointer in [p.pointer for p in refused.value.problems]
    assert code in [p.code for p in refused.value.problems]


def test_a_limit_already_passed_is_told_with_its_interval_in_order() -> None:
    """31 lbf in 2015 and rising: passed, in 2014, the earliest day before the latest."""
    (forecast,) = series(yearly(*range(31, 38)), high=THIRTY, before="2026-01-01")["forecasts"]
    assert forecast["passed"] is True
    assert forecast["earliest"] <= forecast["crosses"] <= forecast["latest"]
    assert (forecast["expected_before"], forecast["possible_before"]) == (True, True)


def test_a_value_past_its_limit_that_comes_back_is_still_past_it() -> None:
    """37 lbf and falling, 31 lbf at last: no crossing outward, and yet passed."""
    (forecast,) = series(yearly(*range(37, 30, -1)), high=THIRTY, before="2026-01-01")["forecasts"]
    assert (forecast["passed"], forecast["crosses"]) == (True, None)
    assert (forecast["expected_before"], forecast["possible_before"]) == (True, True)


def test_exactly_at_the_limit_is_not_past_it() -> None:
    """30 lbf against at most 30 lbf."""
    assert series(yearly(*range(24, 31)), high=THIRTY)["forecasts"][0]["passed"] is False


def test_readings_that_are_all_one_never_cross() -> None:
    """No slope, no day, no trend."""
    answer = series(yearly(*[20] * 8), high=THIRTY, before="2030-01-01")
    assert (answer["trend"]["slope"], answer["trend"]["significant"]) == ("0", False)
    assert answer["forecasts"][0]["expected_before"] is False
