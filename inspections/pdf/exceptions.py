"""What a reviewer wants to see first, what is missing, and where each opening stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from reportlab.platypus import PageBreak
from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import PART, SECTION, Entry, display, table, together
from inspections.pdf.document import Document
from inspections.pdf.document.openings import InterimMeasure, Opening
from inspections.pdf.document.packet import Coverage, ExceptionItem
from inspections.pdf.document.visits import Visit
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import VERDICTS, joined, moment, spoken
from rules.vocabulary import Activity, VerdictWord

_EXCEPTIONS = (
    Column("Opening", 4),
    Column("Exception", 6),
    Column("What", 15),
    Column("Since", 4),
    Column("Deadline", 4),
    Column("Page", 2),
)
_NOT_INCLUDED = (Column("Opening", 4), Column("Reason", 20))
_INDEX = (
    Column("Opening", 4),
    Column("Location", 11),
    Column("Door", 9),
    Column("Latest full visit, and later ones", 12),
    Column("Verdict", 7),
    Column("Page", 2),
)
_KINDS = {
    "does_not_conform": "does not conform",
    "inconclusive": "inconclusive",
    "not_tested": "not tested",
    "deficiency_open": "deficiency open",
    "interim_measure_without_end": "interim measure without an end",
    "overdue": "overdue",
    "missing_attachment": "attachment missing",
}


def sheet_key(index: int) -> str:
    """The bookmark of an opening's sheet, by its place in the packet."""
    return f"opening-{index}"


def exceptions(document: Document, width: float) -> Iterator[Flowable]:
    """Exceptions first, then what is not in the packet, then one line for each opening."""
    keys = {opening.tag: sheet_key(index) for index, opening in enumerate(document.openings)}
    alike = groupby(document.exceptions, key=_what)
    lines = [_exception(list(items), keys) for _, items in alike]
    yield PageBreak()
    yield from together(
        display("Exceptions", width, SECTION, Entry("exceptions", "Exceptions")),
        table(_EXCEPTIONS, lines, width, "No exceptions."),
    )
    yield from _not_included(document.coverage, width)
    yield from _index(document.openings, width)


def interim_words(measure: InterimMeasure) -> str:
    """An interim measure in a sentence; one without an end says so."""
    until = f"until {moment(measure.ends_at)}" if measure.ends_at else "without an end date"
    period = f"from {moment(measure.begins_at)} {until}"
    return f"{measure.words}; responsible: {measure.responsible}; {period}"


def door_words(opening: Opening) -> str:
    """What kind of door it is."""
    return joined([spoken(opening.door_type), spoken(opening.operation)], ", ")


def standing_visits(opening: Opening) -> list[Visit]:
    """The visits that nothing supersedes, newest first, back to the latest full one: a short
    test or retest does not stand for the whole door.
    """
    told: list[Visit] = []
    for visit in (visit for visit in opening.visits if not visit.superseded_by):
        told.append(visit)
        if visit.activity in {Activity.PERIODIC_INSPECTION, Activity.ACCEPTANCE_TEST}:
            break
    return told


def _what(item: ExceptionItem) -> tuple[object, ...]:
    """What neighbours must share to stand in one row."""
    return item.opening, item.kind, item.since, item.deadline, item.interim


def _exception(items: Sequence[ExceptionItem], keys: Mapping[str, str]) -> Line:
    first = items[0]
    note = f"Interim measure: {interim_words(first.interim)}" if first.interim else ""
    texts = [
        first.opening,
        _KINDS[first.kind],
        "\n".join(item.words for item in items),
        first.since or "",
        first.deadline or "",
        "",
    ]
    return Line(texts, note, strong=[0], link=keys.get(first.opening, ""))


def _not_included(coverage: Coverage, width: float) -> Iterator[Flowable]:
    lines = [Line([item.opening, item.reason], strong=[0]) for item in coverage.not_included]
    missing = coverage.openings - coverage.included
    words = f"{missing} left out; no reason is recorded." if missing else "No opening is left out."
    yield from together(
        display("Not in this packet", width, PART), table(_NOT_INCLUDED, lines, width, words)
    )


def _index(openings: list[Opening], width: float) -> Iterator[Flowable]:
    lines = [_line(opening, sheet_key(index)) for index, opening in enumerate(openings)]
    yield from together(
        display("Openings", width, SECTION, Entry("index", "Openings, one line each")),
        table(_INDEX, lines, width, "No openings."),
    )


def _line(opening: Opening, key: str) -> Line:
    told = standing_visits(opening)[::-1]
    when = "\n".join(f"{v.performed_at.partition('T')[0]}, {spoken(v.activity)}" for v in told)
    said = "\n".join(VERDICTS[v.summary.verdict] for v in told)
    failed = any(v.summary.verdict == VerdictWord.DOES_NOT_CONFORM for v in told)
    strong = [0, 4] if failed else [0]
    texts = [
        opening.tag,
        opening.location,
        door_words(opening),
        when or "no visit",
        said or "no visit",
        "",
    ]
    return Line(texts, strong=strong, barred=failed, link=key)
