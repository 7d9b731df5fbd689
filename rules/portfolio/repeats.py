"""Several readings of one quantity on one visit, taken together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.columns import reading_of, settle
from rules.judging.outcome import badness
from rules.portfolio.arrays import Flags, Numbers, Readings, Slot
from rules.portfolio.verdicts import BAND_CODES, CONDITIONAL, INCONCLUSIVE, Line


@dataclass(frozen=True)
class Repeats:
    """The rows of one slot, repeats side by side, and how they are taken together."""

    slot: Slot
    cell: Numbers
    rows: Numbers
    readings: Readings

    def together(self, line: Line, inside: Flags) -> Line:
        """One line for each visit and requirement."""
        number = self.readings.quantity[self.rows]
        if not len(number):
            return line
        starts = np.flatnonzero(np.concatenate(([True], number[1:] != number[:-1])))
        known = self.readings.uncertainty[self.rows] >= 0
        all_inside = np.logical_and.reduceat(inside, starts)
        any_known = np.logical_or.reduceat(known, starts)
        all_known = np.logical_and.reduceat(known, starts)
        verdict = np.maximum.reduceat(line.verdict, starts)
        band = np.maximum.reduceat(line.band, starts)
        # Which repeat governs matters where one of them is outside, or where some of them have no
        # uncertainty: that is for exact margins to tell, as is a mean.
        conditional = all_inside & (band == CONDITIONAL)
        open_band = any_known & ~conditional & ~(all_inside & all_known)
        several = np.diff(starts, append=len(number)) > 1
        closely = several & (open_band | self.slot.together[self.cell[starts]])
        ends = np.append(starts[1:], len(number))
        for group in np.flatnonzero(closely).tolist():
            verdict[group], band[group] = self._exactly(slice(starts[group], ends[group]))
        return Line(line.visit[starts], line.cell[starts], line.slot, verdict, band)

    def _exactly(self, part: slice) -> tuple[int, int]:
        """What the single engine says of these repeats."""
        threshold = self.slot.thresholds[self.cell[part][0]]
        held, rows = self.readings, self.rows[part]
        columns = (held.measure, held.mantissa, held.uncertainty, held.resolution, held.expired)
        repeats = [
            reading_of(held.measures[measure], *numbers)
            for measure, *numbers in zip(*(c[rows].tolist() for c in columns), strict=True)
        ]
        outcome = settle(threshold, repeats)
        verdict = int(INCONCLUSIVE) if threshold.settled else badness(outcome.verdict)
        return verdict, BAND_CODES[outcome.details.get("band")]
