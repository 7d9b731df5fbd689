"""When a motion begins at a standstill, or ends in one, between noisy samples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rules.measurement.line import Line
from rules.measurement.ramps import Edge, Fit, Point, run, weighed_edge

_STEPS = 6
_ROUNDS = 3
_LONGEST_STEP = 0.3  # seconds
_ENOUGH = 1e-5  # seconds; a shorter step no longer matters
_TINY = 1e-12


def motion_begins(points: Sequence[Line], about: float, noise: float) -> Edge:
    """The edge between a standstill and the motion after it, sought from about a moment on: the
    door is taken to stand, to gather speed evenly, then to move evenly.
    """
    rows = [(p.time, p.value, p.weight) for p in points]
    return weighed_edge(lambda ramp: _best_fit(rows, about, ramp), noise, len(rows))


def motion_ends(points: Sequence[Line], about: float, noise: float) -> Edge:
    """The edge between a motion and the standstill after it: the same, with time running back."""
    rows = [(-p.time, p.value, p.weight) for p in points]
    edge = weighed_edge(lambda ramp: _best_fit(rows, -about, ramp), noise, len(rows))
    return replace(edge, time=-edge.time, speed=-edge.speed)


def standstill(points: Sequence[Line], ends: Edge, begins: Edge, noise: float) -> tuple[Edge, Edge]:
    """Both edges of a short standstill, whose ramps may meet: each is found again in what the
    motion on the other side leaves of the positions, until neither moves on.
    """
    for _ in range(_ROUNDS):
        rest = [replace(p, value=p.value - moved_since(begins, p.time)) for p in points]
        ends = motion_ends(rest, ends.time, noise)
        rest = [replace(p, value=p.value - moved_until(ends, p.time)) for p in points]
        begins = motion_begins(rest, begins.time, noise)
    return ends, begins


def moved_since(edge: Edge, time: float) -> float:
    """How far the motion that begins at an edge has come."""
    return edge.speed * run(time - edge.time, edge.ramp)[0]


def moved_until(edge: Edge, time: float) -> float:
    """How far the motion that ends at an edge has still to go, with its sign turned."""
    return -edge.speed * run(edge.time - time, edge.ramp)[0]


def _best_fit(points: list[Point], start: float, ramp: float) -> Fit:
    """Least squares for level, speed and start with one ramp (Gauss-Newton)."""
    best, shift = _fit_at(points, start, ramp)
    for _ in range(_STEPS):
        if not shift:
            break
        start += shift
        fit, shift = _fit_at(points, start, ramp)
        if fit.misfit < best.misfit:
            best = fit
    return best


def _fit_at(points: list[Point], start: float, ramp: float) -> tuple[Fit, float]:
    """Least squares for level and speed with start and ramp given, and the step of the start
    that would improve it.
    """
    runs = [run(time - start, ramp) for time, _, _ in points]
    total = sum(weight for _, _, weight in points)
    mean = sum(p[1] * p[2] for p in points) / total
    mean_run = sum(covered * p[2] for (covered, _), p in zip(runs, points, strict=True)) / total
    mean_rate = sum(rate * p[2] for (_, rate), p in zip(runs, points, strict=True)) / total
    rr = rx = xx = ra = aa = ax = 0.0
    for (covered, rate), (_, position, weight) in zip(runs, points, strict=True):
        along, across, value = covered - mean_run, mean_rate - rate, position - mean
        rr += weight * along * along
        rx += weight * along * value
        xx += weight * value * value
        ra += weight * along * across
        aa += weight * across * across
        ax += weight * across * value
    speed = rx / rr if rr > _TINY else 0.0
    whole = rr * aa - ra * ra
    variance = rr / whole / speed**2 if whole > _TINY and speed else 1.0
    level_variance = 1 / total + (mean_run**2 / rr if rr > _TINY else 0.0)
    misfit = max(0.0, xx - speed * rx)
    level = mean - speed * mean_run
    fit = Fit(ramp, start, level, misfit, variance, level_variance, speed)
    return fit, _shift(rx * aa - ax * ra, rr * ax - ra * rx) if whole > _TINY else 0.0


def _shift(speed: float, product: float) -> float:
    """The step of the start, kept short; nothing where it no longer matters."""
    step = product / speed if speed else 0.0
    return max(-_LONGEST_STEP, min(_LONGEST_STEP, step)) if abs(step) > _ENOUGH else 0.0
