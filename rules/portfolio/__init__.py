"""Many visits at once: the readings of a whole portfolio against the same compiled limits.

This is the only package that needs NumPy (the extra `portfolio`). It judges limits alone, and
says of every visit and requirement exactly what `judge` says: readings are compared as whole
numbers, and repeats that whole numbers cannot settle go through the single engine.
"""

from __future__ import annotations

import numpy as np

from rules.portfolio.arrays import Codes, Limits, Numbers, Readings, Slot
from rules.portfolio.repeats import Repeats
from rules.portfolio.verdicts import (
    BANDS,
    CLEAR,
    CONDITIONAL,
    CONFORMS,
    DOES_NOT_CONFORM,
    INCONCLUSIVE,
    NO_BAND,
    NO_VERDICT,
    WORDS,
    Judged,
    Line,
)

__all__ = ["BANDS", "NO_VERDICT", "WORDS", "Judged", "Limits", "Line", "Readings", "judge_readings"]


def judge_readings(limits: Limits, of_visit: Numbers, readings: Readings) -> Judged:
    """Judge every reading against every limit on its quantity; visit v is under the set numbered
    `of_visit[v]`. Limits without a reading have no line.
    """
    first = of_visit * len(limits.measures)
    cell = first[readings.visit] + readings.measure
    return Judged(limits, tuple(_line(slot, cell, readings) for slot in limits.slots))


def _line(slot: Slot, cell: Numbers, readings: Readings) -> Line:
    rows = _rows(slot, cell, readings)
    pick: slice | Numbers = slice(None) if rows is None else rows
    cell, mantissa = cell[pick], readings.mantissa[pick]
    inside = mantissa <= slot.highest[cell]
    if slot.from_below:
        inside &= mantissa >= slot.lowest[cell]
    verdict = DOES_NOT_CONFORM - inside.view(np.int8) * (DOES_NOT_CONFORM - CONFORMS)
    if readings.flawed:
        flawed = readings.expired[pick] | (readings.resolution[pick] > slot.coarsest[cell])
        verdict[flawed & inside] = INCONCLUSIVE
    if slot.settled.any():
        verdict[slot.settled[cell]] = INCONCLUSIVE
    band = np.zeros(len(verdict), np.int8)
    if readings.uncertain:
        low, high = slot.lowest[cell], slot.highest[cell]
        band = _bands(mantissa, readings.uncertainty[pick], low, high)
        band[slot.unlimited[cell]] = NO_BAND
    line = Line(readings.visit[pick], cell, slot, verdict, band)
    if rows is None or readings.order is None:
        return line
    return Repeats(slot, cell, rows, readings).together(line, inside)


def _rows(slot: Slot, cell: Numbers, readings: Readings) -> Numbers | None:
    """The readings that meet this slot, repeats side by side; None for all of them as they are."""
    if readings.order is not None:
        return readings.order[~slot.absent[cell[readings.order]]]
    return np.flatnonzero(~slot.absent[cell]) if slot.absent.any() else None


def _bands(mantissa: Numbers, uncertainty: Numbers, low: Numbers, high: Numbers) -> Codes:
    """As `uncertainty.band`: U inside both bounds, or wholly beyond one of them, is clear."""
    least, greatest = mantissa - uncertainty, mantissa + uncertainty
    clear = ((least >= low) & (greatest <= high)) | (least > high) | (greatest < low)
    band = np.where(clear, CLEAR, CONDITIONAL).astype(np.int8)
    band[uncertainty < 0] = NO_BAND
    return band
