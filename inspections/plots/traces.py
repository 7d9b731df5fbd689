"""What a plot is drawn from: a trace of samples over time, or a series of readings over dates.

Numbers come as decimal text, as they were sent; they become floats here and nowhere decide.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Any, Literal, TypeVar

import msgspec

from rules.errors import InputError
from rules.quantities import Unit, comparable, quantity, unit

_YEARS = range(1900, 3000)  # what an axis of dates is made for


class PlotError(ValueError):
    """A trace or series that cannot be drawn; the message leads to the field and says why."""


class Mark(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A moment the computation saw, in seconds, and what it is in words."""

    t: str
    words: str


class LimitLine(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A limit to draw, in any unit of the right dimension.

    A value of the trace's own dimension is a level. A speed on a travel trace is a slope; `from_t`
    (seconds) is where it starts, the first sample where it is not given.
    """

    words: str
    value: str
    unit: str
    from_t: str | None = None


class Trace(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Samples over time: `t` in seconds, `values` in `unit`. `measured` is what was computed, and
    `seen` those of it that are a level or a slope of the curve.

    A trace whose samples are missing is told, not drawn.
    """

    kind: Literal["travel", "force", "battery"]
    unit: str = ""
    t: list[str] = []
    values: list[str] = []
    marks: list[Mark] = []
    limits: list[LimitLine] = []
    seen: list[LimitLine] = []
    measured: dict[str, Any] = {}


class Point(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One reading of a series on a civil date (ISO 8601)."""

    on: str
    value: str


class Day(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A civil date (ISO 8601), and what was on it in words."""

    on: str
    words: str


class Series(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Readings of one quantity of one door over the years, in one unit.

    `trend` holds the two ends of the fitted line, and `says` what it means in words, where a trend
    was computed; `forecast` the line's way on from its end. `breaks` are the days from which on
    readings are not comparable with those before; of these the first `before` are.
    """

    quantity: str
    title: str
    unit: str
    points: list[Point]
    limits: list[LimitLine] = []
    trend: tuple[Point, Point] | None = None
    forecast: tuple[Point, Point] | None = None
    breaks: list[Day] = []
    before: int = 0
    says: str = ""


Drawn = TypeVar("Drawn", Trace, Series)


def drawn_from(content: Mapping[str, object] | Drawn, kind: type[Drawn]) -> Drawn:
    """The typed form of a trace or series; refuses a wrong shape, naming the field."""
    try:
        return msgspec.convert(content, kind)
    except msgspec.ValidationError as error:
        raise PlotError(str(error)) from error


def number(text: str, where: str) -> float:
    """A decimal text as a float for drawing; refuses what is not a finite number."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise PlotError(f"{where}: {text[:40]!r} is not a finite number")
    return value


def numbers(texts: Sequence[str], where: str) -> list[float]:
    """Decimal texts as floats; a refusal names the index."""
    return [number(text, f"{where}/{index}") for index, text in enumerate(texts)]


def known_unit(symbol: str) -> Unit:
    """The unit of that symbol; refuses an unknown one."""
    try:
        return unit(symbol)
    except InputError as error:
        raise PlotError(f"/unit: {error}") from error


def limit_in(limit: LimitLine, target: Unit) -> Fraction:
    """The exact value of a limit in another unit; refuses another dimension."""
    try:
        value = quantity(limit.value, limit.unit)
    except InputError as error:
        raise PlotError(f"/limits: {error}") from error
    if not comparable(value.unit, target):
        raise PlotError(f"/limits: {limit.unit} is no limit for values in {target.symbol}")
    return value.in_unit(target)


def day(text: str, where: str) -> float:
    """A civil date as a number of days, for an axis of dates."""
    try:
        read = date.fromisoformat(text)
    except ValueError:
        raise PlotError(f"{where}: {text[:40]!r} is not a date") from None
    if read.year not in _YEARS:
        raise PlotError(f"{where}: the year {read.year} is beyond what an axis shows")
    return float(read.toordinal())
