"""The change between two things a door does, when noise may hide how gently it changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, sqrt

_RAMPS = [n / 10 for n in range(13)]  # seconds in which a door may gather its speed, or lose it
_AT_ONCE = 0.3  # an immediate change is as likely as this many seconds of ramps together
_SKEWED = 1.5  # a ramp can hide on one side only: two standard errors of it are not enough
_ROUNDS = 8
_FREE = 4  # numbers that a fit chooses: level, speed, moment and ramp
_SHARPER = 3  # times, in each round

Point = tuple[float, float, float]  # time, position, weight


@dataclass(frozen=True, slots=True)
class Edge:
    """The moment at which one thing ends and the next begins, and the position there.

    `time_error` and `level_error` are standard errors from the noise; `hidden` is the further one
    of the moment because the noise hides how gently the motion begins or ends. The latter errs to
    the same side at every edge of a course. `ramp` is how long the speed takes to change, and
    `speed` what it changes from, or to. `strain` is the mean square by which the points miss the
    best fit, in variances of the noise: well above 1, they do not move as was taken.
    """

    time: float
    level: float
    time_error: float
    level_error: float
    hidden: float = 0.0
    ramp: float = 0.0
    speed: float = 0.0
    strain: float = 1.0


@dataclass(frozen=True, slots=True)
class Fit:
    """The best fit with one ramp; the variances are those for noise 1."""

    ramp: float
    time: float
    level: float
    misfit: float
    time_variance: float
    level_variance: float
    speed: float


def run(since: float, ramp: float) -> tuple[float, float]:
    """How far a motion of final speed 1 has come, and how fast it is, that long after its start:
    its speed grows evenly over the ramp.
    """
    if since <= 0:
        return 0.0, 0.0
    if since < ramp:
        return since * since / (2 * ramp), since / ramp
    return since - ramp / 2, 1.0


def weighed_edge(best_fit: Callable[[float], Fit], noise: float, count: int) -> Edge:
    """The edge over all ramps, each weighed by how well it fits, so that a ramp which the noise
    hides widens the error instead of shifting the answer unseen; `count` is that of the points.
    """
    spacing = _RAMPS[1]
    weighed = _weighed([best_fit(ramp) for ramp in _RAMPS], spacing, noise)
    for _ in range(_ROUNDS):
        if _mean(weighed, lambda fit: fit.ramp)[1] > spacing:
            break
        best = max(weighed, key=lambda pair: pair[1])[0].ramp
        spacing /= _SHARPER
        ramps = {max(0.0, best + spacing * n) for n in range(-6, 7)}
        weighed = _weighed([best_fit(ramp) for ramp in sorted(ramps)], spacing, noise)
    time, hidden = _mean(weighed, lambda fit: fit.time)
    level, level_error = _mean(weighed, lambda fit: fit.level)
    time_variance = _mean(weighed, lambda fit: fit.time_variance)[0]
    level_variance = _mean(weighed, lambda fit: fit.level_variance)[0]
    strain = min(fit.misfit for fit, _ in weighed) / max(1, count - _FREE) / noise**2
    scatter = noise * sqrt(max(1.0, strain))
    return Edge(
        time,
        level,
        scatter * sqrt(time_variance),
        hypot(level_error, scatter * sqrt(level_variance)),
        _SKEWED * hidden,
        _mean(weighed, lambda fit: fit.ramp)[0],
        _mean(weighed, lambda fit: fit.speed)[0],
        strain,
    )


def _weighed(fits: list[Fit], spacing: float, noise: float) -> list[tuple[Fit, float]]:
    """Each fit with its share of the likelihood."""
    least = min(fit.misfit for fit in fits)
    weights = [
        exp((least - fit.misfit) / (2 * noise * noise)) * (1 if fit.ramp else _AT_ONCE / spacing)
        for fit in fits
    ]
    whole = sum(weights)
    return [(fit, weight / whole) for fit, weight in zip(fits, weights, strict=True)]


def _mean(weighed: list[tuple[Fit, float]], of: Callable[[Fit], float]) -> tuple[float, float]:
    mean = sum(weight * of(fit) for fit, weight in weighed)
    return mean, sqrt(sum(weight * (of(fit) - mean) ** 2 for fit, weight in weighed))
