"""Paper, margins, and what stands around the text of every page."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import BinaryIO

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

from inspections.pdf.document import Document, PacketError
from inspections.pdf.lines import clean, shortened
from inspections.pdf.numbering import TOTAL, PacketCanvas
from inspections.pdf.theme import FOOT, HAIR, HEAD, INK, SIDE, SMALL, SOFT, bold, paper, regular
from inspections.pdf.words import grouped


def pdf_date(instant: str) -> str:
    """An RFC 3339 instant as PDF writes it (ISO 32000-1, 7.9.4), in UTC."""
    try:
        read = datetime.fromisoformat(instant)
    except ValueError:
        read = None
    if read is None or read.tzinfo is None:
        raise PacketError("Not an instant with its offset - at `$.packet.assembled_at`")
    return read.astimezone(UTC).strftime("D:%Y%m%d%H%M%S+00'00'")


class PacketTemplate(BaseDocTemplate):
    """Paper, margins, header and footer, and what the file says of itself."""

    def __init__(self, out: BinaryIO, document: Document) -> None:
        self.document = document
        width, height = paper(document.authority.jurisdiction.code)
        packet, site = document.packet, document.site
        super().__init__(
            out,
            pagesize=(width, height),
            title=clean(f"{site.name}: packet {packet.id}, version {packet.version}"),
            author=clean(packet.assembled_by),
            subject=clean(f"Fire doors: record submitted to {document.authority.name}"),
            keywords=[clean(packet.id), clean(document.verify.content_sha256)],
            creator=clean(f"rules library {packet.library.version}"),
            lang=packet.language,
            invariant=1,
            pageCompression=1,
            initialFontName=regular().name,
            initialFontSize=SMALL,
        )
        frame = Frame(SIDE, FOOT, width - 2 * SIDE, height - HEAD - FOOT, 0, 0, 0, 0, id="page")
        self.addPageTemplates([PageTemplate("page", [frame], onPageEnd=self._surround)])

    def beforeDocument(self) -> None:  # noqa: N802 - the name is ReportLab's
        """Date the file by its assembly, which is frozen, not by the clock."""
        stamp = pdf_date(self.document.packet.assembled_at)
        self.canv.setDateFormatter(lambda *_: stamp)

    @property
    def width_of_text(self) -> float:
        """The width between the margins."""
        return float(self.pagesize[0]) - 2 * SIDE

    def _surround(self, canvas: Canvas, _template: BaseDocTemplate) -> None:
        assert isinstance(canvas, PacketCanvas)  # noqa: S101 - build() is given no other
        canvas.saveState()
        self._header(canvas)
        self._footer(canvas)
        canvas.restoreState()

    def _header(self, canvas: PacketCanvas) -> None:
        packet, right = self.document.packet, SIDE + self.width_of_text
        y, size = self.pagesize[1] - HEAD + 20, SMALL + 0.6
        third = self.width_of_text / 3 - 6
        canvas.setFont(bold().name, size)
        canvas.drawString(SIDE, y, shortened(self.document.site.name, third, size, strong=True))
        canvas.setFont(regular().name, size)
        canvas.setFillGray(SOFT)
        if canvas.getPageNumber() > 1:
            canvas.drawCentredString(
                self.pagesize[0] / 2, y, shortened(canvas.running, third, size)
            )
        said = f"Packet {packet.id}, version {packet.version}"
        canvas.drawRightString(right, y, shortened(said, third, size))
        canvas.setLineWidth(0.4)
        canvas.setStrokeGray(HAIR)
        canvas.line(SIDE, y - 6, right, y - 6)

    def _footer(self, canvas: PacketCanvas) -> None:
        right, y = SIDE + self.width_of_text, FOOT - 24
        canvas.setFont(regular().name, SMALL)
        canvas.setFillGray(SOFT)
        digest = grouped(self.document.verify.content_sha256)[:4]
        canvas.drawString(SIDE, y, clean(f"Content {' '.join(digest)} …"))
        if self.document.packet.demonstration:
            canvas.drawCentredString(self.pagesize[0] / 2, y, "Demonstration data: invented")
        canvas.setFillGray(INK)
        place = right - regular().width("000", SMALL)
        canvas.drawRightString(place, y, f"Page {canvas.getPageNumber()} of ")
        canvas.draw_page_of(TOTAL, place, y, SMALL)
