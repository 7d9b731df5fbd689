"""From a trace or a series to a picture: the one place where the geometry is made."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby

from inspections.plots.axes import BOTTOM, LEFT, SIZE, TOP, Area, axis, date_axis, frame
from inspections.plots.picture import (
    CURVE,
    FORECAST,
    LIMIT,
    MARK,
    SEEN,
    TREND,
    XY,
    Dot,
    Label,
    Line,
    Note,
    Pen,
    Picture,
    Shape,
)
from inspections.plots.traces import (
    LimitLine,
    PlotError,
    Point,
    Series,
    Trace,
    day,
    known_unit,
    limit_in,
    number,
    numbers,
)
from rules.quantities import UNITS, Dimension

METRE_A_SECOND = UNITS["m/s"]
_NAMES = {"travel": "Position", "force": "Force", "battery": "Voltage"}
TITLES = {
    "travel": "Travel: position of the leading edge over time",
    "force": "Force over time",
    "battery": "Battery voltage over time",
}
_MARK_ROWS = 2  # numbers of marks that stand close together take turns in rows
_MARK_GAP = 9.0
_LEAST = 2  # samples that make a line


def trace_picture(trace: Trace, *, width: float, height: float) -> Picture:
    """The picture of a trace with its marks numbered and its limits lettered.

    Samples are drawn in order of time, whatever order they came in.
    """
    samples = _samples(trace)
    levels = [limit for limit in trace.limits if not _is_slope(limit, trace)]
    levels += [line for line in trace.seen if not _is_slope(line, trace)]
    values = [value for _, value in samples] + [_converted(limit, trace.unit) for limit in levels]
    area = Area(
        width,
        height,
        across=axis([t for t, _ in samples], steps=8),
        up=axis(values, steps=5, from_zero=trace.kind == "force"),
    )
    shapes: list[Shape] = [
        *frame(area, across="time (s)", up=f"{_NAMES[trace.kind]} ({trace.unit})"),
        Line(_thinned([area.at(*sample) for sample in samples]), CURVE),
        *_line_shapes(area, trace, samples),
        *_mark_shapes(area, numbers([mark.t for mark in trace.marks], "/marks")),
    ]
    notes = (*_mark_notes(trace), *_seen_notes(trace), *_limit_notes(trace.limits))
    return Picture(width, height, TITLES[trace.kind], tuple(shapes), notes)


def series_picture(series: Series, *, width: float, height: float) -> Picture:
    """The picture of a series with its limits lettered and its trend, where one was computed."""
    places = [f"/points/{index}" for index in range(len(series.points))]
    days = [day(point.on, f"{at}/on") for at, point in zip(places, series.points, strict=True)]
    values = [
        number(point.value, f"{at}/value") for at, point in zip(places, series.points, strict=True)
    ]
    if not days:
        raise PlotError("/points: a series needs at least one reading")
    ends = [_ends(series.trend), _ends(series.forecast)]
    broken = [day(each.on, "/breaks") for each in series.breaks]
    levels = [_converted(limit, series.unit) for limit in series.limits]
    drawn = [end for line in ends for end in line]
    area = Area(
        width,
        height,
        across=date_axis([*days, *broken, *(on for on, _ in drawn)]),
        up=axis([*values, *levels, *(value for _, value in drawn)], steps=4),
    )
    points = [area.at(*pair) for pair in sorted(zip(days, values, strict=True))]
    shapes: list[Shape] = [
        *frame(area, across="date", up=f"reading ({series.unit})"),
        *(Dot(point, 1.0 if n < series.before else 1.8) for n, point in enumerate(points)),
        *(
            Line(tuple(area.at(*end) for end in line), pen)
            for line, pen in zip(ends, (TREND, FORECAST), strict=True)
            if line
        ),
        *(
            shape
            for i, level in enumerate(levels)
            for shape in _level(area, level, _letter(i), LIMIT)
        ),
        *_mark_shapes(area, broken),
    ]
    breaks = (Note(str(n + 1), each.on, each.words) for n, each in enumerate(series.breaks))
    notes = (*breaks, *_limit_notes(series.limits))
    return Picture(width, height, series.title, tuple(shapes), notes)


def _ends(line: Sequence[Point] | None) -> list[tuple[float, float]]:
    return [(day(end.on, "/trend"), number(end.value, "/trend")) for end in line or ()]


def _samples(trace: Trace) -> list[tuple[float, float]]:
    if len(trace.t) != len(trace.values):
        raise PlotError(f"/values: {len(trace.values)} values for {len(trace.t)} times")
    if len(trace.t) < _LEAST:
        raise PlotError(f"/t: a line needs at least {_LEAST} samples")
    pairs = zip(numbers(trace.t, "/t"), numbers(trace.values, "/values"), strict=True)
    return sorted(pairs, key=lambda pair: pair[0])


def _thinned(points: Sequence[XY]) -> tuple[XY, ...]:
    """The least and the greatest of each half point of width, in order, so that no peak is lost."""
    kept: list[XY] = []
    for _, group in groupby(enumerate(points), key=lambda item: int(item[1][0] * 2)):
        column = list(group)
        ends = {column[0], column[-1]}
        extremes = {min(column, key=lambda item: item[1][1]), max(column, key=lambda i: i[1][1])}
        kept += [point for _, point in sorted(ends | extremes)]
    return tuple(kept)


def _is_slope(limit: LimitLine, trace: Trace) -> bool:
    return trace.kind == "travel" and known_unit(limit.unit).dimension is Dimension.SPEED


def _converted(limit: LimitLine, symbol: str) -> float:
    return float(limit_in(limit, known_unit(symbol)))


def _line_shapes(
    area: Area, trace: Trace, samples: Sequence[tuple[float, float]]
) -> Iterator[Shape]:
    """What was seen under its number, after those of the marks; each limit under its letter."""
    seen = [(str(len(trace.marks) + n + 1), line, SEEN) for n, line in enumerate(trace.seen)]
    limits = [(_letter(n), line, LIMIT) for n, line in enumerate(trace.limits)]
    for sign, line, pen in (*seen, *limits):
        if _is_slope(line, trace):
            speed = _speed(line, trace, samples)
            yield from _slope(area, _start(line, samples), speed, sign, pen)
        else:
            yield from _level(area, _converted(line, trace.unit), sign, pen)


def _level(area: Area, level: float, sign: str, pen: Pen) -> Iterator[Shape]:
    end = area.at(area.across.high, level)
    yield Line((area.at(area.across.low, level), end), pen)
    aside = 4 if pen is LIMIT else 10  # so that a limit and a value at it keep their signs apart
    yield Label((end[0] + aside, end[1] - SIZE * 0.35), sign, SIZE, bold=True)


def _start(limit: LimitLine, samples: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The sample at which a slope starts: the first one not before `from_t`."""
    since = samples[0][0] if limit.from_t is None else number(limit.from_t, "/limits/from_t")
    return next((sample for sample in samples if sample[0] >= since), samples[0])


