"""Measurements against NumPy and SciPy, which know nothing of ours."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage, stats

from rules import measure
from tests.rules.courses import trace


@pytest.mark.parametrize("seed", range(10))
def test_the_speed_of_an_even_motion_is_scipys_slope(seed: int) -> None:
    """SciPy's linregress through samples of a door that moves evenly from end to end: the same
    speed within a tenth of our uncertainty, and two of its standard errors within our U.
    """
    draw = np.random.default_rng(seed)
    times = np.arange(120) / 20
    positions = draw.uniform(152, 610) * times + draw.normal(0, 2, len(times))
    answer = measure(trace(np.column_stack([times, positions]).tolist()))
    (found,) = (r for r in answer["readings"] if r["quantity"] == "closing_speed")
    line = stats.linregress(times, positions)
    assert abs(float(found["value"]) - line.slope) <= 0.1 * float(found["uncertainty"])
    assert float(found["uncertainty"]) >= 2 * line.stderr * 0.8


@pytest.mark.parametrize("seed", range(10))
def test_the_peak_of_a_push_is_that_of_scipys_running_mean(seed: int) -> None:
    """SciPy's uniform_filter1d over five samples at a hundred a second, 50 ms: its maximum."""
    draw = np.random.default_rng(seed)
    times = np.arange(300) / 100
    forces = 20 + 100 * np.exp(-(((times - 1.5) / 0.4) ** 2)) + draw.normal(0, 0.5, len(times))
    rows = np.column_stack([times, forces]).tolist()
    answer = measure({"kind": "force", "units": {"t": "s", "force": "N"}, "samples": rows})
    smooth = ndimage.uniform_filter1d(forces, 5)
    assert float(answer["readings"][0]["value"]) == pytest.approx(smooth.max(), rel=1e-4)


@pytest.mark.parametrize("falls", [0.05, 0.1, 0.4])
def test_the_time_to_the_threshold_is_numpys_interpolation(falls: float) -> None:
    """NumPy's interp of the hours at 11 V, for a voltage that falls evenly without noise."""
    hours = np.arange(0, 60, 0.25)
    volts = 12.6 - falls * hours
    answer = measure(
        {
            "kind": "battery",
            "units": {"t": "h", "volts": "V"},
            "samples": np.column_stack([hours, np.maximum(volts, 0)]).tolist(),
            "close_threshold": {"value": "11", "unit": "V"},
        }
    )
    expected = float(np.interp(-11, -volts, hours))
    assert float(answer["readings"][0]["value"]) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("seed", range(10))
def test_the_crossing_is_where_scipys_line_meets_the_limit(seed: int) -> None:
    """SciPy's theilslopes: (limit - intercept) / slope."""
    draw = np.random.default_rng(seed)
    times = np.arange(12.0)
    values = np.round(20 + draw.uniform(0.3, 2) * times + draw.normal(0, 0.5, 12), 3)
    points = [{"t": f"{t}", "value": f"{v}"} for t, v in zip(times, values, strict=True)]
    sent = {"kind": "series", "quantity": "set_in_motion_force", "unit": "lbf", "points": points}
    (forecast,) = measure({**sent, "high": {"value": "60", "unit": "lbf"}})["forecasts"]
    line = stats.theilslopes(values, times)
    assert float(forecast["crosses"]) == pytest.approx((60 - line.intercept) / line.slope, rel=1e-4)
