"""The first page: how much of the building is here, what was found, and by which rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus import Spacer
from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import (
    COVERAGE,
    KICKER,
    NAME,
    PART,
    UNDERLINE,
    Entry,
    display,
    pairs,
    table,
    together,
)
from inspections.pdf.document import Document
from inspections.pdf.document.packet import PlaceRules
from inspections.pdf.lines import para, wrap
from inspections.pdf.rows import Column, Line
from inspections.pdf.theme import HAIR, INK, LEADING, SMALL, SOFT, TITLE, bold, regular
from inspections.pdf.words import citation, joined, moment
from rules.layers import INSTRUCTIONS

_RULES = (
    Column("Place", 5),
    Column("Editions applied", 6),
    Column("Overrides in force", 8),
)


class Figures(Flowable):
    """A few counts in large figures, each over the words that say what it counts."""

    def __init__(self, counts: Sequence[tuple[int, str]], width: float) -> None:
        super().__init__()
        self.width, self._step = width, width / len(counts)
        self._counts = [(str(n), wrap(words, self._step - 14, SMALL)) for n, words in counts]
        deepest = max(len(lines) for _, lines in self._counts)
        self.height = TITLE * LEADING + deepest * SMALL * LEADING + 8
        self.spaceBefore, self.spaceAfter = 8.0, 10.0

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The size, known since the words were measured."""
        return self.width, self.height

    def draw(self) -> None:
        """Write each count over its words, a thin rule to its left."""
        for index, (count, lines) in enumerate(self._counts):
            left = index * self._step
            self.canv.setStrokeGray(HAIR)
            self.canv.setLineWidth(0.5)
            self.canv.line(left, 2, left, self.height - 2)
            text = self.canv.beginText(left + 8, self.height - TITLE)
            text.setFont((bold() if count != "0" else regular()).name, TITLE)
            text.setFillGray(INK)
            text.textOut(count)
            text.setTextOrigin(left + 8, self.height - TITLE * LEADING - SMALL)
            text.setFont(regular().name, SMALL, SMALL * LEADING)
            text.setFillGray(SOFT)
            for line in lines:
                text.textLine(line)
            self.canv.drawText(text)


def cover(document: Document, width: float) -> Iterator[Flowable]:
    """The blocks of the first page."""
    site, packet = document.site, document.packet
    if packet.demonstration:
        yield display("Demonstration data: invented", width, KICKER)
    yield display(f"Fire door record submitted to {document.authority.name}", width, KICKER)
    yield display(site.name, width, NAME, Entry("cover", site.name))
    yield display(", ".join(site.address), width, UNDERLINE)
    yield display(document.coverage.says, width, COVERAGE)
    yield display(_share(document), width, UNDERLINE)
    yield Figures(_counts(document), width)
    yield pairs(_identity(document), width)
    yield Spacer(0, 4)
    yield from together(
        display("Rules applied", width, PART),
        _rules(document.rules, width),
        para(
            "A verdict says whether a reading, a looked-at item or an observed sequence conforms "
            "to one requirement on the day of the visit. It says nothing beyond that."
        ),
    )


def _share(document: Document) -> str:
    coverage = document.coverage
    said = f"{coverage.included} of the {coverage.openings} openings in service at this address"
    return f"{said}; the verdicts below are those of the visits that stand."


def _counts(document: Document) -> list[tuple[int, str]]:
    counts = document.counts
    return [
        (counts.does_not_conform, "visits do not conform to a requirement tested"),
        (counts.inconclusive, "visits inconclusive: cannot be judged, with the reason"),
        (counts.not_tested, "visits not tested"),
        (counts.conforms, "visits conform to the requirements tested"),
    ]


def _identity(document: Document) -> list[tuple[str, str]]:
    packet, site, place = document.packet, document.site, document.authority.jurisdiction
    return [
        ("Building", joined([site.name, site.ref], ", ")),
        ("Address", "\n".join(site.address)),
        ("Owner", document.owner.name),
        ("Authority", document.authority.name),
        ("Jurisdiction", f"{place.name} ({place.code})"),
        ("Time zone", site.time_zone),
        ("Visits", _period(document)),
        ("Assembled", f"{moment(packet.assembled_at)}, by {packet.assembled_by}"),
        ("Packet", f"{packet.id}, version {packet.version}"),
        ("Supersedes", packet.supersedes or "no earlier packet"),
        ("Judged with", f"rules library {packet.library.version}"),
        ("Exceptions", str(len(document.exceptions))),
    ]


def _period(document: Document) -> str:
    days = [v.performed_at.partition("T")[0] for o in document.openings for v in o.visits]
    return f"{min(days)} to {max(days)}, {len(days)} in all" if days else "none"


def _rules(places: Sequence[PlaceRules], width: float) -> Flowable:
    return table(_RULES, [_place(place) for place in places], width, "No rules on file.")


def _place(place: PlaceRules) -> Line:
    adoption = "adoption recorded"
    if place.adoption == "not_recorded":
        adoption = "adoption not recorded: applied as reference"
    editions = "\n".join(f"{e.publication}, {e.edition}" for e in place.editions)
    overrides = "\n".join(
        f"{o.title}, from {o.begins_on}: {citation(o.citation)}" for o in place.overrides
    )
    name = f"{place.name} ({place.place})\n{adoption}"
    if place.place == INSTRUCTIONS:
        name = place.name
    elif not editions:
        name = f"{place.name} ({place.place})\nno adoption of an edition recorded"
    return Line([name, editions or "none of its own", overrides or "none"])
