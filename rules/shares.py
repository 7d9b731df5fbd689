"""Limits published for a share of a quantity, such as 0.2 in of clear width for each occupant.

For one opening such a limit is one on the whole: 120 occupants x 0.2 in = 24 in. The product is
exact, in the unit as published; it has no SI value printed beside it, only the share has.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from rules.drafts import Case, Draft
from rules.measurands import MEASURANDS, Share
from rules.model import LimitSpec, Requirement, Shared
from rules.quantities import Dimension, Quantity, decimal_of, unit

_WHOLE = {Dimension.LENGTH: unit("mm")}  # in which a fact that is a measure is told


def share_out(draft: Draft, case: Case) -> bool:
    """Make a limit on a share one on the whole; false where no such limit stands."""
    spec = draft.requirement.spec
    share = MEASURANDS[spec.quantity].share if isinstance(spec, LimitSpec) else None
    if share is None:
        return True
    times = case.facts.get(share.fact)
    if times is None and not share.expected:
        return False
    if times is None:
        draft.missing.add(share.fact)
    assert times is None or isinstance(times, int | Fraction)  # noqa: S101 - as facts are read
    draft.requirement = _whole(draft.requirement, share, times)
    return True


@lru_cache(maxsize=4096)
def _whole(requirement: Requirement, share: Share, times: Fraction | int | None) -> Requirement:
    old = requirement.spec
    assert isinstance(old, LimitSpec)  # noqa: S101 - the caller saw one
    shared = Shared(old.quantity, share.fact, old.low, old.high, old.printed_si, times)
    spec = replace(
        old,
        quantity=share.of,
        low=_product(old.low, share, times),
        high=_product(old.high, share, times),
        printed_si="",
        shared=shared,
    )
    return replace(requirement, spec=spec)


def _product(bound: Quantity | None, share: Share, times: Fraction | int | None) -> Quantity | None:
    if bound is None or times is None:
        return None
    whole = MEASURANDS[share.of].dimension
    value = bound.value * times
    if bound.unit.dimension is whole:
        return Quantity(value, bound.unit, decimal_of(value))
    value = value * bound.unit.factor / _WHOLE[whole].factor
    return Quantity(value, _WHOLE[whole], decimal_of(value))


def worked_out(spec: LimitSpec) -> str:
    """How the bounds came about, in words; empty for a limit that is published as it is."""
    shared = spec.shared
    share = MEASURANDS[shared.quantity].share if shared else None
    if shared is None or share is None:
        return ""
    counted = f"{shared.times} {share.words}" if isinstance(shared.times, int) else share.words
    ends = ((shared.low, spec.low), (shared.high, spec.high))
    return ", ".join(
        f"{counted} x {each} = {bound or 'unknown'}" for each, bound in ends if each is not None
    )
