"""Where a motion ends that fades out, or begins that creeps up: by the speed of a standstill."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

from rules.measurement.ramps import Edge
from rules.measurement.runs import STILL
from rules.measurement.segments import Segment

_SLOW = 0.3  # of the median speed; a faster piece ends at an edge
_SURE = 3.0  # standard errors by which a slope differs from none


def faded(edge: Edge, moves: Segment, stands: Segment, speed: float, noise: float) -> Edge:
    """The edge between a slow piece of a motion and a piece of standstill that creeps on beside
    it: where the speed, taken to change evenly from the middle of the one to that of the other,
    is that of a standstill. It may be anywhere between those middles. Any other edge as it is.
    """
    slow, slower = moves.line, stands.line
    sense = 1 if slow.slope > 0 else -1
    still, creep = STILL * speed, sense * slower.slope
    slows = creep < sense * slow.slope < _SLOW * speed
    if not slows or creep < _SURE * slower.slope_error(noise):
        return edge
    share = (sense * slow.slope - still) / (sense * slow.slope - creep)
    apart = slower.time - slow.time
    time = slow.time + min(1.0, max(0.0, share)) * apart
    within = moves.start <= time <= moves.stop
    hidden = hypot(edge.hidden, apart / sqrt(12))
    level = slow.at(time) if within else slower.at(time)
    return replace(edge, time=time, level=level, hidden=hidden, ramp=0.0)
