"""The mean speed of a closing, and what leaves it in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt

from rules.measurement.motion import Stretch, doubt
from rules.measurement.runs import Doing

STOP = 0.5  # seconds of standstill


@dataclass(frozen=True, slots=True)
class Pace:
    """A mean speed in m/s and its standard error."""

    speed: float
    error: float


def pace_of(course: Sequence[Stretch], sensor_error: float) -> Pace | None:
    """The mean speed while a door closes; None where it does not. Standstills between two
    closings that are too short for a stop belong to it.

    Its error takes in, besides the noise and the sensor, the whole of every standstill of which
    the noise leaves open whether it is a stop, and the time that the door may have stood in a gap
    between two samples: twice the error reaches what the speed is without them.
    """
    closings = [stretch for stretch in course if stretch.doing is Doing.CLOSING]
    if not closings:
        return None
    between = [
        here
        for before, here, after in zip(course, course[1:], course[2:], strict=False)
        if here.doing is Doing.STANDING and before.doing is after.doing is Doing.CLOSING
    ]
    hesitated = [stands for stands in between if stands.lasts < STOP]
    distance = sum(closing.distance for closing in closings)
    lasts = sum(stretch.ends.time - stretch.begins.time for stretch in [*closings, *hesitated])
    doubtful = sum(map(_untold, closings)) + sum(map(_unsure, hesitated))
    unsure = doubtful + sum(_unsure(stands) for stands in between if stands.lasts >= STOP)
    off = hypot(*(closing.off for closing in closings), sensor_error * sqrt(len(closings)))
    error = hypot(off / distance, doubt(closings) / lasts) + unsure / 2 / (lasts - doubtful)
    return Pace(distance / lasts, distance / lasts * error)


def is_doubtful(standstill: Stretch) -> bool:
    """Whether the noise leaves open if it is a stop."""
    return abs(standstill.lasts - STOP) <= 2 * doubt([standstill])


def _unsure(stands: Stretch) -> float:
    """Seconds from edge to edge of a doubtful standstill, none of any other."""
    return stands.ends.time - stands.begins.time if is_doubtful(stands) else 0.0


def _untold(closing: Stretch) -> float:
    """Seconds that the door cannot have needed to come from one straight piece to the next."""
    untold = 0.0
    for one, other in pairwise(closing.pieces):
        fastest = max(one.line.slope, other.line.slope)
        if fastest > 0:
            needed = (other.enters - one.leaves) / fastest
            untold += max(0.0, other.start - one.stop - needed)
    return untold
