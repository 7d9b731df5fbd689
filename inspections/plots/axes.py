"""Axes: round steps, the place of a value in the picture, and the frame with its figures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from inspections.plots.picture import FRAME, GRID, XY, Label, Line, Shape

SIZE = 7.0  # of figures and signs
LEFT, RIGHT, TOP, BOTTOM = 40.0, 18.0, 30.0, 25.0
_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 2400)
_NOISE = 0.03  # of a step
_ENOUGH = 7  # dates on an axis
_LARGE, _SMALL = 1e7, 1e-6  # beyond these a figure is written with an exponent


@dataclass(frozen=True, slots=True)
class Axis:
    """A range of values with the figures written along it."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Area:
    """The rectangle that the data fill, between two axes."""

    width: float
    height: float
    across: Axis
    up: Axis

    def x(self, value: float) -> float:
        """How far from the left edge of the picture."""
        part = (value - self.across.low) / (self.across.high - self.across.low)
        return LEFT + part * (self.width - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """How far above the lower edge of the picture."""
        part = (value - self.up.low) / (self.up.high - self.up.low)
        return BOTTOM + part * (self.height - TOP - BOTTOM)

    def at(self, across: float, up: float) -> XY:
        """The place of a pair of values, to a hundredth of a point."""
        return round(self.x(across), 2), round(self.y(up), 2)


def axis(values: Sequence[float], *, steps: int, from_zero: bool = False) -> Axis:
    """An axis that holds all the values, with about `steps` round steps."""
    low, high = min(values), max(values)
    low = min(low, 0.0) if from_zero else low
    if high - low <= abs(high) * 1e-9:  # one level alone still needs a range
        low, high = low - (abs(low) * 0.05 or 1.0), high + (abs(high) * 0.05 or 1.0)
    step = _round_step((high - low) / steps)
    # noise just beyond a round figure does not earn a step of its own
    first, last = math.floor(low / step + _NOISE), math.ceil(high / step - _NOISE)
    written = _written(step, max(abs(low), abs(high)))
    ticks = tuple((i * step, written.format(i * step)) for i in range(first, last + 1))
    return Axis(first * step, last * step, ticks)


def date_axis(days: Sequence[float]) -> Axis:
    """An axis of civil dates, a figure at the first of a month, few enough to be read."""
    low, high = date.fromordinal(int(min(days))), date.fromordinal(int(max(days)))
    for months in _MONTHS:
        firsts = list(_firsts(low, high, months))
        if len(firsts) <= _ENOUGH:
            break
    ticks = tuple((float(first.toordinal()), f"{first:%Y-%m}") for first in firsts)
    return Axis(ticks[0][0], ticks[-1][0], ticks)


def frame(area: Area, *, across: str, up: str) -> Iterator[Shape]:
    """The grid, the frame, the figures, and the names of the axes with their units."""
    left, right = area.x(area.across.low), area.x(area.across.high)
    bottom, top = area.y(area.up.low), area.y(area.up.high)
    for value, text in area.up.ticks:
        y = area.y(value)
        yield Line(((left, y), (right, y)), GRID)
        yield Label((left - 4, y - SIZE * 0.35), text, SIZE, "end")
    for value, text in area.across.ticks:
        x = area.x(value)
        yield Line(((x, bottom), (x, bottom - 2.5)), FRAME)
        yield Label((x, bottom - 10), text, SIZE, "middle")
    yield Line(((left, top), (left, bottom), (right, bottom)), FRAME)
    yield Label((0, area.height - SIZE), up, SIZE)
    yield Label((right, bottom - 20), across, SIZE, "end")


def _round_step(rough: float) -> float:
    size = 10.0 ** math.floor(math.log10(rough))
    return next(size * part for part in _ROUND if size * part >= rough * (1 - 1e-9))


def _written(step: float, largest: float) -> str:
    """The format that tells neighbouring figures apart in as few digits as can be."""
    if largest >= _LARGE or step < _SMALL:
        return "{:.4g}"
    places = next(n for n in range(9) if abs(round(step, n) - step) < step * 1e-6)
    return f"{{:.{places}f}}"


def _firsts(low: date, high: date, months: int) -> Iterator[date]:
    """First days of every `months`-th month, from the one at or before `low` past `high`."""
    count = (low.year * 12 + low.month - 1) // months * months
    last = high.year * 12 + high.month - 1
    while True:
        yield date(count // 12, count % 12 + 1, 1)
        if count > last:
            return
        count += months
