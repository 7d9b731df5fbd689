"""Tells, a line a step, what a long piece of work does and how far it has come."""

from __future__ import annotations

import time
from collections.abc import Callable
from textwrap import wrap
from typing import Protocol

_WIDTH = 120
_QUARTERS = 4


class Out(Protocol):
    """Where the lines go."""

    def write(self, line: str, /) -> object:
        """Write one line."""


class Narrator:
    """Numbers the steps and shows the seconds since the beginning."""

    def __init__(self, out: Out) -> None:
        """Begin now."""
        self._out = out
        self._began = time.monotonic()
        self._steps = 0

    def step(self, words: str) -> None:
        """A step begins."""
        self._steps += 1
        self._write(f"[{self.seconds:6.1f} s] {self._steps:2}. ", words)

    def line(self, words: str) -> None:
        """What came of it."""
        self._write(" " * 15, words)

    def caution(self, words: str) -> None:
        """What must be heeded before the next step is done at a real door."""
        self._write(" " * 11 + "(!) ", words)

    def progress(self, what: str) -> Callable[[int, int], None]:
        """Tell at each quarter of a long step how much of it is done."""
        told = 0

        def tell(done: int, total: int) -> None:
            nonlocal told
            quarter = done * _QUARTERS // total
            if quarter > told:
                told = quarter
                self.line(f"{done} of {total} {what}, {self.seconds:.1f} s")

        return tell

    @property
    def seconds(self) -> float:
        """Since the beginning."""
        return time.monotonic() - self._began

    def _write(self, lead: str, words: str) -> None:
        lines = wrap(words, _WIDTH - len(lead)) or [""]
        self._out.write(lead + lines[0])
        for more in lines[1:]:
            self._out.write(" " * len(lead) + more)
