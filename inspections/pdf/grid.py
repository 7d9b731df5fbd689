"""A grid of rows, drawn straight on the canvas.

The PDF library's own table lays a Paragraph or a style command in every cell, cannot break a row
of any height, and costs more than the rest of a packet; here each cell is lines that were
measured once, so a height is a sum and a break may fall between any two lines.
"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.textobject import PDFTextObject
from reportlab.platypus.flowables import Flowable

from inspections.pdf.numbering import PacketCanvas
from inspections.pdf.rows import GAP, PAD, RUN, Layout, Row
from inspections.pdf.theme import HAIR, INK, LEADING, SMALL, SOFT, TABLE, face

_BAR = 1.6  # width of the stroke beside a row that does not conform
_WHOLE = 110.0  # a grid no higher than this is never broken


class Grid(Flowable):
    """Rows under a heading that comes again on every page they reach."""

    canv: PacketCanvas

    def __init__(self, layout: Layout, rows: Sequence[Row]) -> None:
        super().__init__()
        self.layout = layout
        self.rows = rows
        self.spaceAfter = 5.0
        self.width = layout.width
        self.height = layout.heading_height + sum(map(self._height, rows))

    @property
    def least(self) -> float:
        """The height below which it is not begun on a page: the heading and a first row."""
        if self.height <= _WHOLE:
            return self.height
        first = self.rows[0]
        if first.deepest <= RUN and len(first.note) <= RUN:
            return self.layout.heading_height + first.height
        return self.layout.heading_height + RUN * TABLE * LEADING

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The size, known since the rows were measured."""
        return self.width, self.height

    def split(self, _width: float, height: float) -> list[Flowable]:
        """What fits, and the rest; nothing where not even the first row can begin here."""
        if self.height <= _WHOLE:
            return []
        room = height - self.layout.heading_height
        count = 0
        while count < len(self.rows) and self._height(self.rows[count]) <= room:
            room -= self._height(self.rows[count])
            count += 1
        before, after = list(self.rows[:count]), list(self.rows[count:])
        if not after:
            return [self]
        if halves := after[0].broken(room):
            before.append(halves[0])
            after[0] = halves[1]
        return [Grid(self.layout, before), Grid(self.layout, after)] if before else []

    def draw(self) -> None:
        """Rules first, then all the text in one go."""
        text = self.canv.beginText()
        y = self.height
        if self.layout.heading_height:
            self._heading(text, y)
            y -= self.layout.heading_height
            self._rule(y, 0.7, INK)
        for index, row in enumerate(self.rows):
            if index and self.layout.ruled and not row.continued:
                self._rule(y, 0.3, HAIR)
            self._row(text, row, y)
            y -= self._height(row)
        self.canv.drawText(text)

    def _height(self, row: Row) -> float:
        return row.height - (0 if self.layout.ruled else PAD)

    def _rule(self, y: float, thickness: float, grey: float) -> None:
        self.canv.setLineWidth(thickness)
        self.canv.setStrokeGray(grey)
        self.canv.line(0, y, self.width, y)

    def _heading(self, text: PDFTextObject, y: float) -> None:
        text.setFillGray(SOFT)
        for index, lines in enumerate(self.layout.heading):
            self._lines(text, index, lines, y - PAD, strong=True, size=SMALL)

    def _row(self, text: PDFTextObject, row: Row, y: float) -> None:
        if row.barred:
            self.canv.setFillGray(INK)
            self.canv.rect(-GAP, y - row.height + 1, _BAR, row.height - 2, stroke=0, fill=1)
        if row.link:
            self._leader(row.link, y, y - row.height)
        for index, lines in enumerate(row.cells):
            label = self.layout.columns[index].label
            text.setFillGray(SOFT if label else INK)
            size = SMALL if label else TABLE
            drop = (TABLE - SMALL) * 0.75 if label else 0.0  # on the baseline of its value
            self._lines(text, index, lines, y - PAD - drop, strong=index in row.strong, size=size)
        if row.note:
            below = y - PAD - row.deepest * TABLE * LEADING - (PAD if row.deepest else 0)
            text.setFillGray(INK)
            self._at(text, self.layout.note_left, below, row.note, size=SMALL)

    def _leader(self, key: str, top: float, bottom: float) -> None:
        self.canv.linkRect("", key, (0, bottom, self.width, top), relative=1)
        self.canv.draw_page_of(key, self.layout.lefts[-1], top - PAD - TABLE * 0.95, TABLE)

    def _lines(
        self,
        text: PDFTextObject,
        index: int,
        lines: Sequence[str],
        y: float,
        *,
        strong: bool,
        size: float,
    ) -> None:
        left, column = self.layout.lefts[index], self.layout.columns[index]
        if column.right and lines:
            widest = max(face(strong=strong).width(line, size) for line in lines)
            left += self.layout.widths[index] - widest
        self._at(text, left, y, lines, size=size, strong=strong)

    def _at(
        self,
        text: PDFTextObject,
        left: float,
        top: float,
        lines: Sequence[str],
        *,
        size: float,
        strong: bool = False,
    ) -> None:
        leading = size * LEADING
        text.setFont(face(strong=strong).name, size, leading)
        text.setTextOrigin(left, top - size * 0.95)
        for line in lines:
            text.textLine(line)
