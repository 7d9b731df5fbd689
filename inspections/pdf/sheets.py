"""One opening: what it is, what is owed on it, its visits, and what was wrong with it."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import PageBreak
from reportlab.platypus.flowables import Flowable

from inspections.pdf.attendance import attendance
from inspections.pdf.blocks import (
    PART,
    SECTION,
    SMALL_PART,
    Entry,
    Plot,
    display,
    pairs,
    table,
    together,
)
from inspections.pdf.deficiencies import deficiency_blocks
from inspections.pdf.document.openings import Duty, Opening, Tag
from inspections.pdf.evidence import note_rows
from inspections.pdf.lines import para
from inspections.pdf.photos import Picture
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import citation, joined, plain, sentence_case, spoken
from inspections.plots.curves import series_picture
from inspections.plots.traces import Series

_DUTIES = (
    Column("Activity owed", 6),
    Column("Opens on", 4),
    Column("Due on", 4),
    Column("Closes on", 4),
    Column("State", 4),
    Column("Source", 10),
)
_SERIES_HEIGHT = 135.0


def sheet(opening: Opening, key: str, picture: Picture, width: float) -> Iterator[Flowable]:
    """The blocks of one opening, beginning on a page of its own."""
    entry = Entry(key, f"{opening.tag}, {opening.location}", level=1)
    yield PageBreak()
    yield display(f"Opening {opening.tag}", width, SECTION, entry)
    yield pairs(_identity(opening), width)
    if opening.facts:
        facts = [(sentence_case(spoken(k)), plain(v)) for k, v in opening.facts.items()]
        yield from together(
            display("Facts the verdicts rest on", width, SMALL_PART), pairs(facts, width)
        )
    duties = table(_DUTIES, [_duty(duty) for duty in opening.duties], width, "No duties.")
    yield from together(display("Duties", width, SMALL_PART), duties)
    if not opening.visits:
        yield para("No visit is recorded.")
    for visit in opening.visits:
        yield from attendance(visit, picture, width)
    yield from deficiency_blocks(opening, width)
    for series in opening.series:
        yield from _trend(series, width)


def _identity(opening: Opening) -> list[tuple[str, str]]:
    ratings = [(f"Rating, {spoken(k)}", plain(v)) for k, v in opening.ratings.items()]
    return [
        ("Location", opening.location),
        ("Floor", opening.floor),
        ("Door type", spoken(opening.door_type)),
        ("Operation", spoken(opening.operation)),
        ("Tags", "\n".join(_tag(tag) for tag in opening.tags)),
        *ratings,
    ]


def _tag(tag: Tag) -> str:
    since = f"from {tag.begins_on}" if tag.begins_on else ""
    until = f"until {tag.ends_on}" if tag.ends_on else ""
    return joined([tag.tag, since, until], " ")


def _duty(duty: Duty) -> Line:
    texts = [
        sentence_case(spoken(duty.activity)),
        duty.opens_on or "",
        duty.due_on,
        duty.closes_on,
        _state(duty),
        _asked_by(duty),
    ]
    return Line(texts, strong=[4] if duty.state == "overdue" else [])


def _state(duty: Duty) -> str:
    """The state, and for what is not known to apply the facts that would tell."""
    _, asked, facts = duty.reason.partition("fact_missing: ")
    if not asked:
        return spoken(duty.state)
    return f"{spoken(duty.state)}: not known to apply without {spoken(facts)}"


def _trend(series: Series, width: float) -> Iterator[Flowable]:
    picture = series_picture(series, width=width, height=_SERIES_HEIGHT)
    yield from together(
        display(f"{series.title} over the years", width, PART),
        Plot(picture),
        *note_rows(picture, width),
    )
    if series.says:
        yield para(series.says)


def _asked_by(duty: Duty) -> str:
    """Where the duty is written, and whether the place is known to have adopted that."""
    as_what = "" if duty.adoption == "recorded" else "applied as reference"
    return joined([citation(duty.citation), as_what], "; ")
