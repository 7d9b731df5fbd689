"""Looked-at items and observed sequences, as sent and as judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus.flowables import Flowable

from inspections.pdf.document.judged import Verdict
from inspections.pdf.document.visits import Check, StepSeen, Visit
from inspections.pdf.document.visits import Sequence as Observed
from inspections.pdf.rows import Column
from inspections.pdf.verdicts import Judged, verdict_table
from inspections.pdf.words import VERDICTS, joined, read_value, sentence_case, spoken

_CHECKS = (Column("Looked at", 16), Column("Remarks", 11))
_SEQUENCES = (Column("Sequence", 10), Column("Seen, step by step", 14), Column("Times taken", 11))
_UNASKED = "no requirement here asks for it"


def check_table(verdicts: Sequence[Verdict], visit: Visit, width: float) -> Iterator[Flowable]:
    """Every looked-at item with its verdict; what was sent unasked stands at the end."""
    rows = [
        Judged(
            (verdict.title, _remarks([c for c in visit.checks if c.check == verdict.check])),
            verdict,
        )
        for verdict in verdicts
    ]
    asked = {verdict.check for verdict in (*visit.verdicts, *visit.advisory)}
    rows += [_unasked_check(item) for item in visit.checks if item.check not in asked]
    nothing = "No item was looked at."
    yield from verdict_table("Looked-at items", _CHECKS, rows, width, nothing)


def sequence_table(verdicts: Sequence[Verdict], visit: Visit, width: float) -> Iterator[Flowable]:
    """Every sequence with its steps and times; what was sent unasked stands at the end."""
    rows = [
        _sequence(verdict, [s for s in visit.sequences if s.sequence == verdict.sequence])
        for verdict in verdicts
    ]
    asked = {verdict.sequence for verdict in (*visit.verdicts, *visit.advisory)}
    rows += [_unasked_sequence(item) for item in visit.sequences if item.sequence not in asked]
    yield from verdict_table("Sequences", _SEQUENCES, rows, width, "No sequence was observed.")


def _remarks(sent: Sequence[Check]) -> str:
    return "\n".join(joined([item.reason, item.remarks], "; ") for item in sent)


def _unasked_check(sent: Check) -> Judged:
    texts = (_named(sent.check), _remarks([sent]))
    return Judged(texts, said=VERDICTS[sent.result], asked=_UNASKED)


def _sequence(verdict: Verdict, sent: Sequence[Observed]) -> Judged:
    """A sequence may have been run more than once, and several requirements may ask for it."""
    steps = "\n".join(_steps(item.steps) for item in sent)
    times = "\n".join(_times(item) for item in sent)
    kept = [timed.message for timed in verdict.times]
    below = joined([*(_said(item) for item in sent), joined(kept, " ")], "\n")
    return Judged((verdict.title, steps, times), verdict, below)


def _unasked_sequence(sent: Observed) -> Judged:
    texts = (_named(sent.sequence), _steps(sent.steps), _times(sent))
    return Judged(texts, below=_said(sent), said=VERDICTS[sent.result], asked=_UNASKED)


def _named(name: str) -> str:
    return sentence_case(spoken(name).replace("-", " "))


def _steps(steps: Sequence[StepSeen]) -> str:
    return "\n".join(
        f"{number}  {step.expect or _named(step.step)}: {_looked(step)}"
        for number, step in enumerate(steps, start=1)
    )


def _looked(step: StepSeen) -> str:
    if not step.provided:
        return "not provided"
    if step.seen is None:
        return "not recorded"
    if not step.seen:
        return "NOT seen"
    return "seen" if step.at is None else f"seen at {step.at} s"


def _times(sent: Observed) -> str:
    return "\n".join(
        f"{sentence_case(spoken(taken.quantity))}: {read_value(taken)}" for taken in sent.times
    )


def _said(sent: Observed) -> str:
    done = f"Done: {sent.do}." if sent.do else ""
    return joined([joined([done, sent.reason], " "), sent.remarks], "\n")
