"""The last pages: who and what with, cautions, and how to tell that nothing was altered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.platypus import CondPageBreak, PageBreak
from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import PART, SECTION, Entry, display, filled, pairs, table, together
from inspections.pdf.document import Document
from inspections.pdf.document.openings import Opening
from inspections.pdf.document.packet import Organization, Verification
from inspections.pdf.document.visits import Instrument, Person
from inspections.pdf.lines import para
from inspections.pdf.rows import Column, Line
from inspections.pdf.sources import source_list
from inspections.pdf.words import grouped, joined, moment, plain, sentence_case, spoken

_ORGANIZATIONS = (
    Column("Organization", 9),
    Column("Acted as", 5),
    Column("Address", 12),
    Column("Telephone", 5),
)
_PEOPLE = (
    Column("Name", 7),
    Column("Role", 5),
    Column("Organization", 8),
    Column("Qualification", 10),
    Column("Number", 5),
    Column("Valid until", 4),
)
_INSTRUMENTS = (
    Column("Instrument", 4),
    Column("Kind", 9),
    Column("Serial", 5),
    Column("Calibrated", 4),
    Column("Due", 4),
    Column("Resolution", 4),
    Column("Uncertainty", 5),
)
_VERIFICATION = 230.0  # room that keeps how to verify on one page, in points
_GROUPS = 8  # of a digest, in a row
_READ_BY_EYE = (
    "A character that the typeface of this print lacks, or that would hide or reorder others, is "
    "printed as its code, such as [U+4E2D]; nothing is left out. This file is not tagged for "
    "assistive technology."
)


def closing(document: Document, width: float) -> Iterator[Flowable]:
    """The blocks after the last opening."""
    yield PageBreak()
    entry = Entry("people", "People, instruments, sources")
    organizations = [_organization(party) for party in document.organizations]
    people = [_person(person) for person in document.people]
    instruments = [_instrument(instrument) for instrument in document.instruments]
    yield from together(
        display("People, instruments, sources", width, SECTION, entry),
        display("Organizations", width, PART),
        table(_ORGANIZATIONS, organizations, width, "No organizations."),
    )
    yield from together(display("People", width, PART), table(_PEOPLE, people, width, "No people."))
    yield from together(
        display("Instruments", width, PART),
        table(_INSTRUMENTS, instruments, width, "No instruments."),
    )
    yield from _alarm_logs(document.openings, width)
    yield from source_list(document, width)
    yield from _cautions(document.cautions, width)
    yield from _verification(document.verify, width)


def _organization(party: Organization) -> Line:
    return Line([party.name, spoken(party.capability), ", ".join(party.address), party.telephone])


def _person(person: Person) -> Line:
    return Line(
        [
            person.name,
            spoken(person.role),
            person.organization,
            person.qualification or "none recorded",
            person.qualification_no,
            person.valid_until or "",
        ]
    )


def _instrument(instrument: Instrument) -> Line:
    return Line(
        [
            instrument.ref,
            instrument.kind,
            instrument.serial,
            instrument.calibrated_on or "not recorded",
            instrument.calibration_due_on or "not recorded",
            instrument.resolution or "",
            instrument.uncertainty or "",
        ]
    )


def _alarm_logs(openings: Sequence[Opening], width: float) -> Iterator[Flowable]:
    """Each log once, with all the visits it was kept for: one panel test serves many doors."""
    logs: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for opening in openings:
        for visit in opening.visits:
            kept = visit.alarm_log or {}
            log = tuple(_logged(name, said) for name, said in kept.items())
            logs.setdefault(log, []).append(f"{opening.tag}, {moment(visit.performed_at)}")
    logs.pop((), None)
    heading = [display("Alarm log", width, PART)]
    if not logs:
        yield from together(*heading, para("No alarm log."))
    for log, visits in logs.items():
        kept_for = pairs([("Kept for", "\n".join(visits))], width, across=1)
        yield from together(*heading, kept_for)
        heading = []
        yield pairs(log, width)


def _logged(name: str, said: Any) -> tuple[str, str]:  # noqa: ANN401 - as it was sent
    """A line of a log; the alarm contractor signs it beside who attests to the visit."""
    if name != "contractor":
        return sentence_case(spoken(name)), plain(said)
    licence = f"licence {said['licence']}" if said.get("licence") else ""
    good = f"valid until {said['valid_until']}" if said.get("valid_until") else ""
    signed = [said["name"], said["firm"], licence, good, f"signed {moment(said['at'])}"]
    return "Second signer", joined(signed, ", ")


def _cautions(cautions: Sequence[str], width: float) -> Iterator[Flowable]:
    entry = Entry("cautions", "Cautions")
    first, *rest = [para(caution) for caution in cautions] or [para("No cautions.")]
    yield from together(display("Cautions", width, SECTION, entry), first)
    yield from rest


def _verification(verify: Verification, width: float) -> Iterator[Flowable]:
    entry = Entry("verify", "How to verify this packet")
    yield CondPageBreak(_VERIFICATION)
    yield from together(
        display("How to verify this packet", width, SECTION, entry),
        para("SHA-256 of the frozen content, in groups of four, left to right, line by line:"),
        _digest(verify.content_sha256, width),
        pairs([("Address", verify.url)], width, across=1),
    )
    for step in verify.how:
        yield para(step)
    yield para(_READ_BY_EYE)


def _digest(sha256: str, width: float) -> Flowable:
    return filled(grouped(sha256), (Column("", 1),) * _GROUPS, width * 0.7)
