"""Whether a reading looks as if its unit were mixed up, against this door's own past.

Such a reading is marked for a person to confirm. It is never converted; its verdict stands.
"""

from __future__ import annotations

from fractions import Fraction
from statistics import median

from rules.judging.notes import Note, shown
from rules.judging.readings import Reading
from rules.quantities import with_unit

# Ratios of the force units people mix up: lbf in 1 kgf, N in 1 lbf, N in 1 kgf.
RATIOS = {text: Fraction(text) for text in ("2.20", "4.45", "9.81")}
TOLERANCE = Fraction("0.05")
UNIT_TO_BE_CONFIRMED = "unit_to_be_confirmed"


def doubt(reading: Reading) -> Note | None:
    """A note where the reading is one of RATIOS times the median of its history, or that median
    times the reading, within TOLERANCE, both ends inside. None without a history.
    """
    if not reading.history or not reading.value:
        return None
    usual = median(reading.history)
    if not usual:
        return None
    ratio = reading.value / usual
    for text, known in RATIOS.items():
        if abs(ratio / known - 1) <= TOLERANCE:
            return Note(UNIT_TO_BE_CONFIRMED, _sentence(reading, usual, text))
        if abs(ratio * known - 1) <= TOLERANCE:
            return Note(UNIT_TO_BE_CONFIRMED, _sentence(reading, usual, f"1/{text}"))
    return None


def _sentence(reading: Reading, usual: Fraction, factor: str) -> str:
    return (
        f"{reading.shown} is about {factor} times the median of this door's past readings "
        f"({with_unit(shown(usual), reading.unit)}), as when a unit was mixed up: confirm the unit."
    )
