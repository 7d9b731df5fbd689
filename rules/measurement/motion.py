"""What a leading edge did: standing, closing and opening, one after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, sqrt

from rules.errors import InputError
from rules.measurement.edges import motion_begins, motion_ends, standstill
from rules.measurement.fading import faded
from rules.measurement.line import Line
from rules.measurement.ramps import Edge
from rules.measurement.runs import STILL, Doing, Run, runs_of
from rules.measurement.segments import Segment, gap_among
from rules.measurement.turns import turn

MOST_STRETCHES = 100
_CLOSE = 0.3  # seconds to each side of an edge in which every point counts by itself
_APART = 0.1  # seconds
_SEEN = (2.0, 1.0, 0.5, 0.3)  # seconds to each side of an edge that tell where it is
_STRAINED = 3.0  # mean square in variances of the noise; such points do not move as was taken
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

    @property
    def off(self) -> float:
        """The standard error of that distance."""
        return hypot(self.begins.level_error, self.ends.level_error)


@dataclass(frozen=True, slots=True)
class Motion:
    """The whole course; `speed` is the median speed of the moving door in m/s, 0 if it stood,
    `noise` that of one sample in metres, and `gaps` are the times from one sample to the next
    between which the door may have done anything.
    """

    stretches: tuple[Stretch, ...]
    speed: float
    noise: float
    gaps: tuple[tuple[float, float], ...]


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
    longest = gap_among(points)
    gaps = tuple(
        (before.time, after.time)
        for before, after in pairwise(points)
        if after.time - before.time > longest
    )
    return Motion(_with_edges(runs, points, speed, noise), speed, noise, gaps)


def _with_edges(
    runs: list[Run], points: Sequence[Line], speed: float, noise: float
) -> tuple[Stretch, ...]:
    first, last = runs[0][1][0], runs[-1][1][-1]
    edges = [
        _cut_off(first.line, first.start, noise),
        *(_edge(one, other, points, noise) for one, other in pairwise(runs)),
        _cut_off(last.line, last.stop, noise),
    ]
    for n in range(1, len(runs) - 1):
        if runs[n][0] is Doing.STANDING and edges[n + 1].time - edges[n].time < _SEEN[0]:
            edges[n : n + 2] = _short_standstill(
                runs[n - 1 : n + 2], (edges[n], edges[n + 1]), points, noise
            )
    for n, (one, other) in enumerate(pairwise(runs), 1):
        if one[0] is Doing.STANDING:
            edges[n] = faded(edges[n], other[1][0], one[1][-1], speed, noise)
        elif other[0] is Doing.STANDING:
            edges[n] = faded(edges[n], one[1][-1], other[1][0], speed, noise)
    for n in range(1, len(runs) - 1):
        if edges[n + 1].time < edges[n].time and runs[n - 1][0] is runs[n + 1][0]:
            pieces = (piece for _, run in runs[n - 1 : n + 2] for piece in run)
            runs = [*runs[: n - 1], (runs[n - 1][0], tuple(pieces)), *runs[n + 2 :]]
            return _with_edges(runs, points, speed, noise)
    return tuple(
        Stretch(doing, pieces, edges[n], edges[n + 1]) for n, (doing, pieces) in enumerate(runs)
    )


def _short_standstill(
    runs: list[Run], edges: tuple[Edge, Edge], points: Sequence[Line], noise: float
) -> list[Edge]:
    """Both edges of the second of three runs, which stands but for a short while: the motions on
    either side are seen at once. A standstill of an instant is a turn.
    """
    before, stands, after = (_points(points, run) for run in runs)

    def seen(reach: float) -> list[Line]:
        return [*_nearer(before[::-1], reach), *stands, *_nearer(after, reach)]

    ends, begins = _fitting(lambda reach: standstill(seen(reach), *edges, noise))
    if begins.time - ends.time < _INSTANT and {runs[0][0], runs[2][0]} == _BOTH:
        about = (edges[0].time + edges[1].time) / 2
        return _fitting(lambda reach: (turn(seen(reach), about, noise),)) * 2
    return [ends, begins]


def _edge(one: Run, other: Run, points: Sequence[Line], noise: float) -> Edge:
    about = (one[1][-1].stop + other[1][0].start) / 2
    before, after = _points(points, one)[::-1], _points(points, other)
    find = motion_begins if one[0] is Doing.STANDING else turn
    find = motion_ends if other[0] is Doing.STANDING else find

    def seen(reach: float) -> list[Line]:
        return [
            *_nearer(before, reach, whole=one[0] is Doing.STANDING),
            *_nearer(after, reach, whole=other[0] is Doing.STANDING),
        ]

    return _fitting(lambda reach: (find(seen(reach), about, noise),))[0]


def _fitting(found: Callable[[float], Sequence[Edge]]) -> list[Edge]:
    """The edges from as far off as the points move evenly, as was taken. Where they do so at no
    distance, what the nearest ones tell, in as much doubt as the last step away from them made.
    """
    farther: Sequence[Edge] = ()
    edges: Sequence[Edge] = ()
    for reach in _SEEN:
        farther, edges = edges or found(reach), found(reach)
        if all(edge.strain < _STRAINED for edge in edges):
            return list(edges)
    return [
        replace(edge, hidden=hypot(edge.hidden, edge.time - far.time))
        for edge, far in zip(edges, farther, strict=True)
    ]


def _points(points: Sequence[Line], run: Run) -> Sequence[Line]:
    return points[run[1][0].first : run[1][-1].last + 1]


def _nearer(points: Sequence[Line], reach: float, *, whole: bool = False) -> list[Line]:
    """The points of a run, from its edge outward, that tell where that edge is: so many seconds
    of them, gaps not counted, and unless its whole is wanted the nearer half, for the other
    belongs to its other edge. Those farther off, where the course is even, are averaged a tenth
    of a second each.
    """
    seen: list[Line] = []
    away, last = 0.0, points[0].time
    for place, point in enumerate(points):
        away += min(_CLOSE, abs(point.time - last))
        last = point.time
        if away > reach or (away > _CLOSE and not whole and place >= len(points) / 2):
            break
        if away > _CLOSE and seen[-1].time // _APART == point.time // _APART:
            seen[-1] = seen[-1].joined(point)
        else:
            seen.append(point)
    return seen


def _cut_off(line: Line, time: float, noise: float) -> Edge:
    """The end of the trace itself: its moment is exact, its position is the line's there."""
    apart = (time - line.time) ** 2 / line.tt if line.tt > 0 else 0.0
    return Edge(time, line.at(time), 0.0, noise * sqrt(1 / line.weight + apart))
