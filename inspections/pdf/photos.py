"""Photos drawn small, three in a row, and every attachment of a visit listed with its digest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TypeAlias

from reportlab.lib.utils import ImageReader
from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import SMALL_PART, Unbroken, display, table, together
from inspections.pdf.document.visits import Attachment, Visit
from inspections.pdf.lines import shortened
from inspections.pdf.numbering import PacketCanvas
from inspections.pdf.rows import GAP, Column, Line
from inspections.pdf.theme import INK, LEADING, SMALL, regular
from inspections.pdf.words import grouped

Picture: TypeAlias = Callable[[str], "bytes | None"]  # by digest, a small JPEG

_ACROSS = 3
_HIGHEST = 120.0  # of a photo, in points
_LIST = (
    Column("No.", 1.5),
    Column("What it shows", 15),
    Column("Kind", 7),
    Column("SHA-256 of its bytes, in groups of four", 20),
)
_MISSING = "MISSING: not sent when this was assembled"


def no_picture(_sha256: str) -> bytes | None:
    """For a document that is drawn without its photos."""
    return None


@dataclass(frozen=True, slots=True)
class Photo:
    """A decoded photo, its number in the list, and the beginning of its caption."""

    image: ImageReader
    words: str


class PhotoRow(Unbroken):
    """Up to three photos side by side, each on the line of its caption."""

    canv: PacketCanvas

    def __init__(self, photos: Sequence[Photo], width: float) -> None:
        super().__init__()
        self.photos, self.width = photos, width
        self.cell = (width - GAP * (_ACROSS - 1)) / _ACROSS
        self.deepest = max(self._size(photo)[1] for photo in photos)
        self.height = self.deepest + SMALL * LEADING + 2
        self.spaceBefore, self.spaceAfter = 2.0, 5.0

    def draw(self) -> None:
        """Draw the photos, each from the top, and the captions on one line."""
        for place, photo in enumerate(self.photos):
            left, (wide, high) = place * (self.cell + GAP), self._size(photo)
            self.canv.drawImage(photo.image, left, self.height - high, wide, high)
            self.canv.setFont(regular().name, SMALL)
            self.canv.setFillGray(INK)
            below = self.height - self.deepest - SMALL * LEADING
            self.canv.drawString(left, below, shortened(photo.words, self.cell, SMALL))

    def _size(self, photo: Photo) -> tuple[float, float]:
        wide, high = photo.image.getSize()
        scale = min(self.cell / wide, _HIGHEST / high)
        return wide * scale, high * scale


def photo_blocks(visit: Visit, picture: Picture, width: float) -> Iterator[Flowable]:
    """The photos of a visit, then the list of everything it names."""
    if not visit.attachments:
        return
    photos = list(_photos(visit.attachments, picture))
    rows = [PhotoRow(photos[at : at + _ACROSS], width) for at in range(0, len(photos), _ACROSS)]
    lines = [_line(number, each) for number, each in enumerate(visit.attachments, start=1)]
    yield from together(display("Photos and papers", width, SMALL_PART), *rows[:1])
    yield from rows[1:]
    yield table(_LIST, lines, width, "")


def _photos(attachments: Sequence[Attachment], picture: Picture) -> Iterator[Photo]:
    for number, each in enumerate(attachments, start=1):
        content = picture(each.sha256) if each.kind == "photo" else None
        if content is not None:
            yield Photo(ImageReader(BytesIO(content)), f"{number}  {each.caption}")


def _line(number: int, each: Attachment) -> Line:
    kind = _MISSING if each.missing else each.kind
    texts = [str(number), each.caption, kind, " ".join(grouped(each.sha256))]
    return Line(texts, strong=[2] if each.missing else [], barred=each.missing)
