"""Traces as plots, with what was computed from them."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import SMALL_PART, Plot, display, filled, pairs, together
from inspections.pdf.lines import para
from inspections.pdf.rows import Column
from inspections.pdf.words import plain, sentence_case, spoken
from inspections.plots.curves import TITLES, trace_picture
from inspections.plots.picture import Picture
from inspections.plots.traces import Trace

_HEIGHT = 150.0
_NOTES = (Column("", 0.7), Column("", 2.3, label=True), Column("", 9)) * 2


def trace_blocks(trace: Trace, width: float) -> Iterator[Flowable]:
    """A plot under its title, the marks and limits in it explained, and what was measured."""
    heading = display(TITLES[trace.kind], width, SMALL_PART)
    if trace.t:
        picture = trace_picture(trace, width=width, height=_HEIGHT)
        yield from together(heading, Plot(picture), *note_rows(picture, width))
    else:
        yield from together(heading, para("The samples of this trace are missing."))
    if trace.measured:
        measured = ((sentence_case(spoken(k)), plain(v)) for k, v in trace.measured.items())
        yield pairs(measured, width)


def note_rows(picture: Picture, width: float) -> Iterator[Flowable]:
    """The signs of a picture with their meaning."""
    texts = [text for note in picture.notes for text in (note.sign, note.at, note.words)]
    if texts:
        yield filled(texts, _NOTES, width, strong=[0, 3])