def _speed(limit: LimitLine, trace: Trace, samples: Sequence[tuple[float, float]]) -> float:
    """A limit of speed in units of position a second, with the sign of the movement."""
    size = limit_in(limit, METRE_A_SECOND) / known_unit(trace.unit).factor
    return math.copysign(float(size), samples[-1][1] - _start(limit, samples)[1])


def _slope(
    area: Area, start: tuple[float, float], speed: float, sign: str, pen: Pen
) -> Iterator[Shape]:
    """A line of constant speed up to where it leaves the area."""
    t, position = start
    edge = area.up.high if speed > 0 else area.up.low
    until = area.across.high
    if speed:
        until = min(until, t + (edge - position) / speed)
    if until <= t:
        return
    reached = position + speed * (until - t)
    yield Line((area.at(t, position), area.at(until, reached)), pen)
    x, y = area.at(until, reached)
    drop = SIZE if y > area.height / 2 else -2.0
    yield Label((x + 4, y - drop), sign, SIZE, bold=True)


def _mark_shapes(area: Area, moments: Sequence[float]) -> Iterator[Shape]:
    """A dotted line a mark, its number above the area; close numbers stand one above another."""
    top = area.height - TOP
    ends = [-math.inf] * _MARK_ROWS
    for index, at in sorted(enumerate(moments), key=lambda item: item[1]):
        x = min(max(area.x(at), LEFT), area.x(area.across.high))
        row = next((row for row, end in enumerate(ends) if x - end >= _MARK_GAP), index % 2)
        ends[row] = x
        base = top + 3 + row * SIZE
        yield Line(((x, BOTTOM), (x, base - 1)), MARK)
        yield Label((x, base), str(index + 1), SIZE, "middle", bold=True)


def _mark_notes(trace: Trace) -> Iterator[Note]:
    for index, mark in enumerate(trace.marks):
        yield Note(str(index + 1), f"{mark.t} s", mark.words)


def _seen_notes(trace: Trace) -> Iterator[Note]:
    for index, line in enumerate(trace.seen, len(trace.marks) + 1):
        yield Note(str(index), f"{line.value} {line.unit}", line.words)


def _limit_notes(limits: Sequence[LimitLine]) -> tuple[Note, ...]:
    return tuple(
        Note(_letter(index), f"{limit.value} {limit.unit}", limit.words)
        for index, limit in enumerate(limits)
    )


def _letter(index: int) -> str:
    """The letters of the alphabet, then two letters, as columns of a sheet are named."""
    before, last = divmod(index, 26)
    return (_letter(before - 1) if before else "") + chr(ord("A") + last)
