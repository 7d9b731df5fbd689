"""Straight lines through samples, kept as moments so that two neighbours merge in one step."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, sqrt


@dataclass(frozen=True, slots=True)
class Line:
    """Moments of weighted samples: weight, means, and sums of products about the means.

    Held about the means, so that samples far from the origin lose no digits.
    """

    weight: float
    time: float
    value: float
    tt: float = 0.0
    tv: float = 0.0
    vv: float = 0.0

    def joined(self, other: Line) -> Line:
        """The moments of both sets of samples together."""
        weight = self.weight + other.weight
        share = other.weight / weight
        step, rise = other.time - self.time, other.value - self.value
        both = self.weight * share
        return Line(
            weight,
            self.time + step * share,
            self.value + rise * share,
            self.tt + other.tt + both * step * step,
            self.tv + other.tv + both * step * rise,
            self.vv + other.vv + both * rise * rise,
        )

    @property
    def slope(self) -> float:
        """The slope of the least-squares line; zero where one moment tells none."""
        return self.tv / self.tt if self.tt > 0 else 0.0

    @property
    def misfit(self) -> float:
        """The weighted sum of squares about the line."""
        return max(0.0, self.vv - self.slope * self.tv)

    def at(self, time: float) -> float:
        """The line's value at a time."""
        return self.value + self.slope * (time - self.time)

    def slope_error(self, noise: float) -> float:
        """The standard error of the slope where one sample of weight 1 has that noise."""
        return noise / sqrt(self.tt) if self.tt > 0 else inf


def line_through(points: Iterable[Line]) -> Line:
    """All of them as one line; at least one."""
    iterator = iter(points)
    line = next(iterator)
    for point in iterator:
        line = line.joined(point)
    return line
