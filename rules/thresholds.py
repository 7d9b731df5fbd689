"""Limits as whole numbers: what a reading written with so many decimals may be, at the most.

A reading is `mantissa x 10**exponent` of its unit. Brought into that unit and scaled, a bound is
a rational number, and a whole number lies inside it exactly where it lies inside the bound's
floor or ceiling. So whole portfolios are compared as integers, and nothing is rounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from rules.judging.bounds import Limit, limit_of
from rules.judging.compiling import Item, compiled
from rules.judging.instruments import STEPS
from rules.model import LimitSpec, RequirementSet
from rules.quantities import Unit

# Beyond every mantissa of MAX_DIGITS digits with its uncertainty added, and inside 64 bits.
UNBOUNDED = 2**62
MAX_DIGITS = 18


@dataclass(frozen=True, slots=True)
class Measure:
    """How some readings are written: of what, in which unit, in steps of 10**exponent."""

    quantity: str
    unit: Unit
    exponent: int


class Threshold(NamedTuple):
    """One limit as readings of one measure see it; `limit` is None while its number is missing.

    `lowest` and `highest` are the outermost mantissas inside, `coarsest` the largest resolution
    that can carry a "conforms". `settled` is True where no number can decide.
    """

    requirement: str
    binding: bool
    settled: bool
    limit: Limit | None
    lowest: int
    highest: int
    coarsest: int


# Stands where a set has no further limit on a quantity.
NOWHERE = Threshold("", False, True, None, 0, 0, 0)  # noqa: FBT003 - fields, not switches


def slots(sets: Sequence[RequirementSet], measures: Sequence[Measure]) -> list[list[Threshold]]:
    """For every set and measure, at `set * measures + measure`, its first limit, its second, and
    so on, in the order of the requirements' ids: as many slots as any quantity has limits.
    """
    scale = _Scale(measures)
    cells = [cell for held in sets for cell in scale.cells(held)]
    depth = max(map(len, cells), default=0)
    return [[cell[n] if n < len(cell) else NOWHERE for cell in cells] for n in range(depth)]


class _Scale:
    """Bounds in the steps of each measure, worked out once for each limit: sets share them."""

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.measures = measures
        # By the identity of the specification, which the sets keep alive meanwhile.
        self.known: dict[tuple[int, int], tuple[Limit | None, int, int, int]] = {}

    def cells(self, held: RequirementSet) -> Iterator[list[Threshold]]:
        """For each measure the limits of this set."""
        found: dict[str, list[tuple[Item, LimitSpec]]] = {}
        for item in compiled(held).items:
            if isinstance(item.spec, LimitSpec):
                found.setdefault(item.spec.quantity, []).append((item, item.spec))
        for place, measure in enumerate(self.measures):
            limits = found.get(measure.quantity, [])
            yield [self._threshold(item, spec, place) for item, spec in limits]

    def _threshold(self, item: Item, spec: LimitSpec, place: int) -> Threshold:
        key = id(spec), place
        if key not in self.known:
            limit = limit_of(spec)
            self.known[key] = (limit, *_bounds(limit, self.measures[place]))
        limit, *bounds = self.known[key]
        resolved = item.resolved
        return Threshold(
            resolved.requirement.id,
            not resolved.advisory,
            limit is None or bool(resolved.missing_facts),
            limit,
            *bounds,
        )


def _bounds(limit: Limit | None, measure: Measure) -> tuple[int, int, int]:
    if limit is None:
        return -UNBOUNDED, UNBOUNDED, UNBOUNDED
    step = limit.ratio(measure.unit) * Fraction(10) ** measure.exponent
    lowest = -UNBOUNDED if limit.low is None else ceil(limit.low / step)
    highest = UNBOUNDED if limit.high is None else floor(limit.high / step)
    span = limit.span(measure.unit)
    coarsest = floor(span / Fraction(10) ** measure.exponent / STEPS) if span else UNBOUNDED
    return min(lowest, UNBOUNDED), min(highest, UNBOUNDED), min(coarsest, UNBOUNDED)
