"""The limits of a series: of all that apply to a quantity, the strictest on each side."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from rules.model import LimitSpec, RequirementSet, Resolved
from rules.presentation import requirement_json
from rules.quantities import Quantity, Unit

Side = Literal["low", "high"]


@dataclass(frozen=True, slots=True)
class Bound:
    """One side's limit in its published unit. An advisory one binds nobody until adopted, and
    stands only where no binding one does.
    """

    side: Side
    text: str
    unit: Unit
    requirement: str
    title: str
    citation: dict[str, Any]
    adoption: str
    advisory: bool


def bounds_of(requirements: RequirementSet) -> dict[str, list[Bound]]:
    """By quantity: the upper limit before the lower, a binding one before an advisory one."""
    stated: dict[tuple[str, Side], list[tuple[Resolved, Quantity]]] = defaultdict(list)
    for resolved in requirements.items:
        spec = resolved.requirement.spec
        if not isinstance(spec, LimitSpec) or resolved.missing_facts:
            continue
        if spec.high is not None:
            stated[spec.quantity, "high"].append((resolved, spec.high))
        if spec.low is not None:
            stated[spec.quantity, "low"].append((resolved, spec.low))
    found: dict[str, list[Bound]] = defaultdict(list)
    for (quantity, side), limits in stated.items():
        found[quantity].append(_strictest(side, limits))
    return {q: sorted(each, key=lambda b: (b.advisory, b.side)) for q, each in found.items()}


def _strictest(side: Side, limits: list[tuple[Resolved, Quantity]]) -> Bound:
    outward = 1 if side == "high" else -1

    def rank(limit: tuple[Resolved, Quantity]) -> tuple[bool, Fraction]:
        return limit[0].advisory, limit[1].si * outward

    resolved, bound = min(limits, key=rank)
    shown = requirement_json(resolved)
    return Bound(
        side,
        bound.text,
        bound.unit,
        resolved.requirement.id,
        resolved.requirement.title,
        shown["citation"],
        resolved.adoption.value,
        resolved.advisory,
    )
