"""A picture as plain shapes: what the two drawers draw, and all they know of it.

Lengths are points of 1/72 inch; the origin is the lower left corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: width, grey (0 black, 1 white) and dashes; no colours at all."""

    width: float
    grey: float = 0.0
    dashes: tuple[float, ...] = ()


FRAME = Pen(0.5, grey=0.35)
GRID = Pen(0.25, grey=0.78)
CURVE = Pen(1.0)
LIMIT = Pen(0.9, grey=0.15, dashes=(5, 2.5))
MARK = Pen(0.4, grey=0.3, dashes=(1, 1.6))
SEEN = Pen(0.5, grey=0.4, dashes=(6, 1.5, 1, 1.5))
TREND = Pen(0.6, grey=0.3, dashes=(2, 1.5))
FORECAST = Pen(0.5, grey=0.45, dashes=(0.8, 2.2))


@dataclass(frozen=True, slots=True)
class Line:
    """Straight strokes through the points, in order."""

    points: tuple[XY, ...]
    pen: Pen


@dataclass(frozen=True, slots=True)
class Dot:
    """A filled circle."""

    at: XY
    radius: float


@dataclass(frozen=True, slots=True)
class Label:
    """A short text, its baseline at `at`."""

    at: XY
    text: str
    size: float
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False


Shape = Line | Dot | Label


@dataclass(frozen=True, slots=True)
class Note:
    """A sign that stands in the picture (`1`, `A`), what it means, and where (`at`) in words."""

    sign: str
    at: str
    words: str


@dataclass(frozen=True, slots=True)
class Picture:
    """Shapes in drawing order, and the notes that explain the signs among them.

    The notes hold free text of any length, so they are no shapes: each drawer's surroundings set
    them in lines.
    """

    width: float
    height: float
    title: str
    shapes: tuple[Shape, ...]
    notes: tuple[Note, ...]
