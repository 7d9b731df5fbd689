"""What was wrong with an opening: interim measures, repairs, and the proof."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import PART, display, pairs, table, together
from inspections.pdf.document.openings import Deficiency, InterimMeasure, Opening, Repair
from inspections.pdf.lines import para
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import joined, moment

_INTERIM = (
    Column("Interim measure", 12),
    Column("Responsible", 6),
    Column("From", 5),
    Column("Until", 5),
)
_REPAIRS = (Column("Repaired", 4), Column("By", 7), Column("What was done", 11), Column("Parts", 6))


def deficiency_blocks(opening: Opening, width: float) -> Iterator[Flowable]:
    """Every deficiency of the opening, or the sentence that there is none."""
    heading = [display("Deficiencies", width, PART)]
    titles = {v.requirement: v.title for visit in opening.visits for v in visit.verdicts}
    if not opening.deficiencies:
        yield from together(*heading, para("No deficiencies."))
    for deficiency in opening.deficiencies:
        yield from together(*heading, pairs(_facts(deficiency, titles), width))
        heading = []
        yield from _course(deficiency, width)


def _course(deficiency: Deficiency, width: float) -> Iterator[Flowable]:
    """What was done about it, in order, and how it ended."""
    if deficiency.interim:
        yield table(_INTERIM, [_interim(measure) for measure in deficiency.interim], width, "")
    if deficiency.repairs:
        yield table(_REPAIRS, [_repair(repair) for repair in deficiency.repairs], width, "")
    yield para(_outcome(deficiency))


def _facts(deficiency: Deficiency, titles: Mapping[str, str]) -> list[tuple[str, str]]:
    requirement = deficiency.requirement
    guarded = "yes: an interim measure is in force" if deficiency.guarded else "no"
    return [
        ("Deficiency", deficiency.ref),
        ("State", deficiency.state),
        ("What is wrong", deficiency.words),
        ("Requirement", joined([titles.get(requirement, ""), requirement], "\n")),
        ("Opened on", deficiency.opened_on),
        ("Guarded", guarded),
    ]


def _interim(measure: InterimMeasure) -> Line:
    until = moment(measure.ends_at) if measure.ends_at else "no end date"
    return Line([measure.words, measure.responsible, moment(measure.begins_at), until])


def _repair(repair: Repair) -> Line:
    by = joined([repair.by, repair.organization], ", ")
    return Line([repair.on, by, repair.words, "\n".join(repair.parts)])


def _outcome(deficiency: Deficiency) -> str:
    if deficiency.withdrawn_reason is not None:
        return f"Withdrawn: {deficiency.withdrawn_reason}"
    if deficiency.proven_on is None:
        return "Not proven: no retest conforms yet."
    by = f" by visit {deficiency.proven_by_visit}" if deficiency.proven_by_visit else ""
    return f"Proven on {deficiency.proven_on}{by}: the retest conforms to the requirement tested."
