"""Whether one requirement asks more or less than another in its place."""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

from rules.amending import length
from rules.model import (
    IntervalSpec,
    LimitSpec,
    RecordSpec,
    RetentionSpec,
    SequenceSpec,
    Spec,
)
from rules.quantities import Quantity


class Difference(StrEnum):
    """How a requirement differs from the one that stood in its place."""

    TIGHTENED = "tightened"
    RELAXED = "relaxed"
    CHANGED = "changed"  # in both directions, or in what cannot be more or less
    RESTATED = "restated"  # asks the same in the same words, and is written elsewhere or otherwise


def difference(old: Spec, new: Spec) -> Difference | None:
    """How `new` differs from `old`; None where they ask the same."""
    if old == new:
        return None
    moves = _moves(old, new)
    if moves == {1}:
        return Difference.TIGHTENED
    return Difference.RELAXED if moves == {-1} else Difference.CHANGED


def _moves(old: Spec, new: Spec) -> set[int]:
    """Which ways the parts moved: 1 for asking more, -1 for asking less."""
    match old, new:
        case LimitSpec(), LimitSpec():
            return _limit(old, new)
        case SequenceSpec(), SequenceSpec():
            return _sequence(old, new)
        case IntervalSpec(), IntervalSpec() if old.every and new.every:
            late = _sign(_span(old.late) - _span(new.late))
            return {_sign(length(old.every) - length(new.every)), late} - {0}
        case RetentionSpec(), RetentionSpec():
            return {_sign(length(new.keep) - length(old.keep))} - {0}
        case RecordSpec(), RecordSpec():
            return _sets(set(old.contents), set(new.contents))
    return set()


def _limit(old: LimitSpec, new: LimitSpec) -> set[int]:
    if old.quantity != new.quantity:
        return {1, -1}
    return {_bound(old.low, new.low, 1), _bound(old.high, new.high, -1)} - {0}


def _bound(old: Quantity | None, new: Quantity | None, inwards: int) -> int:
    """1 where the bound moved inwards or was newly set, -1 where it moved outwards or went."""
    if old is None or new is None:
        return (new is not None) - (old is not None)
    return _sign(new.si - old.si) * inwards


def _sequence(old: SequenceSpec, new: SequenceSpec) -> set[int]:
    moves = _sets({step.step for step in old.steps}, {step.step for step in new.steps})
    before = {time.quantity: time for time in old.times}
    after = {time.quantity: time for time in new.times}
    moves |= _sets(set(before), set(after))
    for quantity in before.keys() & after.keys():
        moves |= _limit(before[quantity], after[quantity])
    return moves


def _sets(old: set[str], new: set[str]) -> set[int]:
    return {sign for sign, part in ((1, new - old), (-1, old - new)) if part}


def _span(duration: str) -> Fraction:
    return length(duration) if duration else Fraction(0)


def _sign(value: Fraction) -> int:
    return (value > 0) - (value < 0)
