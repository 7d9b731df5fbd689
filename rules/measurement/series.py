"""A series of past readings: is there a trend, and when will it cross the limit.

`passed` tells whether the last reading is already past the limit, whatever the line says.
The forecast runs along the Theil-Sen line from the medians; its interval comes from the slope's
95 % interval alone and says nothing about the scatter of a single reading. Where the interval
holds slopes that never reach the limit, `latest` is null; fewer than six readings have none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from rules.errors import InputError
from rules.fields import Problems, civil_date, mapping
from rules.measurands import MEASURANDS, Measurand
from rules.measurement.answer import significant
from rules.measurement.fields import Fields
from rules.measurement.trend import Trend, trend_of
from rules.quantities import Unit, exact

FIELDS = frozenset(("quantity", "unit", "points", "low", "high", "before"))
MAX_POINTS = 1000
_FEWEST = 3
_DAYS_A_YEAR = 365.2425  # the mean of the Gregorian calendar
_DIGITS = 6
_LIKELY = 0.05


@dataclass(frozen=True, slots=True)
class Series:
    """Values at times: days since 1 January of year 1 where they are dated, else plain numbers."""

    times: list[float]
    values: list[float]
    dated: bool


def measure_series(trace: Mapping[str, object]) -> dict[str, object]:
    """The trend of past readings and the forecast for each limit given."""
    fields = Fields(trace, FIELDS)
    measurand = _measurand(fields)
    symbol = fields.unit("unit", measurand.dimension)
    series = _read_points(fields)
    trend = trend_of(series.times, series.values)
    if trend is None:
        raise InputError.at("/points", "too_few", "readings of different days are needed")
    before = _before(fields, series)
    limits = {side: fields.measure(side, measurand.dimension) for side in ("low", "high")}
    return {
        "quantity": measurand.name,
        "readings": [],
        "trend": _trend_json(trend, symbol, series),
        "forecasts": [
            _forecast(side, float(limit.in_unit(symbol)), trend, series, before)
            for side, limit in limits.items()
            if limit is not None
        ],
    }


def _measurand(fields: Fields) -> Measurand:
    name = fields.raw("quantity")
    if not isinstance(name, str) or name not in MEASURANDS:
        raise InputError.at("/quantity", "unknown_quantity", "no quantity of that name is known")
    return MEASURANDS[name]


def _read_points(fields: Fields) -> Series:
    rows = fields.items("points", MAX_POINTS)
    if len(rows) < _FEWEST:
        message = f"{_FEWEST} readings are the fewest that show a trend"
        raise InputError.at("/points", "too_few", message)
    dated = isinstance(rows[0], Mapping) and "on" in rows[0]
    points = [_read_point(row, f"/points/{n}", dated=dated) for n, row in enumerate(rows)]
    points.sort()
    return Series([float(time) for time, _ in points], [float(v) for _, v in points], dated)


def _read_point(row: object, at: str, *, dated: bool) -> tuple[Fraction, Fraction]:
    problems = Problems()
    point = mapping(row, ("on" if dated else "t", "value"), at, problems)
    day = civil_date(point.get("on"), f"{at}/on", problems) if dated and point else None
    if problems.found:
        raise InputError(problems.found)
    time = Fraction(day.toordinal()) if day else exact(point.get("t"), f"{at}/t")
    value = exact(point.get("value"), f"{at}/value")
    if value < 0:
        raise InputError.at(f"{at}/value", "out_of_range", "no such quantity is negative")
    return time, value


def _before(fields: Fields, series: Series) -> float | None:
    """The day or time for which it is asked whether the limit is crossed by then."""
    if not fields.has("before"):
        return None
    if not series.dated:
        return float(exact(fields.raw("before"), "/before"))
    problems = Problems()
    day = civil_date(fields.raw("before"), "/before", problems)
    if day is None:
        raise InputError(problems.found)
    return float(day.toordinal())


def _trend_json(trend: Trend, symbol: Unit, series: Series) -> dict[str, object]:
    scale = _DAYS_A_YEAR if series.dated else 1.0
    low, high = (
        None if bound is None else significant(bound * scale, _DIGITS)
        for bound in (trend.low, trend.high)
    )
    return {
        "slope": significant(trend.slope * scale, _DIGITS),
        "low": low,
        "high": high,
        "unit": symbol.symbol,
        "per": "year" if series.dated else "time",
        "count": len(series.times),
        "mann_kendall": {
            "s": trend.score,
            "variance": significant(trend.variance, _DIGITS),
            "z": significant(trend.z, _DIGITS),
            "probability": significant(trend.probability, _DIGITS),
            "tau": significant(trend.tau, _DIGITS),
        },
        "significant": trend.probability < _LIKELY,
    }


def _forecast(
    side: str, limit: float, trend: Trend, series: Series, before: float | None
) -> dict[str, object]:
    """When the line crosses one limit, going out of it, with the interval of its slope."""
    outward = 1 if side == "high" else -1
    bounds = (trend.low, trend.high)[::-outward]
    best = _crossing(trend, trend.slope, limit, outward)
    earliest, latest = (
        None if bound is None else _crossing(trend, bound, limit, outward) for bound in bounds
    )
    if (trend.level - limit) * outward > 0:  # crossed before the medians: a steep line did so last
        earliest, latest = latest, earliest
    passed = any(
        (value - limit) * outward > 0
        for time, value in zip(series.times, series.values, strict=True)
        if time == series.times[-1]
    )
    answer: dict[str, object] = {
        "limit": side,
        "passed": passed,
        "crosses": _shown(best, series),
        "earliest": _shown(earliest, series),
        "latest": _shown(latest, series),
    }
    if before is not None:
        by_then = passed and series.times[-1] < before
        answer["expected_before"] = by_then or (best is not None and best < before)
        told = trend.low is not None or by_then
        possible = by_then or any(b is not None and b < before for b in (earliest, latest))
        answer["possible_before"] = possible if told else None
    return answer


def _crossing(trend: Trend, slope: float, limit: float, outward: int) -> float | None:
    """The time at which a line through the medians reaches the limit; None if it never does."""
    if slope * outward <= 0:
        return None
    return trend.at + (limit - trend.level) / slope


def _shown(time: float | None, series: Series) -> str | None:
    """A day, or a plain time; None also beyond the calendar."""
    if time is None:
        return None
    if not series.dated:
        return significant(time, _DIGITS)
    if not date.min.toordinal() <= time < date.max.toordinal():
        return None
    return date.fromordinal(int(time)).isoformat()
