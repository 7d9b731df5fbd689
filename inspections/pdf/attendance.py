"""One visit: who came when and with what, what was read and seen, and what it was judged to be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import (
    PART,
    SMALL_PART,
    UNDERLINE,
    Manner,
    display,
    pairs,
    table,
    together,
)
from inspections.pdf.document.judged import Unread
from inspections.pdf.document.visits import Visit
from inspections.pdf.evidence import trace_blocks
from inspections.pdf.judgements import judgement_blocks
from inspections.pdf.lines import para
from inspections.pdf.photos import Picture, photo_blocks
from inspections.pdf.rows import Column, Line
from inspections.pdf.theme import BODY
from inspections.pdf.words import joined, moment, sentence_case, spoken

_COUNTED = {"conforms": "conform", "does_not_conform": "do not conform"}
_SAID = (Column("", 1),)
_SAYS = Manner(BODY, strong=True, after=4)


def attendance(visit: Visit, picture: Picture, width: float) -> Iterator[Flowable]:
    """The blocks of one visit."""
    title = f"{sentence_case(spoken(visit.activity))}, {moment(visit.performed_at)}"
    blocks = [display(title, width, PART)]
    if visit.superseded_by:
        no_more = f"Superseded by visit {visit.superseded_by}: this record no longer stands."
        blocks.append(display(no_more, width, UNDERLINE))
    blocks.append(display(visit.summary.says, width, _SAYS))
    yield from together(*blocks, pairs(_circumstances(visit), width))
    yield pairs(_signature(visit), width, across=1)
    yield from _second_looks(visit, width)
    yield from judgement_blocks(visit, width)
    for trace in visit.traces:
        yield from trace_blocks(trace, width)
    yield from photo_blocks(visit, picture, width)
    if visit.remarks:
        yield from together(display("Remarks", width, SMALL_PART), para(visit.remarks))


def _second_looks(visit: Visit, width: float) -> Iterator[Flowable]:
    """What is more than the verdicts say: what a person should look at, and what nobody read."""
    for title, said in (
        ("Worth a second look; no verdict is changed by it", visit.warnings),
        ("Not read: the governing edition may ask more", map(_unread, visit.summary.not_read)),
    ):
        lines = [Line([each]) for each in said]
        if lines:
            yield from together(display(title, width, SMALL_PART), table(_SAID, lines, width, ""))


def _unread(gap: Unread) -> str:
    return f"{gap.edition}: {gap.title}"


def _set_in_motion(visit: Visit) -> str:
    """What was tripped, and the doors that hang on it as well."""
    device = visit.initiating_device
    if device is None:
        return ""
    named = device.reference or "a device without a mark"
    return "\n".join([named, *(f"moves {opening} as well" for opening in device.moves)])


def _circumstances(visit: Visit) -> list[tuple[str, str]]:
    summary = visit.summary
    near = f"{summary.conditional} within the uncertainty of the reading"
    counts = (f"{n} {_COUNTED.get(word, spoken(word))}" for word, n in summary.counts.items() if n)
    left = f"not every required item: {len(summary.untested)} left, named below"
    return [
        ("Visit", visit.id),
        ("Organization", visit.organization),
        ("Received", moment(visit.received_at)),
        ("People", "\n".join(joined([p.name, spoken(p.role)], ", ") for p in visit.people)),
        ("Instruments", "\n".join(joined([i.ref, i.kind], ", ") for i in visit.instruments)),
        ("Requirements", ", ".join(counts)),
        ("Looked at", "every required item" if summary.complete else left),
        ("Near a limit", near if summary.conditional else ""),
        ("Strictest limits", _strictest(visit)),
        ("Facts missing", ", ".join(map(spoken, summary.missing_facts))),
        ("Supersedes", visit.supersedes or ""),
        ("Set in motion by", _set_in_motion(visit)),
        ("Alarm log", "kept; printed on the last pages" if visit.alarm_log else ""),
    ]


def _strictest(visit: Visit) -> str:
    """For each quantity that several requirements limit, the one that asks the most of it."""
    titles = {verdict.requirement: verdict.title for verdict in visit.verdicts}
    limiting = Counter(verdict.quantity for verdict in visit.verdicts if verdict.reading)
    return "\n".join(
        f"{sentence_case(spoken(each.quantity))}: {titles.get(each.requirement, each.requirement)}"
        for each in visit.summary.governing
        if limiting[each.quantity] > 1
    )


def _signature(visit: Visit) -> list[tuple[str, str]]:
    signed = visit.attestation
    return [
        ("Signed by", f"{signed.name}, {moment(signed.at)}"),
        ("Signed content", f"SHA-256 {signed.sha256}"),
    ]
