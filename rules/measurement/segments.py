"""A noisy course cut into as few straight pieces as the noise allows."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count, pairwise

from rules.measurement.line import Line, line_through

# A cut must lower the sum of squares by this many variances of the noise: the three numbers that
# come free with it (slope, level, place) would explain less by chance in all but rare traces.
CUT_COST = 25.0
_REACH = 6  # how far a cut is moved to fit better, in points each way
GAP = 0.5  # seconds without a sample, in which a door may have stopped
_USUAL_STEPS = 3  # a gap is longer than so many usual steps from sample to sample
_TELL = 3  # points that tell a line; fewer fit any that bridges a gap


@dataclass(frozen=True, slots=True)
class Segment:
    """Points `first` to `last`, both in it, from time `start` to `stop`, with their line."""

    first: int
    last: int
    line: Line
    start: float
    stop: float

    @property
    def lasts(self) -> float:
        """Seconds from the first point to the last."""
        return self.stop - self.start

    @property
    def enters(self) -> float:
        """The line's value at the first point."""
        return self.line.at(self.start)

    @property
    def leaves(self) -> float:
        """The line's value at the last point."""
        return self.line.at(self.stop)


def gap_among(points: Sequence[Line]) -> float:
    """Seconds from one point to the next from which on they are a gap."""
    steps = sorted(after.time - before.time for before, after in pairwise(points))
    return max(GAP, _USUAL_STEPS * steps[len(steps) // 2])


def straight_pieces(points: Sequence[Line], noise: float) -> list[Segment]:
    """The points, in order of time, as straight pieces; `noise` is that of weight 1. No piece
    bridges a gap in which it has but a point or two on one side.
    """
    most, gap = CUT_COST * noise * noise, gap_among(points)
    single = [Segment(i, i, point, point.time, point.time) for i, point in enumerate(points)]
    pieces = _Chain(single, gap).merged(most)
    return _Chain(_adjusted(pieces, points), gap).merged(most)


class _Chain:
    """Neighbouring pieces, joined two and two, cheapest first."""

    def __init__(self, pieces: list[Segment], gap: float) -> None:
        self._gap = gap
        self._at: list[Segment | None] = [*pieces, None]
        self._before = list(range(-1, len(pieces)))
        self._after = list(range(1, len(pieces) + 1))
        self._offers: list[tuple[float, int, int, Segment, Segment, Segment]] = []
        self._serial = count()
        for place in range(len(pieces)):
            self._offer(place)

    def merged(self, most: float) -> list[Segment]:
        """The pieces left when every further joining costs more than that."""
        while self._offers:
            cost, _, place, one, other, both = heapq.heappop(self._offers)
            if cost > most:
                break
            following = self._after[place]
            if self._at[place] is one and self._at[following] is other:
                self._join(place, following, both)
        return [piece for piece in self._at if piece]

    def _join(self, place: int, following: int, both: Segment) -> None:
        self._at[place], self._at[following] = both, None
        self._after[place] = self._after[following]
        self._before[self._after[place]] = place
        self._offer(place)
        if self._before[place] >= 0:
            self._offer(self._before[place])

    def _offer(self, place: int) -> None:
        """Offer to join the piece at a place with the next one, if there is one."""
        one, other = self._at[place], self._at[self._after[place]]
        if one is None or other is None:
            return
        fewer = min(one.last - one.first, other.last - other.first) + 1
        if other.start - one.stop > self._gap and fewer < _TELL:
            return
        line = one.line.joined(other.line)
        cost = line.misfit - one.line.misfit - other.line.misfit
        both = Segment(one.first, other.last, line, one.start, other.stop)
        heapq.heappush(self._offers, (cost, next(self._serial), place, one, other, both))


def _adjusted(pieces: list[Segment], points: Sequence[Line]) -> list[Segment]:
    """The same pieces with each cut moved to where the two beside it fit best."""
    moved = list(pieces)
    for number in range(len(moved) - 1):
        moved[number : number + 2] = _best_cut(moved[number], moved[number + 1], points)
    return moved


def cut_in_two(piece: Segment, points: Sequence[Line]) -> tuple[Segment, Segment]:
    """A piece of at least two points, cut where the two halves fit best."""
    return _cut(piece, piece.first, piece.last - 1, points)


def _best_cut(one: Segment, other: Segment, points: Sequence[Line]) -> tuple[Segment, Segment]:
    whole = Segment(one.first, other.last, one.line, one.start, other.stop)
    low = max(one.first, one.last - _REACH)
    return _cut(whole, low, min(other.last - 1, one.last + _REACH), points)


def _cut(piece: Segment, low: int, high: int, points: Sequence[Line]) -> tuple[Segment, Segment]:
    """The piece as two, the first one ending between two points, both in the choice."""
    before = [line_through(points[piece.first : low + 1])]
    for point in points[low + 1 : high + 1]:
        before.append(before[-1].joined(point))
    behind = [line_through(points[high + 1 : piece.last + 1])]
    for point in reversed(points[low + 1 : high + 1]):
        behind.append(point.joined(behind[-1]))
    behind.reverse()
    misfits = [a.misfit + b.misfit for a, b in zip(before, behind, strict=True)]
    best = misfits.index(min(misfits))
    cut = low + best
    return (
        Segment(piece.first, cut, before[best], piece.start, points[cut].time),
        Segment(cut + 1, piece.last, behind[best], points[cut + 1].time, piece.stop),
    )
