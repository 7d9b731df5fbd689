"""A number that a door's own instructions give once governs wherever that number is asked for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rules.drafts import Draft
from rules.model import LimitSpec, LineageStep, Requirement, SequenceSpec
from rules.vocabulary import Change

Numbers = dict[tuple[str, str], Draft]


def origin_of(requirement: Requirement) -> str:
    """The publication, or the layer, whose name a requirement's id begins with."""
    return requirement.id.partition("/")[0]


def share_numbers(drafts: Iterable[Draft]) -> None:
    """Give the times of a sequence that wait for this door's number the one that is on file for
    the same quantity in the same publication: one number, one answer.
    """
    known = list(drafts)
    numbers: Numbers = {}
    for draft in known:
        spec = draft.requirement.spec
        if isinstance(spec, LimitSpec) and (spec.low or spec.high):
            numbers[origin_of(draft.requirement), spec.quantity] = draft
    for draft in known:
        if isinstance(spec := draft.requirement.spec, SequenceSpec):
            for place, time in enumerate(spec.times):
                held = numbers.get((origin_of(draft.requirement), time.quantity))
                waits = time.supplied_per_door and not (time.low or time.high)
                if held is not None and waits and (draft.advisory or not held.advisory):
                    _take(draft, place, held)


def _take(draft: Draft, place: int, held: Draft) -> None:
    """Let the sequence hold the number, and tell where it came from."""
    before, number = draft.requirement, held.requirement.spec
    assert isinstance(before.spec, SequenceSpec)  # noqa: S101 (what has times)
    assert isinstance(number, LimitSpec)  # noqa: S101 (what has a number)
    time = replace(
        before.spec.times[place],
        low=number.low,
        high=number.high,
        comparator=number.comparator,
        supplied_per_door=False,
    )
    times = (*before.spec.times[:place], time, *before.spec.times[place + 1 :])
    draft.requirement = replace(before, spec=replace(before.spec, times=times))
    draft.layer, draft.adoption = held.layer, held.adoption
    draft.lineage.append(replace(_given_by(held), before=before))


def _given_by(held: Draft) -> LineageStep:
    """The step by which a number came, not one that only confirmed it."""
    steps = [step for step in held.lineage if step.change is not Change.ADOPT]
    return (steps or held.lineage)[-1]
