"""A door's own listed instructions, the last layer.

Each instruction is an object, either a whole requirement as a data file writes it (with `kind`),
or a statement about one that is there:

    {"target": "common-practice/closing-speed", "low": "8 in/s", "high": "12 in/s",
     "citation": {"publication": "installation instructions", "edition": "C", "clause": "4.2"}}
    {"target": "common-practice/obstruction", "times": {"pause_time": {"high": "5 s"}}, …}

They supply numbers for what is supplied per door, adopt or replace advisory settings, and tighten
what binds. They never relax what binds: then both stand, and the strictest governs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from rules.amending import comparator_of, move, move_limit
from rules.drafts import Case, Draft
from rules.errors import InputError, Problem
from rules.layers import INSTRUCTIONS, Amendment, Layer, LayerKind, Library
from rules.library import alias, named_in
from rules.loading.requirements import read_citation, read_requirement
from rules.loading.specs import read_bounds
from rules.loading.table import Table
from rules.measurands import MEASURANDS
from rules.model import LimitSpec, LineageStep, Requirement, SequenceSpec
from rules.quantities import Quantity
from rules.vocabulary import Adoption, Change, Standing

LAYER = Layer(LayerKind.INSTRUCTIONS, INSTRUCTIONS, "", "the door's listed instructions", ())


@dataclass(frozen=True, slots=True)
class Instruction:
    """One statement: an amendment, and the times it gives for the steps of a sequence."""

    amendment: Amendment
    times: Mapping[str, tuple[Quantity | None, Quantity | None]]


def read_instructions(
    raw: object, library: Library, pointer: str = "/listed_instructions"
) -> tuple[Instruction, ...]:
    """The instructions of a door, checked; raises InputError with every mistake."""
    if not isinstance(raw, Sequence) or isinstance(raw, str | bytes):
        raise InputError.at(pointer, "wrong_type", "listed instructions are a list of objects")
    problems: list[Problem] = []
    found = []
    for place, item in enumerate(raw):
        where = f"{pointer}/{place}"
        if isinstance(item, Mapping):
            found.append(_read(Table(item, where, problems), library))
        else:
            problems.append(Problem(where, "wrong_type", "an instruction is an object"))
    if problems:
        raise InputError(problems)
    return tuple(instruction for instruction in found if instruction is not None)


def _read(table: Table, library: Library) -> Instruction | None:
    since, until = table.day("from"), table.day("until")
    if table.has("kind"):
        requirement = read_requirement(table, prefix=INSTRUCTIONS, inside=None)
        table.close()
        if requirement is None:
            return None
        return Instruction(_adding(table, requirement, since, until), {})
    target = table.slug("target")
    if target and not named_in(library, target):
        table.refuse("target", "unknown_target", f"no requirement is named {target}")
    numbers: dict[str, Any] = {"low": table.measure("low"), "high": table.measure("high")}
    numbers |= {"every": table.period("every"), "keep": table.duration("keep")}
    times = _read_times(table.table("times"))
    standing = table.word("standing", Standing, Standing.SECONDARY) or Standing.SECONDARY
    citation = read_citation(table)
    table.close()
    if citation is None or not target:
        return None
    change = Change.REPLACE if any(numbers.values()) or times else Change.ADOPT
    amendment = Amendment(
        change, target, since, until, citation, standing, table.pointer, **numbers
    )
    return Instruction(amendment, times)


def _adding(
    table: Table, requirement: Requirement, since: date | None, until: date | None
) -> Amendment:
    return Amendment(
        Change.ADD,
        requirement.id,
        since,
        until,
        requirement.citation,
        requirement.standing,
        table.pointer,
        requirement=requirement,
    )


def _read_times(table: Table | None) -> dict[str, tuple[Quantity | None, Quantity | None]]:
    if table is None:
        return {}
    found = {}
    for name in table.names():
        bounds = table.table(name)
        if name not in MEASURANDS:
            table.refuse(name, "unknown_quantity", "nothing measurable has this name")
        elif bounds is not None:
            found[name] = read_bounds(bounds, name)
            bounds.close()
    return found


def follow(
    library: Library, drafts: dict[str, Draft], instructions: Sequence[Instruction], case: Case
) -> None:
    """Let the instructions in force on the day of the case speak last."""
    for instruction in instructions:
        amendment = instruction.amendment
        if not amendment.stands_on(case.on):
            continue
        if amendment.requirement is not None:
            _introduce(drafts, amendment, amendment.requirement, amendment.requirement.id)
            continue
        for draft in _named(library, drafts, amendment):
            _follow_one(drafts, draft, instruction)


def _named(library: Library, drafts: dict[str, Draft], amendment: Amendment) -> list[Draft]:
    target = amendment.target
    found = [d for d in drafts.values() if target in (d.requirement.id, d.alias)]
    if found:
        return found
    newest = named_in(library, target)[-1]
    adoption = replace(amendment, change=Change.ADOPT)
    return [_introduce(drafts, adoption, newest, alias(library, newest))]


def _introduce(
    drafts: dict[str, Draft], amendment: Amendment, requirement: Requirement, its_alias: str
) -> Draft:
    step = LineageStep(INSTRUCTIONS, amendment.change, amendment.since, amendment.citation)
    advisory = amendment.standing.advisory
    draft = Draft(
        requirement, its_alias, INSTRUCTIONS, Adoption.RECORDED, advisory, amendment.since, [step]
    )
    drafts[requirement.id] = draft
    return draft


def _follow_one(drafts: dict[str, Draft], draft: Draft, instruction: Instruction) -> None:
    amendment = instruction.amendment
    if isinstance(draft.requirement.spec, SequenceSpec) and instruction.times:
        timed = _timed(draft.requirement, draft.requirement.spec, instruction)
        draft.record(LAYER, amendment, timed)
        return
    if amendment.change is Change.ADOPT:
        draft.record(LAYER, amendment, draft.requirement)
        return
    moved = move(draft.requirement, amendment)
    if moved.requirement is None:
        raise InputError.at(
            f"{amendment.pointer}/{moved.key or 'target'}", "cannot_move", moved.problem
        )
    _settle(drafts, draft, amendment, moved.requirement, moved.change)


def _settle(
    drafts: dict[str, Draft],
    draft: Draft,
    amendment: Amendment,
    moved: Requirement,
    change: Change | None,
) -> None:
    own = replace(moved, citation=amendment.citation, standing=amendment.standing)
    spec = draft.requirement.spec
    free = draft.advisory or (isinstance(spec, LimitSpec) and spec.supplied_per_door)
    if free:
        draft.record(LAYER, amendment, own)
    elif change is Change.TIGHTEN:
        draft.record(LAYER, replace(amendment, change=Change.TIGHTEN), own)
    elif change is not None:
        beside = replace(own, id=f"{INSTRUCTIONS}/{draft.alias}")
        _introduce(drafts, replace(amendment, change=Change.ADD), beside, beside.id)


def _timed(requirement: Requirement, spec: SequenceSpec, instruction: Instruction) -> Requirement:
    """The sequence with the times that the instructions give, none made looser."""
    left = dict(instruction.times)
    times = [_time(time, left.pop(time.quantity, (None, None))) for time in spec.times]
    times += [
        LimitSpec(name, comparator_of(low, high), low, high) for name, (low, high) in left.items()
    ]
    return replace(
        requirement,
        spec=replace(spec, times=tuple(times)),
        citation=instruction.amendment.citation,
        standing=instruction.amendment.standing,
    )


def _time(old: LimitSpec, bounds: tuple[Quantity | None, Quantity | None]) -> LimitSpec:
    if bounds == (None, None):
        return old
    new, change = move_limit(old, *bounds)
    return new if old.supplied_per_door or change is Change.TIGHTEN else old
