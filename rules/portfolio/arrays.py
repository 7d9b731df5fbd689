"""Readings and limits as arrays: the two sides of a portfolio's comparison."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rules.columns import Columns
from rules.model import RequirementSet
from rules.thresholds import NOWHERE, Measure, Threshold, slots
from rules.vocabulary import Governs

Numbers = NDArray[np.int64]
Codes = NDArray[np.int8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Readings:
    """The columns of `rules.columns.Columns` as arrays."""

    measures: tuple[Measure, ...]
    visit: Numbers
    measure: Numbers
    mantissa: Numbers
    uncertainty: Numbers
    resolution: Numbers
    expired: Flags

    @classmethod
    def of(cls, columns: Columns) -> Readings:
        """The arrays of these columns."""

        def numbers(column: list[int]) -> Numbers:
            return np.array(column, np.int64)

        return cls(
            measures=tuple(columns.measures),
            visit=numbers(columns.visit),
            measure=numbers(columns.measure),
            mantissa=numbers(columns.mantissa),
            uncertainty=numbers(columns.uncertainty),
            resolution=numbers(columns.resolution),
            expired=np.array(columns.expired, bool),
        )

    @cached_property
    def quantity(self) -> Numbers:
        """For each reading one number for its visit and quantity: equal for repeats."""
        names = sorted({measure.quantity for measure in self.measures})
        place = np.array([names.index(measure.quantity) for measure in self.measures])
        numbers: Numbers = self.visit * len(names) + place[self.measure]
        return numbers

    @cached_property
    def order(self) -> Numbers | None:
        """The readings with repeats side by side; None where there are no repeats."""
        numbers = self.quantity
        steps = numbers[1:] - numbers[:-1]
        if (steps > 0).all():
            return None
        if (steps >= 0).all():
            return np.arange(len(numbers))
        order = np.argsort(numbers, kind="stable")
        ranked = numbers[order]
        return order if (ranked[1:] == ranked[:-1]).any() else None

    @cached_property
    def flawed(self) -> bool:
        """Whether anything is known of any instrument."""
        return bool(self.expired.any() or (self.resolution >= 0).any())

    @cached_property
    def uncertain(self) -> bool:
        """Whether any uncertainty is known."""
        return bool((self.uncertainty >= 0).any())

    @cached_property
    def known(self) -> Codes:
        """1 where the uncertainty of a reading is known, else 0."""
        return (self.uncertainty >= 0).view(np.int8)

    @cached_property
    def least(self) -> Numbers:
        """The mantissa less its uncertainty, where that is known."""
        return self.mantissa - np.maximum(self.uncertainty, 0)

    @cached_property
    def greatest(self) -> Numbers:
        """The mantissa with its uncertainty, where that is known."""
        return self.mantissa + np.maximum(self.uncertainty, 0)


@dataclass(frozen=True)
class Limits:
    """Requirement sets compiled for readings of some measures, once for many judgements.

    `requirements` are the ids of their limits: one that binds in some of the sets only stands
    there twice. `cells` is the number of sets times that of measures.
    """

    measures: tuple[Measure, ...]
    requirements: tuple[str, ...]
    cells: int
    slots: tuple[Slot, ...]

    @classmethod
    def of(cls, sets: Sequence[RequirementSet], measures: tuple[Measure, ...]) -> Limits:
        """The limits of these sets."""
        found = slots(sets, measures)
        names = list(dict.fromkeys((t.requirement, t.binding) for slot in found for t in slot))
        number = {name: place for place, name in enumerate(names)}
        return cls(
            measures=measures,
            requirements=tuple(name for name, _ in names),
            cells=len(sets) * len(measures),
            slots=tuple(Slot.of(slot, number) for slot in found),
        )


class Slot(NamedTuple):
    """The n-th limit on a quantity, as arrays over the cells `set * measures + measure`, and
    whether any cell is so.
    """

    thresholds: Sequence[Threshold]
    requirement: Numbers
    lowest: Numbers
    highest: Numbers
    coarsest: Numbers
    settled: Flags
    unlimited: Flags
    together: Flags
    absent: Flags
    binding: Flags
    from_below: bool
    some_settled: bool
    some_unlimited: bool
    some_absent: bool
    all_binding: bool

    @classmethod
    def of(cls, found: Sequence[Threshold], number: Mapping[tuple[str, bool], int]) -> Slot:
        """The arrays of these thresholds."""
        bounded = [t.limit is not None for t in found]
        shared = [t.limit is not None and t.limit.governs is not Governs.EACH for t in found]
        absent = [t is NOWHERE for t in found]
        return cls(
            thresholds=found,
            requirement=np.array([number[t.requirement, t.binding] for t in found], np.int64),
            lowest=np.array([t.lowest for t in found], np.int64),
            highest=np.array([t.highest for t in found], np.int64),
            coarsest=np.array([t.coarsest for t in found], np.int64),
            settled=np.array([t.settled for t in found], bool),
            unlimited=~np.array(bounded, bool),
            together=np.array(shared, bool),
            absent=np.array(absent, bool),
            binding=np.array([t.binding for t in found], bool),
            from_below=any(t.lowest > 0 for t in found),
            some_settled=any(t.settled for t in found),
            some_unlimited=not all(bounded),
            some_absent=any(absent),
            all_binding=all(t.binding for t in found),
        )
