"""A robust trend through dated values: Theil-Sen slope and the Mann-Kendall test.

Slope and interval follow Sen (1968) as EPA 530/R-09-007, chapter 17, uses them: the interval's
ends are interpolated among the ordered pairwise slopes at ranks (N - C)/2 and (N + C)/2 + 1 with
C = z times the standard deviation of Kendall's S; the line passes through both medians. The test
is two-sided with the continuity correction, exact where nothing is tied and there are few values.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, factorial, floor, sqrt
from statistics import NormalDist, median

_EXACT_UP_TO = 33  # values; beyond, the normal approximation is as good
_CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Trend:
    """Slope with its 95 % interval (None where there are too few pairs for one), the point the
    line passes through, and the Mann-Kendall test for it.
    """

    slope: float
    low: float | None
    high: float | None
    at: float
    level: float
    score: int
    variance: float
    tau: float
    z: float
    probability: float

    @property
    def intercept(self) -> float:
        """The line's value at time zero."""
        return self.level - self.slope * self.at


def trend_of(times: Sequence[float], values: Sequence[float]) -> Trend | None:
    """The trend of values at times; None where all times are one."""
    slopes = sorted(
        (values[j] - values[i]) / (times[j] - times[i])
        for i in range(len(times))
        for j in range(i + 1, len(times))
        if times[i] != times[j]
    )
    if not slopes:
        return None
    score = sum((slope > 0) - (slope < 0) for slope in slopes)
    variance = _variance(times, values)
    low, high = _interval(slopes, sqrt(variance))
    z = (score - (score > 0) + (score < 0)) / sqrt(variance) if variance else 0.0
    return Trend(
        slope=median(slopes),
        low=low,
        high=high,
        at=median(times),
        level=median(values),
        score=score,
        variance=variance,
        tau=_tau(score, times, values),
        z=z,
        probability=_probability(score, z, times, values),
    )


def _interval(slopes: list[float], deviation: float) -> tuple[float | None, float | None]:
    reach = NormalDist().inv_cdf((1 + _CONFIDENCE) / 2) * deviation
    low, high = (len(slopes) - reach) / 2, (len(slopes) + reach) / 2 + 1
    if low < 1 or high > len(slopes):
        return None, None
    return _ranked(slopes, low), _ranked(slopes, high)


def _ranked(ordered: list[float], rank: float) -> float:
    """The value at a rank counted from 1, interpolated."""
    below = floor(rank)
    above = min(below, len(ordered) - 1)
    return ordered[below - 1] + (rank - below) * (ordered[above] - ordered[below - 1])


def _ties(values: Sequence[float]) -> list[int]:
    return [count for count in Counter(values).values() if count > 1]


def _variance(times: Sequence[float], values: Sequence[float]) -> float:
    """The variance of Kendall's S with ties among times and among values (Kendall 1970)."""
    n = len(times)
    first = n * (n - 1) * (2 * n + 5)
    second, third = [1, 1], [1, 1]
    for place, ties in enumerate((_ties(times), _ties(values))):
        first -= sum(t * (t - 1) * (2 * t + 5) for t in ties)
        second[place] = sum(t * (t - 1) * (t - 2) for t in ties)
        third[place] = sum(t * (t - 1) for t in ties)
    variance = first / 18 + third[0] * third[1] / (2 * n * (n - 1))
    if second[0] and second[1]:
        variance += second[0] * second[1] / (9 * n * (n - 1) * (n - 2))
    return max(0.0, variance)


def _tau(score: int, times: Sequence[float], values: Sequence[float]) -> float:
    """Kendall's tau-b."""
    pairs = len(times) * (len(times) - 1) // 2
    untied = [pairs - sum(t * (t - 1) // 2 for t in _ties(each)) for each in (times, values)]
    return score / sqrt(untied[0] * untied[1]) if all(untied) else 0.0


def _probability(score: int, z: float, times: Sequence[float], values: Sequence[float]) -> float:
    """How likely such a score, or one farther from zero, is without any trend."""
    n = len(times)
    if n > _EXACT_UP_TO or _ties(times) or _ties(values):
        return erfc(abs(z) / sqrt(2))
    ways = [1]  # of the number of inversions of 1, 2, … n values
    for size in range(2, n + 1):
        longer = [0] * (len(ways) + size - 1)
        for inversions, count in enumerate(ways):
            for more in range(size):
                longer[inversions + more] += count
        ways = longer
    fewest = (n * (n - 1) // 2 - abs(score)) // 2
    return min(1.0, 2 * sum(ways[: fewest + 1]) / factorial(n))
