"""When a door turns, from closing to opening or back, without standing still between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rules.measurement.line import Line
from rules.measurement.ramps import Edge, Fit, Point, run, weighed_edge

_REACH = 0.8  # seconds about the coarse turn in which the real one is sought
_TRIES = 28
_GOLDEN = 0.6180339887498949
_ASIDE = 0.02  # seconds
_TINY = 1e-12


def turn(points: Sequence[Line], about: float, noise: float) -> Edge:
    """The edge between two motions in opposite senses, sought about a moment: the door is taken
    to lose its speed evenly and then to gather the other one evenly, each over the same ramp.
    """
    rows = [(p.time, p.value, p.weight) for p in points]
    return weighed_edge(lambda ramp: _best_fit(rows, about, ramp), noise, len(rows))


def _best_fit(points: list[Point], middle: float, ramp: float) -> Fit:
    """Golden-section search for the moment that fits best with one ramp."""
    low, high = middle - _REACH, middle + _REACH
    one, other = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_one, at_other = _fit_at(points, one, ramp), _fit_at(points, other, ramp)
    for _ in range(_TRIES):
        if at_one.misfit <= at_other.misfit:
            high, other, at_other = other, one, at_one
            one = high - _GOLDEN * (high - low)
            at_one = _fit_at(points, one, ramp)
        else:
            low, one, at_one = one, other, at_other
            other = low + _GOLDEN * (high - low)
            at_other = _fit_at(points, other, ramp)
    best = min(at_one, at_other, key=lambda fit: fit.misfit)
    beside = [_fit_at(points, best.time + aside, ramp).misfit for aside in (-_ASIDE, _ASIDE)]
    bend = (sum(beside) / 2 - best.misfit) / _ASIDE**2
    variance = min(1.0, 1 / bend) if bend > 1 else 1.0
    return replace(best, time_variance=variance)


def _fit_at(points: list[Point], time: float, ramp: float) -> Fit:
    """Least squares for the position of the turn and both speeds, with moment and ramp given."""
    total = at = fore = back = 0.0
    rows = []
    for moment, position, weight in points:
        a, b = run(time - moment, ramp)[0], run(moment - time, ramp)[0]
        rows.append((a, b, position, weight))
        total += weight
        fore, back, at = fore + weight * a, back + weight * b, at + weight * position
    fore, back, at = fore / total, back / total, at / total
    aa = ab = bb = ax = bx = xx = 0.0
    for into, out, position, weight in rows:
        a, b, x = into - fore, out - back, position - at
        aa, ab, bb = aa + weight * a * a, ab + weight * a * b, bb + weight * b * b
        ax, bx, xx = ax + weight * a * x, bx + weight * b * x, xx + weight * x * x
    whole = aa * bb - ab * ab
    if whole <= _TINY:
        return Fit(ramp, time, at, xx, 1.0, 1 / total, 0.0)
    speed, other = (ax * bb - bx * ab) / whole, (bx * aa - ax * ab) / whole
    spread = (fore * fore * bb - 2 * fore * back * ab + back * back * aa) / whole
    misfit = max(0.0, xx - speed * ax - other * bx)
    level = at - speed * fore - other * back
    return Fit(ramp, time, level, misfit, 1.0, 1 / total + spread, speed)
