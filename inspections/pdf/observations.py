"""Looked-at items and observed sequences, as sent and as judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus.flowables import Flowable

from inspections.pdf.document.judged import Verdict
from inspections.pdf.document.visits import Check, StepSeen
from inspections.pdf.document.visits import Sequence as Observed
from inspections.pdf.rows import Column
from inspections.pdf.verdicts import Judged, verdict_table
from inspections.pdf.words import VERDICTS, joined, read_value, sentence_case, spoken

_CHECKS = (Column("Looked at", 16), Column("Remarks", 11))
_SEQUENCES = (Column("Sequence", 10), Column("Seen, step by step", 14), Column("Times taken", 11))
_UNASKED = "no requirement here asks for it"


def check_table(
    verdicts: Sequence[Verdict], sent: Sequence[Check], width: float
) -> Iterator[Flowable]:
    """Every looked-at item with its verdict; what was sent unasked stands at the end."""
    by_name = {item.check: item for item in sent}
    rows = [_check(verdict, by_name.pop(verdict.check or "", None)) for verdict in verdicts]
    rows += [_unasked_check(item) for item in by_name.values()]
    nothing = "No item is to be looked at here."
    yield from verdict_table("Looked-at items", _CHECKS, rows, width, nothing)


def sequence_table(
    verdicts: Sequence[Verdict], sent: Sequence[Observed], width: float
) -> Iterator[Flowable]:
    """Every sequence with its steps and times; what was sent unasked stands at the end."""
    by_name = {item.sequence: item for item in sent}
    rows = [_sequence(verdict, by_name.pop(verdict.sequence or "", None)) for verdict in verdicts]
    rows += [_unasked_sequence(item) for item in by_name.values()]
    nothing = "No sequence is to be observed here."
    yield from verdict_table("Sequences", _SEQUENCES, rows, width, nothing)


def _check(verdict: Verdict, sent: Check | None) -> Judged:
    return Judged((verdict.title, _remarks(sent) if sent else ""), verdict)


def _unasked_check(sent: Check) -> Judged:
    texts = (sentence_case(spoken(sent.check)), _remarks(sent))
    return Judged(texts, said=VERDICTS[sent.result], asked=_UNASKED)


def _remarks(sent: Check) -> str:
    return joined([sent.reason, sent.remarks], "; ")


def _sequence(verdict: Verdict, sent: Observed | None) -> Judged:
    if sent is None:
        return Judged((verdict.title, "not recorded", ""), verdict)
    return Judged((verdict.title, _steps(sent.steps), _times(sent)), verdict, _said(sent))


def _unasked_sequence(sent: Observed) -> Judged:
    texts = (sentence_case(spoken(sent.sequence)), _steps(sent.steps), _times(sent))
    return Judged(texts, below=_said(sent), said=VERDICTS[sent.result], asked=_UNASKED)


def _steps(steps: Sequence[StepSeen]) -> str:
    return "\n".join(
        f"{number}  {step.expect or spoken(step.step)}: {'seen' if step.seen else 'NOT seen'}"
        for number, step in enumerate(steps, start=1)
    )


def _times(sent: Observed) -> str:
    return "\n".join(
        f"{sentence_case(spoken(taken.quantity))}: {read_value(taken)}" for taken in sent.times
    )


def _said(sent: Observed) -> str:
    done = f"Done: {sent.do}." if sent.do else ""
    return joined([joined([done, sent.reason], " "), sent.remarks], "\n")
