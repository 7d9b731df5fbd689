"""Every source that a verdict rests on, once, and how well it is known."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import PART, display, table, together
from inspections.pdf.document import Document
from inspections.pdf.document.judged import Citation
from inspections.pdf.lines import para
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import STANDINGS, joined
from rules.vocabulary import Standing

_SOURCES = (Column("Publication, edition", 14), Column("Clause", 8), Column("How it is known", 22))
_MEANING = (
    "Layer: the place, variance or listed instructions that set a requirement last. Reference: no "
    "adoption is recorded for the place, and the model edition under its country was applied. "
    "Secondary: a page that quotes or reports the source was read, not the source itself. As of "
    "an edition: that one governs; the text named was read in an earlier one and is carried on."
)


def source_list(document: Document, width: float) -> Iterator[Flowable]:
    """The sources in order of publication, edition and clause, with the words used of them."""
    known: dict[tuple[str, str, str], list[str]] = {}
    for cited, standing in _cited(document):
        said = known.setdefault((cited.publication, cited.edition, cited.clause), [])
        said += [part for part in (standing, cited.note) if part and part not in said]
    lines = [
        Line([f"{publication}, {edition}", clause, joined(said, "; ")])
        for (publication, edition, clause), said in sorted(known.items())
    ]
    yield from together(
        display("Sources", width, PART), table(_SOURCES, lines, width, "No source is cited.")
    )
    yield para(_MEANING)


def _cited(document: Document) -> Iterator[tuple[Citation, str]]:
    """Every citation with the standing it is known by, which duties and overrides do not say."""
    for place in document.rules:
        for override in place.overrides:
            yield override.citation, "stated by an override of the place"
    for opening in document.openings:
        for duty in opening.duties:
            yield duty.citation, ""
        for visit in opening.visits:
            for verdict in (*visit.verdicts, *visit.advisory):
                yield verdict.citation, STANDINGS[Standing(verdict.standing)] or "verified"
