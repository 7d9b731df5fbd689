"""Trends against published series and against SciPy.

W-numbers are those of the project's table of worked examples.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

import rules
from rules.measurement.trend import Trend, trend_of

W19 = [10.0, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]
W23_TIMES = [
    *(89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6),
    *(93.1, 93.6, 94.1, 94.6, 95.1, 95.6, 95.8, 96.1, 96.3, 96.6, 96.8),
]
W23 = [
    *(480.0, 450, 490, 520, 485, 510, 510, 530, 510, 560, 560, 540),
    *(590, 550, 600, 700, 570, 610, 650, 620, 830, 720, 590),
]
W25 = [3.0, 2, 13, 6, 1, 5, 15, 7, 10, 4, 9, 11, 8, 12, 14, 16]


def known(times: list[float], values: list[float]) -> Trend:
    """The trend, which must be told."""
    trend = trend_of(times, values)
    assert trend is not None
    return trend


def test_the_mann_kendall_example_of_epa_qa_g_9s() -> None:
    """W19: S = 22, variance 155.33, Z = 1.685 with two groups of ties. Secondary: EPA QA/G-9S,
    page 109, as quoted by help.earthsoft.com; recomputed equal.
    """
    trend = known([float(n) for n in range(11)], W19)
    assert trend.score == 22
    assert trend.variance == pytest.approx(155.33, abs=0.005)
    assert trend.z == pytest.approx(1.685, abs=0.0005)


def test_the_line_passes_through_both_medians() -> None:
    """W20: slope 1.0 of 55 pairs, intercept 10.0 for the same series. The rule for the intercept
    is that of SciPy's documentation of theilslopes; the figures were computed with it.
    """
    times = [float(n) for n in range(11)]
    trend, scipy = known(times, W19), stats.theilslopes(W19, times)
    assert (trend.slope, trend.intercept) == (1.0, 10.0)
    assert (scipy.slope, scipy.intercept) == (1.0, 10.0)


@pytest.mark.parametrize(
    ("values", "slope"), [([5.0, 6, 11, 8, 10], 1.125), ([10.0, 15, 14, 20], 2.91667)]
)
def test_slopes_of_two_short_series(values: list[float], slope: float) -> None:
    """W21: slopes 1.125 and 2.91667. Computed by hand, not published; SciPy's theilslopes is the
    second opinion.
    """
    times = [float(n) for n in range(1, len(values) + 1)]
    assert stats.theilslopes(values, times).slope == pytest.approx(slope, abs=5e-6)
    assert known(times, values).slope == pytest.approx(stats.theilslopes(values, times).slope)


def test_example_17_6_of_epa_530_r_09_007() -> None:
    """W23: slope 26.6666667, intercept -1909.3333333, z 5.107322 and the 95 % interval of the
    slope, 20.00000 to 35.71182. Secondary: EPA 530/R-09-007, example 17-6, as printed on the help
    page of kendallTrendTest in CRAN EnvStats 3.1.0.
    """
    trend = known(W23_TIMES, W23)
    assert trend.slope == pytest.approx(26.6666667, abs=5e-8)
    assert trend.intercept == pytest.approx(-1909.3333333, abs=5e-8)
    assert trend.z == pytest.approx(5.107322, abs=5e-7)
    assert trend.low == pytest.approx(20.0, abs=5e-6)
    assert trend.high == pytest.approx(35.71182, abs=5e-6)


def test_the_tau_of_a_published_test_series() -> None:
    """W25: tau 0.483333333 for sixteen values. Secondary: the tests of the USGS package
    smwrStats; its p-value is adjusted for serial correlation and is not compared.
    """
    trend = known([float(n) for n in range(1, 17)], W25)
    assert trend.tau == pytest.approx(0.483333333, abs=5e-10)


VALUES = st.lists(st.integers(0, 40), min_size=3, max_size=30)


@settings(deadline=None)
@given(VALUES, st.integers(1, 5))
def test_slopes_and_tau_agree_with_scipy(values: list[int], apart: int) -> None:
    """SciPy's theilslopes (slope, intercept) and kendalltau (tau-b): equal for every series."""
    assume(len(set(values)) > 1)
    times = [float(n * apart) for n in range(len(values))]
    numbers = [float(value) for value in values]
    trend = known(times, numbers)
    scipy = stats.theilslopes(numbers, times)
    assert trend.slope == pytest.approx(scipy.slope)
    assert trend.intercept == pytest.approx(scipy.intercept)
    assert trend.tau == pytest.approx(stats.kendalltau(times, numbers).statistic)


@settings(deadline=None)
@given(st.permutations(list(range(9))))
def test_the_exact_probability_agrees_with_scipy(order: list[int]) -> None:
    """Without ties, SciPy's kendalltau with method="exact": the same two-sided probability."""
    times = [float(n) for n in range(9)]
    values = [float(value) for value in order]
    exact = stats.kendalltau(times, values, method="exact").pvalue
    assert known(times, values).probability == pytest.approx(exact)


@settings(deadline=None)
@given(st.lists(st.integers(0, 9), min_size=12, max_size=40), st.integers(1, 4))
def test_the_variance_with_ties_agrees_with_scipy(values: list[int], together: int) -> None:
    """SciPy's asymptotic p-value has no continuity correction; ours without it is the same."""
    assume(len(set(values)) > 1)
    times = [float(n // together) for n in range(len(values))]  # ties among the times too
    numbers = [float(value) for value in values]
    trend = known(times, numbers)
    asymptotic = stats.kendalltau(times, numbers, method="asymptotic").pvalue
    assert 2 * stats.norm.sf(abs(trend.score) / trend.variance**0.5) == pytest.approx(asymptotic)


@settings(deadline=None)
@given(st.lists(st.integers(100, 250), min_size=6, max_size=20), st.integers(20, 120))
def test_a_dated_series_crosses_where_scipys_line_does(tenths: list[int], apart: int) -> None:
    """Readings of a force by day: slope a year and the day on which the limit of 30 lbf is
    crossed, by SciPy's theilslopes over the same days.
    """
    first = date(2020, 1, 6)
    days = [first + timedelta(days=n * apart) for n in range(len(tenths))]
    values = [n / 10 for n in tenths]
    answer: Any = rules.measure(
        {
            "kind": "series",
            "quantity": "set_in_motion_force",
            "unit": "lbf",
            "points": [
                {"on": day.isoformat(), "value": str(value)}
                for day, value in zip(days, values, strict=True)
            ],
            "high": {"value": "30", "unit": "lbf"},
        }
    )
    line = stats.theilslopes(values, [float(day.toordinal()) for day in days])
    assert float(answer["trend"]["slope"]) == pytest.approx(line.slope * 365.2425, rel=1e-5)
    crosses = answer["forecasts"][0]["crosses"]
    reached = (30 - line.intercept) / line.slope if line.slope > 0 else float("inf")
    if reached > date.max.toordinal() - 1:
        assert crosses is None
    else:
        assert abs(date.fromisoformat(crosses).toordinal() - reached) <= 1
