"""A remark on a verdict: a machine word and a plain sentence. A note changes no verdict."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from rules.quantities import rounded_ratio

_PLACES = (12, 24, 48, 96)  # the smallest difference of two readable numbers shows in these


class Note(NamedTuple):
    """One remark for the person who reads the verdict."""

    code: str
    message: str

    def json(self) -> dict[str, str]:
        """The note as the answer carries it."""
        return {"code": self.code, "message": self.message}


def shown(value: Fraction) -> str:
    """A number for display, never rounded to nought where it is not nought."""
    return shown_ratio(*value.as_integer_ratio())


def shown_ratio(numerator: int, denominator: int) -> str:
    """As `shown`, of two whole numbers."""
    text = rounded_ratio(numerator, denominator)
    if text != "0" or not numerator:
        return text
    texts = (rounded_ratio(numerator, denominator, places) for places in _PLACES)
    return next(text for text in texts if text != "0")
