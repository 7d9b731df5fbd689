"""Whether an instrument can carry a "conforms". A flaw never turns a result into a failure."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from rules.judging.notes import Note
from rules.judging.readings import Reading

# The rule of ten of measuring practice: a gauge shows at least ten steps over what it must tell
# apart, here the width of a two-sided limit or the distance of a one-sided limit from zero. A limit
# of nought asks nothing of a gauge.
STEPS = 10

CALIBRATION_EXPIRED = "calibration_expired"
TOO_COARSE = "instrument_too_coarse"


def flaws(reading: Reading, on: date, span: Fraction) -> list[Note]:
    """What speaks against the instrument on that day; `span` is in the unit of the reading.

    A calibration is good on the day it falls due and expired from the day after.
    """
    found = []
    where = f"/readings/{reading.position}"
    due = reading.calibration_due_on
    if due is not None and due < on:
        message = f"The instrument of {where} was due for calibration on {due}."
        found.append(Note(CALIBRATION_EXPIRED, message))
    if reading.resolution is not None and span and reading.resolution * STEPS > span:
        message = (
            f"The instrument of {where} shows fewer than {STEPS} steps over what this limit must "
            "tell apart."
        )
        found.append(Note(TOO_COARSE, message))
    return found
