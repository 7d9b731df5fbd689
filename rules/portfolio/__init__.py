"""Many visits at once: the readings of a whole portfolio against the same compiled limits.

This is the only package that needs NumPy (the extra `portfolio`). It judges limits alone, and
says of every visit and requirement exactly what `judge` says: readings are compared as whole
numbers, and repeats that whole numbers cannot settle go through the single engine.
"""

from __future__ import annotations

from rules.portfolio.arrays import Limits, Numbers, Readings
from rules.portfolio.codes import BANDS, NO_VERDICT, WORDS
from rules.portfolio.repeats import Repeats
from rules.portfolio.rows import judge_rows
from rules.portfolio.verdicts import Judged, Line

__all__ = ["BANDS", "NO_VERDICT", "WORDS", "Judged", "Limits", "Line", "Readings", "judge_readings"]


def judge_readings(limits: Limits, of_visit: Numbers, readings: Readings) -> Judged:
    """Judge every reading against every limit on its quantity; visit v is under the set numbered
    `of_visit[v]`. Limits without a reading have no line.
    """
    rows = judge_rows(limits, of_visit, readings)
    if readings.order is None:
        return Judged(limits, readings.visit, rows)
    repeats = Repeats.of(readings, readings.order)
    visit = readings.visit[repeats.order[repeats.starts]]
    return Judged(limits, visit, repeats.together(limits, rows))
