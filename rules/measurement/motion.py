"""What a leading edge did: standing, closing and opening, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import hypot, sqrt

from rules.errors import InputError
from rules.measurement.edges import motion_begins, motion_ends, standstill
from rules.measurement.line import Line
from rules.measurement.ramps import Edge
from rules.measurement.segments import Segment, straight_pieces
from rules.measurement.turns import turn

MOST_STRETCHES = 100
STILL = 0.05  # of the median speed; a slower door stands still
LEAST_MOVEMENT = 0.010  # metres; less is a bounce or a sway, no movement of the door
_NOISE_MOVES = 4.0  # standard deviations of the noise that a movement exceeds
_SURE = 3.0  # standard errors within which a slope may be a standstill's
_SLOW = 0.2  # of the fastest piece: the first guess at what is motion at all
_SHORT = 0.3  # seconds; the speed of a shorter piece says little
_CLOSE = 0.3  # seconds to each side of an edge in which every point counts by itself
_APART = 0.1  # seconds
_SEEN = 2.0  # seconds to each side of an edge that tell where it is
_MANY = 10  # points about a line that tell the noise
_FEWEST = 3  # points from which a slope is told


_INSTANT = 0.1  # seconds of standstill that are but the moment of a turn


class Doing(StrEnum):
    """What the door does in a stretch of the trace."""

    STANDING = "standing"
    CLOSING = "closing"
    OPENING = "opening"


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


Run = tuple[Doing, tuple[Segment, ...]]


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
    pieces = straight_pieces(points, noise)
    noise = max(noise, _scatter(pieces))
    least = max(LEAST_MOVEMENT, _NOISE_MOVES * noise)
    speed = _usual_speed(pieces, noise, least)
    runs = _joined([(_doing(piece, speed, noise), (piece,)) for piece in pieces])
    runs = _joined([(_settled(runs, number, least), run[1]) for number, run in enumerate(runs)])
    if len(runs) > MOST_STRETCHES:
        message = f"the door starts, stops or turns more than {MOST_STRETCHES} times: cut the trace"
        raise InputError.at("/samples", "too_many_movements", message)
    return Motion(_with_edges(runs, points, noise), speed, noise)


def _scatter(pieces: Sequence[Segment]) -> float:
    """The noise about the straight pieces. Where a sensor's steps are coarse, neighbours err
    alike, and this tells more than they do; where a course bends, the cuts keep it small.
    """
    long = [piece for piece in pieces if piece.last - piece.first >= _MANY]
    freedom = sum(piece.last - piece.first - 1 for piece in long)
    return sqrt(sum(piece.line.misfit for piece in long) / freedom) if freedom else 0.0


def _usual_speed(pieces: Sequence[Segment], noise: float, least: float) -> float:
    """The median speed, by time, of closing; of opening where nothing closes."""
    moving = [
        (piece.line.slope, piece.lasts)
        for piece in pieces
        if abs(piece.line.slope) > _SURE * piece.line.slope_error(noise)
    ]
    moving = [(slope, lasts) for slope, lasts in moving if abs(slope) * lasts > least]
    long = [abs(slope) for slope, lasts in moving if lasts >= _SHORT]
    fastest = max(long or [abs(slope) for slope, _ in moving], default=0.0)
    moving = [(slope, lasts) for slope, lasts in moving if abs(slope) >= _SLOW * fastest]
    closing = [(slope, lasts) for slope, lasts in moving if slope > 0]
    chosen = sorted((abs(slope), lasts) for slope, lasts in closing or moving)
    half = sum(lasts for _, lasts in chosen) / 2
    for speed, lasts in chosen:
        half -= lasts
        if half <= 0:
            return speed
    return 0.0


def _doing(piece: Segment, speed: float, noise: float) -> Doing | None:
    """What the door does in one piece; None where it is too short to say."""
    if piece.last - piece.first + 1 < _FEWEST:
        return None
    slope = piece.line.slope
    if not speed or abs(slope) <= STILL * speed + _SURE * piece.line.slope_error(noise):
        return Doing.STANDING
    return Doing.CLOSING if slope > 0 else Doing.OPENING


def _joined(parts: Sequence[tuple[Doing | None, tuple[Segment, ...]]]) -> list[Run]:
    """Neighbours that do the same as one run; what cannot be said follows the one before it."""
    known = next((doing for doing, _ in parts if doing), Doing.STANDING)
    runs: list[Run] = []
    for doing, pieces in parts:
        known = doing or known
        if runs and runs[-1][0] is known:
            runs[-1] = (known, runs[-1][1] + pieces)
        else:
            runs.append((known, pieces))
    return runs


def _settled(runs: list[Run], number: int, least: float) -> Doing:
    """What a run does, taken for standing where it leads nowhere."""
    doing, pieces = runs[number]
    if doing is Doing.STANDING:
        return doing
    start, stop = pieces[0].enters, pieces[-1].leaves
    if number:
        start = runs[number - 1][1][-1].leaves
    if number + 1 < len(runs):
        stop = runs[number + 1][1][0].enters
    led = stop - start if doing is Doing.CLOSING else start - stop
    return doing if led >= least else Doing.STANDING


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
