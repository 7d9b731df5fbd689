"""A remark on a verdict: a machine word and a plain sentence. A note changes no verdict."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from rules.quantities import rounded

_PLACES = (6, 12, 24, 48, 96)


class Note(NamedTuple):
    """One remark for the person who reads the verdict."""

    code: str
    message: str

    def json(self) -> dict[str, str]:
        """The note as the answer carries it."""
        return {"code": self.code, "message": self.message}


def shown(value: Fraction) -> str:
    """A number for display, never rounded to nought where it is not nought."""
    texts = (rounded(value, places) for places in _PLACES)
    return next((text for text in texts if text != "0"), "0") if value else "0"
