"""Rows of measured lines in fixed columns: how high they are, and where they may be broken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from inspections.pdf.lines import wrap
from inspections.pdf.theme import LEADING, SMALL, TABLE

GAP = 7.0  # between columns
PAD = 2.6  # above and below the lines of a row
_INDENT = 12.0  # of a note where the first column is wide
RUN = 8  # a row of at most so many lines is never broken
_LEAST = 3  # lines of a broken row that must fit before the break


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, its share of the width, and how its text is set."""

    title: str
    share: float
    label: bool = False  # small and soft: the name of the value beside it
    right: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """What a row is to say: a text for each column, and a note under all columns but the first.

    `strong` are the columns set in bold; `barred` puts a bar at its side; `link` is the bookmark
    it leads to, whose page number is printed in the last column.
    """

    texts: Sequence[str]
    note: str = ""
    strong: Sequence[int] = ()
    barred: bool = False
    link: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A line as measured: the lines of each cell, and those of its note."""

    cells: tuple[tuple[str, ...], ...]
    note: tuple[str, ...] = ()
    strong: frozenset[int] = frozenset()
    barred: bool = False
    link: str = ""
    continued: bool = False  # the row before is its beginning

    @property
    def deepest(self) -> int:
        """Lines of the longest cell."""
        return max(map(len, self.cells))

    @property
    def height(self) -> float:
        """The height with its padding."""
        lines = self.deepest * TABLE * LEADING + len(self.note) * SMALL * LEADING
        return lines + 2 * PAD + (PAD if self.note else 0)

    def broken(self, room: float) -> tuple[Row, Row] | None:
        """The row in two, the first no higher than `room`; None where that is not worth it.

        A long row can always be broken on an empty page, so no text is ever too long for one.
        """
        if self.deepest <= RUN and len(self.note) <= RUN:
            return None
        fit = int((room - 2 * PAD) / (TABLE * LEADING))
        if fit < self.deepest:
            head = tuple(cell[:fit] for cell in self.cells)
            tail = tuple(cell[fit:] for cell in self.cells)
            halves = self._with(head, ()), self._with(tail, self.note, continued=True)
            return halves if fit >= _LEAST else None
        room -= self.deepest * TABLE * LEADING + 3 * PAD
        fit = max(int(room / (SMALL * LEADING)), 0)
        nothing = tuple(() for _ in self.cells)
        return (
            self._with(self.cells, self.note[:fit]),
            self._with(nothing, self.note[fit:], continued=True),
        )

    def _with(
        self, cells: tuple[tuple[str, ...], ...], note: tuple[str, ...], *, continued: bool = False
    ) -> Row:
        return Row(cells, note, self.strong, self.barred, self.link, continued)


@dataclass(frozen=True, slots=True)
class Layout:
    """Columns laid over a width: where each starts, how wide it is, and the heading's lines."""

    columns: tuple[Column, ...]
    width: float
    ruled: bool = True  # rules between rows, and room for them
    lefts: tuple[float, ...] = field(init=False)
    widths: tuple[float, ...] = field(init=False)
    heading: tuple[tuple[str, ...], ...] = field(init=False)

    def __post_init__(self) -> None:
        room = self.width - GAP * (len(self.columns) - 1)
        total = sum(column.share for column in self.columns)
        widths = tuple(room * column.share / total for column in self.columns)
        lefts = tuple(sum(widths[:i]) + GAP * i for i in range(len(widths)))
        titles = tuple(
            wrap(column.title, width, SMALL, strong=True) if column.title else ()
            for column, width in zip(self.columns, widths, strict=True)
        )
        object.__setattr__(self, "widths", widths)
        object.__setattr__(self, "lefts", lefts)
        object.__setattr__(self, "heading", titles)

    @property
    def heading_height(self) -> float:
        """The height of the heading; nought where no column has a title."""
        deepest = max(map(len, self.heading))
        return deepest * SMALL * LEADING + 2 * PAD if deepest else 0.0

    @property
    def note_left(self) -> float:
        """Where notes under a row start."""
        second = self.lefts[1] if len(self.lefts) > 1 else 0.0
        return second if second < self.width / 3 else _INDENT

    def row(self, line: Line) -> Row:
        """The line, measured."""
        cells = tuple(
            wrap(text, width, SMALL if column.label else TABLE, strong=index in line.strong)
            for index, (text, width, column) in enumerate(
                zip(line.texts, self.widths, self.columns, strict=True)
            )
        )
        below = wrap(line.note, self.width - self.note_left, SMALL) if line.note else ()
        return Row(cells, below, frozenset(line.strong), line.barred, line.link)
