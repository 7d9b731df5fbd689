"""Readings as `judge` takes them: decimal texts, rounded by their uncertainty."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from math import floor, log10

_DIGITS_OF_UNCERTAINTY = 2
_DIGITS_WITHOUT = 6
_MOST_DECIMALS = 9

Reading = dict[str, object]


def reading(
    quantity: str, value: float, unit: str, error: float | None = None, **more: object
) -> Reading:
    """One reading. `error` is its standard error, stated doubled as `uncertainty` (k = 2); where
    the trace tells none, none is stated.

    The uncertainty has two digits, rounded up, and the value as many decimals as it.
    """
    doubled = 2 * error if error else 0.0
    decimals = _decimals(doubled or abs(value), _DIGITS_OF_UNCERTAINTY if doubled else None)
    answer: Reading = {"quantity": quantity, "value": decimal(value, decimals), "unit": unit}
    if doubled:
        answer["uncertainty"] = decimal(doubled, decimals, ROUND_CEILING)
    return {**answer, **more}


def exact_reading(
    quantity: str, value: Fraction, unit: str, uncertainty: float | None = None, **more: object
) -> Reading:
    """One reading whose value is exact; a value without end is cut after nine decimals, more
    than any limit is stated with. `uncertainty` is U (k = 2).
    """
    answer: Reading = {"quantity": quantity, "value": fraction_text(value), "unit": unit}
    if uncertainty:
        decimals = _decimals(uncertainty, _DIGITS_OF_UNCERTAINTY)
        answer["uncertainty"] = decimal(uncertainty, decimals, ROUND_CEILING)
    return {**answer, **more}


def number(value: float, error: float | None = None) -> str:
    """A number by itself, rounded as a reading is."""
    return str(reading("", value, "", error)["value"])


def significant(value: float, digits: int) -> str:
    """A number with that many significant digits, without trailing zeros."""
    text = decimal(value, _decimals(abs(value), digits))
    return text.rstrip("0").rstrip(".") if "." in text else text


def fraction_text(value: Fraction) -> str:
    """An exact number as a decimal text, of at most nine decimals, without trailing zeros."""
    text = decimal(value, _MOST_DECIMALS)
    return text.rstrip("0").rstrip(".") if "." in text else text


def decimal(value: float | Fraction, decimals: int, rounding: str = ROUND_HALF_EVEN) -> str:
    """The value with that many decimals, never minus zero and never with an exponent."""
    scaled = Fraction(repr(value) if isinstance(value, float) else value) * 10**decimals
    steps = (
        -(-scaled.numerator // scaled.denominator) if rounding == ROUND_CEILING else round(scaled)
    )
    return f"{Decimal(steps).scaleb(-decimals):f}"


def _decimals(size: float, digits: int | None) -> int:
    """Decimals that show that many significant digits of a size."""
    if size <= 0:
        return 0
    wanted = (digits or _DIGITS_WITHOUT) - 1 - floor(log10(size))
    return max(0, min(_MOST_DECIMALS, wanted))
