"""What a portfolio comes to, as columns of small codes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from rules.portfolio.arrays import Codes, Limits, Numbers, Slot
from rules.portfolio.codes import NO_VERDICT, WORDS
from rules.portfolio.rows import Rows


class Line(NamedTuple):
    """Verdicts as columns: for each visit named, one requirement with its verdict and band."""

    visit: Numbers
    cell: Numbers
    slot: Slot
    verdict: Codes
    band: Codes

    @property
    def requirement(self) -> Numbers:
        """The numbers of the requirements; worked out only where somebody asks."""
        return self.slot.requirement[self.cell]


@dataclass(frozen=True)
class Judged:
    """What the readings come to; the lines number the requirements of `limits`."""

    limits: Limits
    visit: Numbers
    rows: Rows

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """A line for each slot, of the readings on which it has a limit."""
        return tuple(self._line(number, slot) for number, slot in enumerate(self.limits.slots))

    def _line(self, number: int, slot: Slot) -> Line:
        columns = self.visit, self.rows.cell, self.rows.verdict[number], self.rows.band[number]
        if slot.some_absent:
            there = np.flatnonzero(self.rows.verdict[number] != NO_VERDICT)
            columns = tuple(column[there] for column in columns)  # type: ignore[assignment]
        visit, cell, verdict, band = columns
        return Line(visit, cell, slot, verdict, band)

    def worst(self, visits: int) -> Codes:
        """For each of so many visits the worst binding verdict, NO_VERDICT where there is none."""
        worst = np.zeros(visits, np.int8)
        for number, slot in enumerate(self.limits.slots):
            verdict = self.rows.verdict[number]
            if not slot.all_binding:
                verdict = verdict * slot.binding.take(self.rows.cell)
            np.maximum.at(worst, self.visit, verdict)
        return worst

    def counts(self) -> Numbers:
        """How often each requirement, by row, came to each verdict, by its code in `WORDS`."""
        width, height = max(WORDS) + 1, len(self.limits.requirements)
        counts = np.zeros(height * width, np.int64)
        for line in self.lines:
            place = line.requirement * width + line.verdict
            counts += np.bincount(place, minlength=height * width)
        return counts.reshape(height, width)
