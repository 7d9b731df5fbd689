"""What tighten and relax mean for each kind of requirement."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from rules.errors import InputError
from rules.intervals import check_interval
from rules.layers import Amendment
from rules.measurands import MEASURANDS
from rules.model import IntervalSpec, LimitSpec, Requirement, RetentionSpec
from rules.quantities import Quantity
from rules.vocabulary import Change, Comparator

_PARTS = re.compile(r"P(?:(\d+)Y)?(?:(\d+)M)?(?:(\d+)W)?(?:(\d+)D)?(?:T(\d+)H)?", re.ASCII)
_DAYS_IN_A_MONTH = Fraction(146097, 4800)  # the Gregorian mean: only to tell longer from shorter


def length(duration: str) -> Fraction:
    """How long an ISO 8601 duration is, in mean days, for comparing two of them."""
    parts = _PARTS.findall(duration)[0]  # the loader lets nothing else through
    years, months, weeks, days, hours = (int(part or 0) for part in parts)
    return (years * 12 + months) * _DAYS_IN_A_MONTH + weeks * 7 + days + Fraction(hours, 24)


@dataclass(frozen=True, slots=True)
class Moved:
    """A requirement with its number moved, and whether that tightened or relaxed it.

    `problem` says why it cannot be moved so; then `requirement` is None. `change` is None where
    the new number is the old one, or tightens at one end and relaxes at the other.
    """

    requirement: Requirement | None
    change: Change | None = None
    problem: str = ""
    key: str = ""


def move(requirement: Requirement, amendment: Amendment) -> Moved:
    """The requirement with the amendment's numbers in place of its own."""
    match requirement.spec:
        case LimitSpec():
            return _move_limit(requirement, requirement.spec, amendment.low, amendment.high)
        case IntervalSpec() if requirement.spec.every and amendment.every:
            return _move_interval(requirement, requirement.spec, amendment.every)
        case RetentionSpec(keep=kept) if amendment.keep:
            longer = length(amendment.keep) - length(kept)
            kept_spec = replace(requirement.spec, keep=amendment.keep)
            return Moved(replace(requirement, spec=kept_spec), _sign(longer))
    return Moved(None, problem=f"this {requirement.kind} has no such number to move")


def _move_interval(requirement: Requirement, old: IntervalSpec, every: str) -> Moved:
    spec = replace(old, every=every)
    try:
        check_interval(spec)
    except InputError as refused:
        return Moved(None, problem=refused.problems[0].message, key="every")
    return Moved(replace(requirement, spec=spec), _sign(length(old.every) - length(every)))


def _sign(inwards: Fraction) -> Change | None:
    if inwards == 0:
        return None
    return Change.TIGHTEN if inwards > 0 else Change.RELAX


def _move_limit(
    requirement: Requirement, old: LimitSpec, low: Quantity | None, high: Quantity | None
) -> Moved:
    for key, new in (("low", low), ("high", high)):
        if new is not None and not MEASURANDS[old.quantity].takes(new.unit):
            why = f"{old.quantity} is not measured in {new.unit.symbol}"
            return Moved(None, problem=why, key=key)
    if low is None and high is None:
        return Moved(None, problem="a limit is moved by low, high or both")
    spec, change = move_limit(old, low, high)
    if spec.low and spec.high and spec.low.si > spec.high.si:
        return Moved(None, problem="the lower bound lies above the upper one", key="low")
    return Moved(replace(requirement, spec=spec), change)


def move_limit(
    old: LimitSpec, low: Quantity | None, high: Quantity | None
) -> tuple[LimitSpec, Change | None]:
    """The limit with new bounds, one that is None left as it was, and what that does to it."""
    low, high = low or old.low, high or old.high
    new = replace(
        old,
        low=low,
        high=high,
        printed_si="",
        nominal=None,
        supplied_per_door=False,
        comparator=comparator_of(low, high),
    )
    return new, _direction(old, new)


def comparator_of(low: Quantity | None, high: Quantity | None) -> Comparator:
    """Which sides are bounded."""
    if low and high:
        return Comparator.BETWEEN
    return Comparator.AT_LEAST if low else Comparator.AT_MOST


def _direction(old: LimitSpec, new: LimitSpec) -> Change | None:
    inwards = {_step(old.low, new.low, inwards=1), _step(old.high, new.high, inwards=-1)} - {0}
    if len(inwards) != 1:
        return None
    return Change.TIGHTEN if inwards == {1} else Change.RELAX


def _step(old: Quantity | None, new: Quantity | None, *, inwards: int) -> int:
    """1 where the bound moved inwards or was newly set, -1 outwards, 0 where it stayed."""
    if new is None or (old is not None and old.si == new.si):
        return 0
    if old is None:
        return 1
    return inwards if new.si > old.si else -inwards
