"""Characters that cannot be shown, or that reorder or hide others, as a mark one can read.

Nothing is dropped: an override of writing direction in a remark is printed as `[U+202E]`, so a
reader sees that it is there and it changes nothing around it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

_KEPT = frozenset(map(ord, "\n\t"))
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def mark(code: int) -> str:
    """The visible mark of a code point, such as `[U+4E2D]`."""
    return f"[U+{code:04X}]"


def hidden(code: int) -> bool:
    """Whether a code point has no shape of its own: controls, format, unassigned, private."""
    return unicodedata.category(chr(code)) in _HIDDEN


def right_to_left(code: int) -> bool:
    """Whether a code point belongs to a script written from right to left.

    A drawer that does not reorder would print such a word backwards, which reads as another word.
    """
    return unicodedata.bidirectional(chr(code)) in _RIGHT_TO_LEFT


class Marks(dict[int, str]):
    """A table for `str.translate` that turns what `shows` refuses into marks, learnt as it goes."""

    def __init__(self, shows: Callable[[int], bool]) -> None:
        super().__init__()
        self._shows = shows

    def __missing__(self, code: int) -> str:
        keep = code in _KEPT or (not hidden(code) and self._shows(code))
        self[code] = shown = chr(code) if keep else mark(code)
        return shown
