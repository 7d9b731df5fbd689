"""A limit as it is compared with: its bounds in the deciding unit, in whole numbers.

Values are brought into the unit of the limit by exact rational factors. For each decision
everything is scaled to whole numbers of one small part of that unit, and those are compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from rules.errors import InputError
from rules.judging.notes import shown_ratio
from rules.judging.readings import Reading
from rules.model import LimitSpec
from rules.quantities import Unit, parse_quantity
from rules.shares import worked_out
from rules.vocabulary import Governs

CACHED_SCALES = 64  # of one limit: readings differ in unit and decimals, seldom in more


class Printed(NamedTuple):
    """What the publisher prints in SI beside a limit, with its bounds in the limit's unit; `gap`
    is the farthest that one of them lies from the limit's own.
    """

    text: str
    low: Fraction | None
    high: Fraction | None
    gap: Fraction

    def holds(self, value: Fraction) -> bool:
        """Whether a value lies inside."""
        above = self.low is None or value >= self.low
        return above and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class Limit:
    """The bounds of a limit in its deciding unit, and how its repeats are taken together."""

    unit: Unit
    low: Fraction | None
    high: Fraction | None
    words: str
    repeats: int
    governs: Governs
    printed: Printed | None = None
    _ratios: dict[str, Fraction] = field(default_factory=dict)
    _spans: dict[str, Fraction] = field(default_factory=dict)
    scales: dict[tuple[object, ...], Scale] = field(default_factory=dict)

    def ratio(self, unit: Unit) -> Fraction:
        """How many of this limit's units one of the other unit is."""
        if unit.symbol not in self._ratios:
            self._ratios[unit.symbol] = unit.factor / self.unit.factor
        return self._ratios[unit.symbol]

    def span(self, unit: Unit) -> Fraction:
        """What an instrument must tell apart, in its unit: the width, or the distance from zero."""
        if unit.symbol not in self._spans:
            bounds = [bound for bound in (self.low, self.high) if bound is not None]
            width = bounds[-1] - bounds[0] if len(bounds) > 1 else bounds[0]
            self._spans[unit.symbol] = width / self.ratio(unit)
        return self._spans[unit.symbol]


def limit_of(spec: LimitSpec) -> Limit | None:
    """The limit that a requirement states; None where its number is to be supplied per door."""
    first = spec.low or spec.high
    if first is None:
        return None
    low, high = spec.low, spec.high
    if low and high:
        words = f"{low.text} to {high}" if low.unit == high.unit else f"{low} to {high}"
    else:
        words = f"at least {low}" if low else f"at most {high}"
    if spec.shared:
        words = f"{words} ({worked_out(spec)})"
    return Limit(
        unit=first.unit,
        low=low.in_unit(first.unit) if low else None,
        high=high.in_unit(first.unit) if high else None,
        words=words,
        repeats=spec.repeats,
        governs=spec.governs,
        printed=_printed(spec, first.unit),
    )


def _printed(spec: LimitSpec, own: Unit) -> Printed | None:
    """The printed SI value as bounds; None where there is none, or none that can be compared."""
    texts = spec.printed_si.replace("·", "*").split(" to ")
    ends = [bound for bound in (spec.low, spec.high) if bound is not None]
    if not spec.printed_si or len(texts) != len(ends):
        return None
    symbol = texts[-1].partition(" ")[2]
    try:
        values = [parse_quantity(t if " " in t else f"{t} {symbol}").in_unit(own) for t in texts]
    except (InputError, ValueError):
        return None
    gap = max(abs(v - end.in_unit(own)) for v, end in zip(values, ends, strict=True))
    low = values[0] if spec.low else None
    return Printed(spec.printed_si, low, values[-1] if spec.high else None, gap)


class Scale(NamedTuple):
    """One decision's whole numbers: how many parts make one of the limit's unit, and the bounds
    in such parts.
    """

    limit: Limit
    parts: int
    low: int | None
    high: int | None

    def whole(self, value: Fraction, unit: Unit) -> int:
        """A value in that unit, in parts."""
        ratio = self.limit.ratio(unit)
        scale = self.parts // (value.denominator * ratio.denominator)
        return value.numerator * ratio.numerator * scale

    def margin(self, value: int) -> int:
        """The distance to the nearest bound, positive inside, nought at the limit."""
        distances = [] if self.high is None else [self.high - value]
        if self.low is not None:
            distances.append(value - self.low)
        return min(distances)

    def si(self, value: int) -> tuple[int, int]:
        """A number of parts in the coherent SI unit, as numerator and denominator."""
        numerator, denominator = self.limit.unit.factor.as_integer_ratio()
        return value * numerator, self.parts * denominator

    def shown(self, value: int) -> str:
        """A number of parts in the limit's unit, as text."""
        return shown_ratio(value, self.parts)


def scale_of(limit: Limit, readings: Sequence[Reading]) -> Scale:
    """The coarsest parts in which the bounds and every number of the readings are whole."""
    key = tuple([(one.unit.symbol, *_denominators(one)) for one in readings])
    known = limit.scales.get(key)
    if known is None:
        if len(limit.scales) >= CACHED_SCALES:
            limit.scales.clear()
        known = limit.scales[key] = _scale_of(limit, readings)
    return known


def _denominators(one: Reading) -> tuple[int, int]:
    return one.value.denominator, 1 if one.uncertainty is None else one.uncertainty.denominator


def _scale_of(limit: Limit, readings: Sequence[Reading]) -> Scale:
    parts = [bound.denominator for bound in (limit.low, limit.high) if bound is not None]
    for reading in readings:
        ratio = limit.ratio(reading.unit).denominator
        parts += [ratio * denominator for denominator in _denominators(reading)]
    common = lcm(*parts)
    if limit.governs is not Governs.EACH:
        common *= 2 * len(readings)  # so that a mean and a median are whole too
    low, high = (
        None if bound is None else bound.numerator * (common // bound.denominator)
        for bound in (limit.low, limit.high)
    )
    return Scale(limit, common, low, high)
