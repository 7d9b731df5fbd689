"""The packet: a frozen document in, the bytes of a PDF out, the same bytes for the same document.

Nothing is looked up and nothing is computed but the layout: what a packet says was frozen before.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from io import BytesIO
from typing import BinaryIO

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import Later
from inspections.pdf.closing import closing
from inspections.pdf.cover import cover
from inspections.pdf.document import Document, read
from inspections.pdf.exceptions import exceptions, sheet_key
from inspections.pdf.numbering import PacketCanvas
from inspections.pdf.pages import PacketTemplate
from inspections.pdf.photos import Picture, no_picture
from inspections.pdf.sheets import sheet


def render_packet(
    document: Mapping[str, object], out: BinaryIO | None = None, *, picture: Picture = no_picture
) -> bytes:
    """The PDF of a frozen packet document; also written to `out` where one is given.
    `picture` gives the photos it names, each a small JPEG by its digest.

    Raises PacketError, or PlotError for a trace that cannot be drawn, naming the key. Refuses
    nothing for what a person wrote in it: any text is printed as it stands, or as its code.
    """
    typed = read(document)
    made = BytesIO()
    template = PacketTemplate(made, typed)
    template.build(_story(typed, picture, template.width_of_text), canvasmaker=PacketCanvas)
    content = made.getvalue()
    if out is not None:
        out.write(content)
    return content


def _story(document: Document, picture: Picture, width: float) -> list[Flowable]:
    """Cover, exceptions, one sheet an opening, made one at a time, and the last pages."""
    sheets = [
        Later(partial(sheet, opening, sheet_key(index), picture, width))
        for index, opening in enumerate(document.openings)
    ]
    return [
        *cover(document, width),
        Later(partial(exceptions, document, width)),
        *sheets,
        Later(partial(closing, document, width)),
    ]
