"""What a measurement uncertainty does to a verdict: its band, and the probability of conformity.

U is the expanded uncertainty with k = 2, so u = U / 2. Bands follow the non-binary statement of
ILAC-G8:09/2019, clause 4, with the guard band w = U: at exactly U inside a limit the result is
clear, at exactly U beyond it still conditional. The probability follows JCGM 106:2012, clause 7
(from memory), for a normally distributed measurand and no prior knowledge of it.
"""

from __future__ import annotations

from fractions import Fraction
from statistics import NormalDist

from rules.vocabulary import Band

COVERAGE_FACTOR = 2
_CDF = NormalDist().cdf
Rational = Fraction | int


def band(margin: Rational, uncertainty: Rational) -> Band:
    """Whether U reaches the nearest limit; `margin` is the distance to it, positive inside."""
    clear = margin >= uncertainty or margin < -uncertainty
    return Band.CLEAR if clear else Band.CONDITIONAL


def probability_of_conformity(
    value: Rational, low: Rational | None, high: Rational | None, uncertainty: Rational
) -> str:
    """The probability that the true value lies inside both limits, to five decimals.

    All four are in one unit, or in the same part of one. Without any uncertainty it is one or
    nought. The only place where binary floats are used: nothing is decided by them.
    """
    if not uncertainty:
        inside = (low is None or low <= value) and (high is None or value <= high)
        return "1.00000" if inside else "0.00000"
    below_high = 1.0 if high is None else _share_below(high, value, uncertainty)
    below_low = 0.0 if low is None else _share_below(low, value, uncertainty)
    return f"{max(below_high - below_low, 0.0):.5f}"


def _share_below(limit: Rational, value: Rational, uncertainty: Rational) -> float:
    distance = limit - value
    above = COVERAGE_FACTOR * distance.numerator * uncertainty.denominator
    return _CDF(above / (distance.denominator * uncertainty.numerator))
