"""How long a door takes to open to the required width, from its course."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt

from rules.measurement.answer import Reading, reading
from rules.measurement.motion import Stretch
from rules.measurement.runs import Doing
from rules.measurement.segments import Segment


def time_to_width(
    course: Sequence[Stretch], target: float, since: float | None, noise: float
) -> Reading | None:
    """`opening_time_to_width` from the moment `since`, or from the first motion where no signal
    is known, until the leading edge has opened to the level `target`; None where it never does.
    """
    for stretch in course:
        if stretch.doing is not Doing.OPENING:
            continue
        for piece in stretch.pieces:
            if piece.leaves <= target:
                return _reading(course[0], _crossing(piece, target), since, _error(piece, noise))
        ends = stretch.ends
        if ends.level <= target + 2 * ends.level_error:
            return _reading(course[0], ends.time, since, ends.time_error)
    return None


def _crossing(piece: Segment, target: float) -> float:
    if piece.enters <= target or not piece.line.slope:
        return piece.start
    return piece.line.time + (target - piece.line.value) / piece.line.slope


def _error(piece: Segment, noise: float) -> float:
    """Seconds that the level's standard error makes of the moment."""
    speed = abs(piece.line.slope)
    return noise / sqrt(piece.line.weight) / speed if speed else 0.0


def _reading(first: Stretch, until: float, since: float | None, error: float) -> Reading:
    if since is None:
        since, error = first.begins.time, hypot(error, first.begins.time_error)
    return reading("opening_time_to_width", max(0.0, until - since), "s", error)
