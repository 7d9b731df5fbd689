"""What a visit is asked to look at, measure and observe, each with its source."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from rules.canonical import plain
from rules.judging.bounds import limit_of
from rules.layers import INSTRUCTIONS
from rules.model import LimitSpec, Resolved, SequenceSpec
from rules.shares import worked_out
from rules.vocabulary import Activity


class Asked(StrEnum):
    """How firmly a thing is asked for, the firmest first."""

    REQUIRED = "required"
    WHERE_REPAIRED = "where_repaired"  # a retest asks for what hangs on the part that was repaired
    PER_DOOR = "per_door"  # the door's own instructions say what is right, or are to say it
    ADVISORY = "advisory"


_FIRMEST = list(Asked)


def firmest(words: list[Asked]) -> Asked:
    """The firmest of several."""
    return min(words, key=_FIRMEST.index)


def asked_in(resolved: Resolved, activity: Activity) -> Asked | None:
    """How firmly this activity asks for a thing looked at, measured or observed; None where it
    does not.
    """
    requirement = resolved.requirement
    named = activity in requirement.required_in
    if activity is Activity.REPAIR_RETEST and not named:
        return Asked.ADVISORY if resolved.advisory else Asked.WHERE_REPAIRED
    # What no kind of visit has to look at is offered where a door is gone through whole.
    offered = not requirement.required_in and activity is not Activity.OPERATION_TEST
    if not (named or offered):
        return None
    if by_its_own_instructions(resolved):
        return Asked.PER_DOOR
    if resolved.advisory:
        return Asked.ADVISORY
    return Asked.REQUIRED if named else None


def by_its_own_instructions(resolved: Resolved) -> bool:
    """Whether the numbers are theirs to give, given or not, and no other text asks for it."""
    requirement, spec = resolved.requirement, resolved.requirement.spec
    if isinstance(spec, LimitSpec) and _unsupplied(spec):
        return True
    if requirement.required_in:
        return False
    timed = isinstance(spec, SequenceSpec) and any(map(_unsupplied, spec.times))
    return resolved.layer == INSTRUCTIONS or (timed and not resolved.advisory)


def _unsupplied(spec: LimitSpec) -> bool:
    return spec.supplied_per_door and limit_of(spec) is None


def source(resolved: Resolved, asked: Asked, activity: Activity) -> dict[str, Any]:
    """Which requirement asks, how firmly, where it is written and how that is known."""
    requirement = resolved.requirement
    return {
        "requirement": requirement.id,
        "title": requirement.title,
        "asked": asked.value,
        "may_stay_untested": activity in requirement.may_stay_untested_in,
        "protects": requirement.protects.value,
        "citation": plain(requirement.citation),
        "applied_edition": resolved.applied_edition or None,
        "standing": requirement.standing.value,
        "adoption": resolved.adoption.value,
        "layer": resolved.layer,
        "missing_facts": list(resolved.missing_facts),
    }


def limit_json(spec: LimitSpec) -> dict[str, Any]:
    """A limit as published, in words too; `supplied` is false while its number must come from the
    door's own instructions or from a fact that is not known.
    """
    limit = limit_of(spec)
    words = limit.words if limit else worked_out(spec) or "to be supplied for each door"
    return {"words": words, "supplied": limit is not None, **plain(spec)}
