"""Every reading against every limit on its quantity, a cacheful of readings at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.portfolio.arrays import Codes, Flags, Limits, Numbers, Readings, Slot
from rules.portfolio.codes import CONFORMS, DOES_NOT_CONFORM, INCONCLUSIVE, NO_BAND, NO_VERDICT

_CHUNK = 1 << 14  # readings; what is worked out on them stays in the processor's cache
_WORSE = np.int8(INCONCLUSIVE - CONFORMS)
_FALL = np.int8(CONFORMS - DOES_NOT_CONFORM)


@dataclass(frozen=True, slots=True)
class Rows:
    """For each slot and reading its verdict and band; NO_VERDICT where the slot has no limit on
    the reading's quantity.
    """

    cell: Numbers
    verdict: Codes
    band: Codes


def judge_rows(limits: Limits, of_visit: Numbers, readings: Readings) -> Rows:
    """Judge each reading by itself. Raises IndexError for a visit or a set that is not there."""
    count = len(readings.visit)
    first = of_visit * len(limits.measures)
    cells = np.empty(count, np.int64)
    verdict = np.empty((len(limits.slots), count), np.int8)
    band = np.zeros((len(limits.slots), count), np.int8)
    for start in range(0, count, _CHUNK):
        part = slice(start, start + _CHUNK)
        cell = np.add(first[readings.visit[part]], readings.measure[part], out=cells[part])
        if cell.max() >= limits.cells or cell.min() < 0:
            raise IndexError("no such set of requirements")
        for number, slot in enumerate(limits.slots):
            _fill(slot, cell, readings, part, verdict[number, part], band[number, part])
    return Rows(cells, verdict, band)


def _fill(  # noqa: PLR0917 - one inner loop over parallel columns
    slot: Slot, cell: Numbers, readings: Readings, part: slice, verdict: Codes, band: Codes
) -> None:
    mantissa = readings.mantissa[part]
    high = slot.highest.take(cell, mode="clip")
    low = slot.lowest.take(cell, mode="clip") if slot.from_below else None
    inside = mantissa <= high
    if low is not None:
        inside &= mantissa >= low
    np.multiply(inside.view(np.int8), _FALL, out=verdict)
    verdict += DOES_NOT_CONFORM
    if readings.flawed:
        flawed = readings.resolution[part] > slot.coarsest.take(cell, mode="clip")
        flawed |= readings.expired[part]
        flawed &= inside
        verdict += flawed.view(np.int8) * _WORSE
    if slot.some_settled:
        verdict[slot.settled.take(cell, mode="clip")] = INCONCLUSIVE
    if slot.some_absent:
        verdict[slot.absent.take(cell, mode="clip")] = NO_VERDICT
    if readings.uncertain:
        reached = _reached(readings, part, low, high)
        np.add(readings.known[part], reached.view(np.int8), out=band)
        if slot.some_unlimited:
            band[slot.unlimited.take(cell, mode="clip")] = NO_BAND


def _reached(readings: Readings, part: slice, low: Numbers | None, high: Numbers) -> Flags:
    """Whether U reaches across a bound: it is neither wholly inside nor wholly beyond one."""
    least, greatest = readings.least[part], readings.greatest[part]
    reached: Flags = least <= high
    reached &= greatest > high
    if low is not None:
        reached |= (least < low) & (greatest >= low)
    return reached
