"""What a door does in each straight piece of its course, and which pieces are one run."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from math import sqrt

from rules.measurement.line import Line
from rules.measurement.segments import Segment, cut_in_two, straight_pieces

STILL = 0.05  # of the median speed; a slower door stands still
LEAST_MOVEMENT = 0.010  # metres; less is a bounce or a sway, no movement of the door
_NOISE_MOVES = 4.0  # standard deviations of the noise that a movement exceeds
_SURE = 3.0  # standard errors within which a slope may be a standstill's
_SLOW = 0.2  # of the fastest piece: the first guess at what is motion at all
_PARTS = 9.0  # variances of the noise that cutting a slow piece must explain
_SHORT = 0.3  # seconds; the speed of a shorter piece says little
_MANY = 10  # points about a line that tell the noise
_FEWEST = 3  # points from which a slope is told


class Doing(StrEnum):
    """What the door does in a stretch of the trace."""

    STANDING = "standing"
    CLOSING = "closing"
    OPENING = "opening"


Run = tuple[Doing, tuple[Segment, ...]]


def runs_of(points: Sequence[Line], noise: float) -> tuple[list[Run], float, float]:
    """What the door does, one run after another, with its median speed while it moves and the
    noise of a point of weight 1, which is not below what the pieces themselves show.
    """
    pieces = straight_pieces(points, noise)
    noise = max(noise, _scatter(pieces))
    least = max(LEAST_MOVEMENT, _NOISE_MOVES * noise)
    speed = _usual_speed(pieces, noise, least)
    pieces = [part for piece in pieces for part in _parted(piece, points, speed, noise)]
    doings = _told_by_levels(pieces, [_doing(piece, speed, noise) for piece in pieces], least)
    runs = _joined([(doing, (piece,)) for doing, piece in zip(doings, pieces, strict=True)])
    runs = _joined([(_settled(runs, number, least), run[1]) for number, run in enumerate(runs)])
    return runs, speed, noise


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


def _parted(
    piece: Segment, points: Sequence[Line], speed: float, noise: float
) -> tuple[Segment, ...]:
    """A slow piece, cut where it is a standstill and the slow end of a motion that the noise has
    run together; any other as it is.
    """
    slow = (
        abs(piece.line.slope) < _SLOW * speed and _doing(piece, speed, noise) is not Doing.STANDING
    )
    if not slow or piece.last - piece.first + 1 < 2 * _FEWEST:
        return (piece,)
    one, other = cut_in_two(piece, points)
    gained = piece.line.misfit - one.line.misfit - other.line.misfit
    stands = Doing.STANDING in (_doing(one, speed, noise), _doing(other, speed, noise))
    return (one, other) if stands and gained > _PARTS * noise * noise else (piece,)


def _doing(piece: Segment, speed: float, noise: float) -> Doing | None:
    """What the door does in one piece; None where it is too short to say."""
    slope, still = piece.line.slope, STILL * speed
    slow = not speed or abs(slope) <= still + _SURE * piece.line.slope_error(noise)
    unsure = slow and abs(slope) > still and piece.lasts < _SHORT
    if unsure or piece.last - piece.first + 1 < _FEWEST:
        return None
    if slow:
        return Doing.STANDING
    return Doing.CLOSING if slope > 0 else Doing.OPENING


def _told_by_levels(
    pieces: Sequence[Segment], doings: Sequence[Doing | None], least: float
) -> list[Doing | None]:
    """The same, with what is too short to say between two standstills told by how far they are
    apart: the door has moved from one to the other.
    """
    told = list(doings)
    before = None
    for n, doing in enumerate(doings):
        if doing is None:
            continue
        if before is not None and doing is doings[before] is Doing.STANDING and n > before + 1:
            led = pieces[n].enters - pieces[before].leaves
            moved = Doing.CLOSING if led > 0 else Doing.OPENING
            if abs(led) >= least:
                told[before + 1 : n] = [moved] * (n - before - 1)
        before = n
    return told


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
