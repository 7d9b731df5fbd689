"""The canvas that prints page numbers before they are known.

A number not known yet (the total, the page of a later sheet) is a reference to a small form that
is defined when the packet is saved: one pass, and nothing held twice.
"""

from __future__ import annotations

from typing import Any

from reportlab.pdfgen.canvas import Canvas

from inspections.pdf.theme import INK, regular

TOTAL = "total"
_WIDEST = 40  # of a page number, in points


class PacketCanvas(Canvas):
    """A canvas with numbers and bookmarks that may be named before they exist."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._asked: dict[str, float] = {}
        self._page_of: dict[str, int] = {}
        self.running = ""  # the entry below the first level that a page belongs to at its end

    def bookmark_here(self, key: str, title: str, level: int) -> None:
        """Make this page the one that `key` stands for, and list it in the outline."""
        self.bookmarkPage(key)
        self.addOutlineEntry(title, key, level, closed=level > 0)
        self._page_of[key] = self.getPageNumber()
        self.running = title if level else ""

    def draw_page_of(self, key: str, x: float, y: float, size: float) -> None:
        """Print, from `x` on, the number of the page that `key` will stand for."""
        self._asked[key] = size
        self.saveState()
        self.translate(x, y)
        self.doForm(key)
        self.restoreState()

    def save(self) -> None:
        """Write the numbers that were asked for, then the file."""
        self._page_of[TOTAL] = self.getPageNumber() - 1  # the last page is closed by now
        for key, size in self._asked.items():
            self.beginForm(key, 0, -int(size), _WIDEST, 2 * int(size))
            self.setFont(regular().name, size)
            self.setFillGray(INK)
            self.drawString(0, 0, str(self._page_of[key]))
            self.endForm()
        super().save()
