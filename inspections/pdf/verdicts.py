"""A table of verdicts of any kind: what is strong, what is barred, what is said below a row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import SMALL_PART, SOURCE, display, table, together
from inspections.pdf.document.judged import Verdict
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import VERDICTS, full_stop, joined, source, spoken
from rules.vocabulary import VerdictWord
from rules.wording import probability_in_words

_VERDICT = Column("Verdict", 6)
_SOURCE = Column("Source", 13)


@dataclass(frozen=True, slots=True)
class Judged:
    """A row: the texts of its own columns, its verdict, and what else is said below it.

    Without a verdict, `said` stands in its place and `asked` in the place of the source.
    """

    texts: tuple[str, ...]
    verdict: Verdict | None = None
    below: str = ""
    said: str = ""
    asked: str = ""


def verdict_table(
    title: str, columns: Sequence[Column], rows: Sequence[Judged], width: float, nothing: str
) -> Iterator[Flowable]:
    """The table under its title, or the sentence `nothing`.

    A source that all rows share stands once, under the title; a column that says nothing is left
    out.
    """
    shared = _shared_source(rows)
    lines = [_line(row, "" if shared else _origin(row)) for row in rows]
    headings = [display(title, width, SMALL_PART)]
    if shared:
        headings.append(display(shared.replace("\n", "; "), width, SOURCE))
    every = (*columns, _VERDICT, _SOURCE)
    yield from together(*headings, table(every, lines, width, nothing))


def _shared_source(rows: Sequence[Judged]) -> str:
    origins = {_origin(row) for row in rows}
    return origins.pop() if len(origins) == 1 and len(rows) > 1 else ""


def _origin(row: Judged) -> str:
    return source(row.verdict) if row.verdict else row.asked


def _word(row: Judged) -> str:
    return VERDICTS[row.verdict.verdict] if row.verdict else row.said


def _line(row: Judged, origin: str) -> Line:
    """What does not conform is bold and has a bar at its side."""
    fails = row.verdict is not None and row.verdict.verdict is VerdictWord.DOES_NOT_CONFORM
    note = joined([row.below, *(_explained(row.verdict) if row.verdict else [])], "\n")
    texts = (*row.texts, _word(row), origin)
    return Line(texts, note, [len(row.texts)] if fails else [], barred=fails)


def _probability(stored: str | None) -> str:
    """As stored, and in words where five decimals would show none or one."""
    words = probability_in_words(stored) if stored else ""
    return words if words == stored or not stored else f"{stored} ({words})"


def _explained(verdict: Verdict) -> list[str]:
    """The library's sentences, wherever there is more to say than that it clearly conforms."""
    notes = [note.message for note in verdict.notes]
    near = verdict.band == "conditional"
    if verdict.verdict is VerdictWord.CONFORMS and not near:
        return notes
    probability = _probability(verdict.probability_of_conformity)
    said = [
        full_stop(verdict.message),
        f"Reason: {spoken(verdict.reason)}." if verdict.reason else "",
        "Within its own uncertainty of the limit." if near else "",
        f"Probability of conformity {probability}." if probability else "",
        f"Requirement {verdict.requirement}.",
    ]
    return [joined(said, " "), *notes]
