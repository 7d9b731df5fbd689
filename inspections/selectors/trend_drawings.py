"""A trend as pages, packets and the API draw it."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import median
from typing import Any

from inspections.selectors.bounds import Bound
from inspections.selectors.trends import Point, Trend
from rules.measurands import MEASURANDS

_DAYS_A_YEAR = 365.2425
_AHEAD = timedelta(days=5 * 366)  # a crossing farther off than that is told, not drawn
_SIDES = {"high": "at most", "low": "at least"}


def drawn_series(trend: Trend) -> dict[str, Any]:
    """A trend as `inspections.plots` draws it, in words and plain values."""
    before = len(trend.points) - trend.fitted
    drawn: dict[str, Any] = {
        "quantity": trend.quantity,
        "title": title_of(trend.quantity),
        "unit": trend.unit.symbol,
        "points": [{"on": p.on.isoformat(), "value": p.value} for p in trend.points],
        "limits": [_limit(bound) for bound in trend.bounds],
        "breaks": [{"on": b.on.isoformat(), "words": b.words} for b in trend.breaks],
        "before": before,
        "says": trend.expectation.words,
    }
    if trend.measured is not None:
        line = _Line(trend.points[before:], float(trend.measured["trend"]["slope"]))
        first, last = trend.points[before].on, trend.points[-1].on
        drawn["trend"] = [line.at(first), line.at(last)]
        until = _horizon(trend, last)
        if until > last:
            drawn["forecast"] = [line.at(last), line.at(until)]
    return drawn


def title_of(quantity: str) -> str:
    """What a quantity is, as a title."""
    meaning = MEASURANDS[quantity].meaning
    return meaning[0].upper() + meaning[1:]


class _Line:
    """The line through the medians, at the slope that was found."""

    def __init__(self, points: list[Point], slope_a_year: float) -> None:
        self._slope = slope_a_year / _DAYS_A_YEAR
        self._at = median(p.on.toordinal() for p in points)
        self._level = median(float(p.value) for p in points)

    def at(self, on: date) -> dict[str, str]:
        value = self._level + self._slope * (on.toordinal() - self._at)
        return {"on": on.isoformat(), "value": f"{max(value, 0.0):.6f}"}


def _limit(bound: Bound) -> dict[str, str]:
    words = f"{_SIDES[bound.side]} {bound.text} {bound.unit.symbol}: {bound.title}"
    if bound.advisory:
        words += " (advisory: it binds nobody until adopted)"
    return {"words": words, "value": bound.text, "unit": bound.unit.symbol}


def _horizon(trend: Trend, last: date) -> date:
    """How far the line is drawn on: to the first crossing ahead that is near, else to the next
    duty.
    """
    forecasts = trend.measured["forecasts"] if trend.measured else []
    crossings = [date.fromisoformat(f["crosses"]) for f in forecasts if f["crosses"]]
    near = [on for on in crossings if last < on <= last + _AHEAD]
    ahead = [trend.next_duty.due_on] if trend.next_duty else []
    return max([*([min(near)] if near else []), *ahead, last])
