"""Several readings of one quantity on one visit, taken together.

Each must be inside, so the worst word of them is theirs. The band is that of the repeat with the
smallest margin. Between repeats written alike whole numbers tell it, but for a tie between the
two ends of a limit; that tie, repeats in several units, and means go through the single engine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.columns import reading_of, settle
from rules.judging.outcome import badness
from rules.portfolio.arrays import Codes, Flags, Limits, Numbers, Readings, Slot
from rules.portfolio.codes import BAND_CODES, CONDITIONAL, INCONCLUSIVE
from rules.portfolio.rows import Rows


@dataclass(frozen=True, slots=True)
class Repeats:
    """Readings with repeats side by side: `order` leads to them, `starts` to the first of each."""

    readings: Readings
    order: Numbers
    starts: Numbers

    @classmethod
    def of(cls, readings: Readings, order: Numbers) -> Repeats:
        """The repeats of these readings."""
        number = readings.quantity[order]
        new = np.concatenate(([True], number[1:] != number[:-1]))
        return cls(readings, order, np.flatnonzero(new))

    def together(self, limits: Limits, rows: Rows) -> Rows:
        """The rows, one for each visit and quantity."""
        cell = rows.cell[self.order]
        both = [
            self._slot(slot, cell, verdict[self.order], band[self.order])
            for slot, verdict, band in zip(limits.slots, rows.verdict, rows.band, strict=True)
        ]
        count = len(self.starts)
        verdicts = np.array([v for v, _ in both], np.int8).reshape(len(both), count)
        bands = np.array([b for _, b in both], np.int8).reshape(len(both), count)
        return Rows(cell[self.starts], verdicts, bands)

    def _slot(self, slot: Slot, cell: Numbers, verdict: Codes, band: Codes) -> tuple[Codes, Codes]:
        starts = self.starts
        worst, own = np.maximum.reduceat(verdict, starts), np.zeros(len(starts), np.int8)
        closely = slot.together[cell[starts]]
        if self.readings.uncertain:
            governing, tied = self._governing(slot, cell)
            reached = np.maximum.reduceat(band, starts) == CONDITIONAL
            reached &= self._all_inside(slot, cell)
            own = np.where(reached, np.int8(CONDITIONAL), band[governing])
            closely |= (tied | ~self._alike()) & ~reached & self._any_known()
        closely &= (self._lengths() > 1) & ~slot.absent[cell[starts]]
        ends = np.append(starts[1:], len(cell))
        for group in np.flatnonzero(closely).tolist():
            part = slice(starts[group], ends[group])
            worst[group], own[group] = self._exactly(slot, cell[starts[group]], part)
        return worst, own

    def _margins(self, slot: Slot, cell: Numbers) -> tuple[Numbers, Numbers]:
        mantissa = self.readings.mantissa[self.order]
        return mantissa - slot.lowest[cell], slot.highest[cell] - mantissa

    def _all_inside(self, slot: Slot, cell: Numbers) -> Flags:
        above, below = self._margins(slot, cell)
        inside: Flags = np.logical_and.reduceat((above >= 0) & (below >= 0), self.starts)
        return inside

    def _governing(self, slot: Slot, cell: Numbers) -> tuple[Numbers, Flags]:
        """For each group its first row with the smallest margin, and whether whole numbers leave
        it open which of two that is: a bound lies between two of them, at either end elsewhere.
        """
        above, below = self._margins(slot, cell)
        margin = np.minimum(above, below)
        least = np.repeat(np.minimum.reduceat(margin, self.starts), self._lengths())
        winners = np.flatnonzero(margin == least)
        group = np.repeat(np.arange(len(self.starts)), self._lengths())[winners]
        side = np.sign(above - below)[winners]
        firsts = np.flatnonzero(np.concatenate(([True], group[1:] != group[:-1])))
        low, high = np.minimum.reduceat(side, firsts), np.maximum.reduceat(side, firsts)
        several = np.diff(firsts, append=len(winners)) > 1
        return winners[firsts], several & ((low != high) | (low == 0))

    def _lengths(self) -> Numbers:
        return np.diff(self.starts, append=len(self.order))

    def _alike(self) -> Flags:
        """Whether all repeats of a group are written in one unit with as many decimals."""
        measure = self.readings.measure[self.order]
        alike: Flags = np.maximum.reduceat(measure, self.starts) == np.minimum.reduceat(
            measure, self.starts
        )
        return alike

    def _any_known(self) -> Flags:
        known = self.readings.uncertainty[self.order] >= 0
        any_known: Flags = np.logical_or.reduceat(known, self.starts)
        return any_known

    def _exactly(self, slot: Slot, cell: int, part: slice) -> tuple[int, int]:
        """What the single engine says of these repeats."""
        threshold = slot.thresholds[cell]
        held, rows = self.readings, self.order[part]
        columns = (held.measure, held.mantissa, held.uncertainty, held.resolution, held.expired)
        repeats = [
            reading_of(held.measures[measure], *numbers)
            for measure, *numbers in zip(*(c[rows].tolist() for c in columns), strict=True)
        ]
        outcome = settle(threshold, repeats)
        verdict = int(INCONCLUSIVE) if threshold.settled else badness(outcome.verdict)
        return verdict, BAND_CODES[outcome.details.get("band")]
