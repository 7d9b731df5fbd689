"""The blocks that sections are made of: headings, pairs, sentences, plots, and lazy sections."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.platypus import CondPageBreak
from reportlab.platypus.flowables import Flowable

from inspections.pdf.grid import Grid
from inspections.pdf.lines import clean, para, wrap
from inspections.pdf.numbering import PacketCanvas
from inspections.pdf.rows import GAP, Column, Layout, Line
from inspections.pdf.theme import (
    BODY,
    HEADING,
    INK,
    LEADING,
    SMALL,
    SOFT,
    SUBHEADING,
    TABLE,
    TITLE,
    bold,
    face,
    regular,
)
from inspections.plots.canvas import draw
from inspections.plots.picture import Picture

Pairs = Iterable[tuple[str, str]]
_FEW_LINES = 3
_ENDLESS = 1e6  # higher than any page
_NAME_SHARE = 0.16  # of the width, whatever stands beside it
_LONGEST_ENTRY = 80  # of the outline


@dataclass(frozen=True, slots=True)
class Manner:
    """How a heading or a line of display type is set, in points."""

    size: float
    strong: bool = False
    grey: float = INK
    before: float = 0.0
    after: float = 0.0
    ruled: bool = False


KICKER = Manner(BODY, grey=SOFT)
NAME = Manner(TITLE, strong=True, after=2)
COVERAGE = Manner(HEADING, strong=True, before=12)
SECTION = Manner(HEADING, strong=True, before=14, after=6, ruled=True)
PART = Manner(SUBHEADING, strong=True, before=9, after=3)
SMALL_PART = Manner(TABLE, strong=True, before=5, after=2)
SOURCE = Manner(SMALL, grey=SOFT, after=3)
UNDERLINE = Manner(BODY, grey=SOFT, after=5)


@dataclass(frozen=True, slots=True)
class Entry:
    """A place in the outline: the bookmark's key, what the outline says, and how deep it stands."""

    key: str
    title: str
    level: int = 0


class Display(Flowable):
    """Lines of display type; with an entry, the place that the outline leads to."""

    canv: PacketCanvas

    def __init__(
        self, lines: Sequence[str], width: float, manner: Manner, entry: Entry | None = None
    ) -> None:
        super().__init__()
        self.lines, self.manner, self.entry = lines, manner, entry
        self.spaceBefore, self.spaceAfter = manner.before, manner.after
        self.width = width
        self.height = len(lines) * manner.size * LEADING + (3 if manner.ruled else 0)

    @property
    def least(self) -> float:
        """The height it needs to begin."""
        return self.height

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The size, known since the text was measured."""
        return self.width, self.height

    def split(self, _width: float, height: float) -> list[Flowable]:
        """What fits and the rest; only a text longer than a page comes to this."""
        fit = int(height / (self.manner.size * LEADING))
        if not 0 < fit < len(self.lines):
            return []
        head = Display(self.lines[:fit], self.width, self.manner, self.entry)
        return [head, Display(self.lines[fit:], self.width, self.manner)]

    def draw(self) -> None:
        """Write the lines, the rule below them, and the entry in the outline."""
        size = self.manner.size
        text = self.canv.beginText()
        text.setFont(face(strong=self.manner.strong).name, size, size * LEADING)
        text.setFillGray(self.manner.grey)
        text.setTextOrigin(0, self.height - size)
        for line in self.lines:
            text.textLine(line)
        self.canv.drawText(text)
        if self.manner.ruled:
            self.canv.setLineWidth(0.9)
            self.canv.setStrokeGray(INK)
            self.canv.line(0, 0, self.width, 0)
        if self.entry:
            title = clean(self.entry.title)[:_LONGEST_ENTRY]
            self.canv.bookmark_here(self.entry.key, title, self.entry.level)


class Unbroken(Flowable):
    """What stands on one page, of a size that is known when it is made."""

    @property
    def least(self) -> float:
        """The height it needs to begin: all of it."""
        return self.height

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The size, whatever room there is."""
        return self.width, self.height


class Plot(Unbroken):
    """A picture; its notes stand in a grid of their own."""

    def __init__(self, picture: Picture) -> None:
        super().__init__()
        self.picture = picture
        self.width, self.height = picture.width, picture.height
        self.spaceBefore, self.spaceAfter = 2.0, 4.0

    def draw(self) -> None:
        """Draw the picture."""
        draw(self.picture, self.canv, faces=(regular().name, bold().name))


class Later(Flowable):
    """A part whose blocks are made when its turn comes and forgotten when they are drawn.

    A packet of 500 openings so never holds more than the blocks of one.
    """

    def __init__(self, make: Callable[[], Iterator[Flowable]]) -> None:
        super().__init__()
        self._make = make

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """More than any page holds, so that it is asked to split."""
        return width, _ENDLESS

    def split(self, _width: float, _height: float) -> list[Flowable]:
        """The blocks; the first must be a page break, or something that always fits."""
        return list(self._make())


def display(text: str, width: float, manner: Manner, entry: Entry | None = None) -> Display:
    """A text as display type, wrapped to the width."""
    lines = wrap(text, width, manner.size, strong=manner.strong)
    return Display(lines, width, manner, entry)


def pairs(items: Pairs, width: float, *, across: int = 2) -> Grid:
    """Names with their values, `across` of them side by side; what has no value is left out."""
    name = width * _NAME_SHARE
    value = (width - GAP * (2 * across - 1)) / across - name
    columns = (Column("", name, label=True), Column("", value)) * across
    return filled([part for pair in items if pair[1] for part in pair], columns, width)


def filled(
    texts: Sequence[str], columns: Sequence[Column], width: float, *, strong: Sequence[int] = ()
) -> Grid:
    """Texts that fill the columns row by row, without rules."""
    layout = Layout(tuple(columns), width, ruled=False)
    step = len(columns)
    texts = [*texts, *[""] * (-len(texts) % step)]
    starts = range(0, len(texts), step)
    return Grid(layout, [layout.row(Line(texts[at : at + step], strong=strong)) for at in starts])


def table(columns: Sequence[Column], lines: Sequence[Line], width: float, nothing: str) -> Flowable:
    """The lines under the columns that say something, or the sentence `nothing`."""
    if not lines:
        return para(nothing)
    told = [any(cells) for cells in zip(*(line.texts for line in lines), strict=True)]
    told[-1] = told[-1] or any(line.link for line in lines)
    kept = [index for index, says in enumerate(told) if says] or [0]
    layout = Layout(tuple(columns[index] for index in kept), width)
    return Grid(layout, [layout.row(_narrowed(line, kept)) for line in lines])


def together(*blocks: Flowable) -> Iterator[Flowable]:
    """The blocks, begun where headings and plots find room with the start of what follows them."""
    needed = 0.0
    for block in blocks:
        needed += block.getSpaceBefore() + block.getSpaceAfter() + _least(block)
        if not isinstance(block, Display | Plot):
            break
    yield CondPageBreak(needed)
    yield from blocks


def _narrowed(line: Line, kept: Sequence[int]) -> Line:
    strong = [kept.index(index) for index in line.strong if index in kept]
    texts = [line.texts[index] for index in kept]
    return Line(texts, line.note, strong, line.barred, line.link)


def _least(block: Flowable) -> float:
    """The height a block needs to begin; a paragraph needs a few lines."""
    return float(getattr(block, "least", _FEW_LINES * BODY * LEADING))
