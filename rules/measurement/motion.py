"""What a leading edge did: standing, closing and opening, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt

from rules.errors import InputError
from rules.measurement.edges import motion_begins, motion_ends, standstill
from rules.measurement.line import Line
from rules.measurement.ramps import Edge
from rules.measurement.runs import STILL, Doing, Run, runs_of
from rules.measurement.segments import Segment
from rules.measurement.turns import turn

MOST_STRETCHES = 100
_CLOSE = 0.3  # seconds to each side of an edge in which every point counts by itself
_APART = 0.1  # seconds
_SEEN = 2.0  # seconds to each side of an edge that tell where it is
_INSTANT = 0.1  # seconds of standstill that are but the moment of a turn
_BOTH = {Doing.CLOSING, Doing.OPENING}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A time in which the door does one thing, from edge to edge, in straight pieces."""

    doing: Doing
    pieces: tuple[Segment, ...]
    begins: Edge
    ends: Edge

    @property
    def lasts(self) -> float:
        """Seconds from edge to edge; a standstill takes in what is slower than one beside it."""
        lasts = self.ends.time - self.begins.time
        if self.doing is Doing.STANDING:
            lasts += STILL * (self.begins.ramp + self.ends.ramp)
        return lasts

    @property
    def distance(self) -> float:
        """Metres from its beginning to its end, closing counted positive."""
        return self.ends.level - self.begins.level


@dataclass(frozen=True, slots=True)
class Motion:
    """The whole course; `speed` is the median speed of the moving door in m/s, 0 if it stood, and
    `noise` that of one sample in metres.
    """

    stretches: tuple[Stretch, ...]
    speed: float
    noise: float


def doubt(stretches: Sequence[Stretch]) -> float:
    """The standard error of how long they last together. What the noise hides of the ramps errs
    to the same side at all their edges, so that part is added up, not squared.
    """
    edges = [edge for stretch in stretches for edge in (stretch.begins, stretch.ends)]
    return hypot(*(edge.time_error for edge in edges), sum(edge.hidden for edge in edges))


def course_of(points: Sequence[Line], noise: float) -> Motion:
    """The course through points in order of time, whose positions grow while the door closes.

    `noise` is the standard deviation of a point of weight 1, in metres.
    """
    runs, speed, noise = runs_of(points, noise)
    if len(runs) > MOST_STRETCHES:
        message = f"the door starts, stops or turns more than {MOST_STRETCHES} times: cut the trace"
        raise InputError.at("/samples", "too_many_movements", message)
    return Motion(_with_edges(runs, points, noise), speed, noise)


def _with_edges(runs: list[Run], points: Sequence[Line], noise: float) -> tuple[Stretch, ...]:
    first, last = runs[0][1][0], runs[-1][1][-1]
    edges = [
        _cut_off(first.line, first.start, noise),
        *(_edge(one, other, points, noise) for one, other in pairwise(runs)),
        _cut_off(last.line, last.stop, noise),
    ]
    for n in range(1, len(runs) - 1):
        ends, begins = edges[n], edges[n + 1]
        if runs[n][0] is Doing.STANDING and begins.time - ends.time < _SEEN:
            seen = [
                *_seen(points, runs[n - 1], ends.time),
                *_points(points, runs[n]),
                *_seen(points, runs[n + 1], begins.time),
            ]
            edges[n], edges[n + 1] = standstill(seen, ends, begins, noise)
            lasts = edges[n + 1].time - edges[n].time
            if lasts < _INSTANT and {runs[n - 1][0], runs[n + 1][0]} == _BOTH:
                edges[n] = edges[n + 1] = turn(seen, (ends.time + begins.time) / 2, noise)
    return tuple(
        Stretch(doing, pieces, edges[n], edges[n + 1]) for n, (doing, pieces) in enumerate(runs)
    )


def _edge(one: Run, other: Run, points: Sequence[Line], noise: float) -> Edge:
    about = (one[1][-1].stop + other[1][0].start) / 2
    before, after = _seen(points, one, about), _seen(points, other, about)
    if one[0] is Doing.STANDING:
        return motion_begins([*before, *after], about, noise)
    if other[0] is Doing.STANDING:
        return motion_ends([*before, *after], about, noise)
    return turn([*before, *after], about, noise)


def _points(points: Sequence[Line], run: Run) -> Sequence[Line]:
    return points[run[1][0].first : run[1][-1].last + 1]


def _seen(points: Sequence[Line], run: Run, about: float) -> list[Line]:
    """The points of a run that tell where its edge about that moment is: of a motion the nearer
    half, for the other belongs to its other edge. Those farther off, where the course is even,
    are averaged a tenth of a second each.
    """
    mine = _points(points, run)
    reach = _SEEN
    if run[0] is not Doing.STANDING:
        reach = min(reach, max((mine[-1].time - mine[0].time) / 2, _CLOSE))
    seen: list[Line] = []
    for point in mine:
        away = abs(point.time - about)
        if away > reach:
            continue
        if seen and away > _CLOSE and seen[-1].time // _APART == point.time // _APART:
            seen[-1] = seen[-1].joined(point)
        else:
            seen.append(point)
    return seen or [mine[0] if mine[0].time > about else mine[-1]]


def _cut_off(line: Line, time: float, noise: float) -> Edge:
    """The end of the trace itself: its moment is exact, its position is the line's there."""
    apart = (time - line.time) ** 2 / line.tt if line.tt > 0 else 0.0
    return Edge(time, line.at(time), 0.0, noise * sqrt(1 / line.weight + apart))
