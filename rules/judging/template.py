"""The parts of a verdict that no finding changes, written down once for each requirement."""

from __future__ import annotations

from typing import Any

from rules import wording  # as a module: it reads the bounds of limits from this package
from rules.judging.notes import shown
from rules.model import (
    CheckSpec,
    Citation,
    LimitSpec,
    PermissionSpec,
    Resolved,
    SequenceSpec,
)
from rules.quantities import Quantity
from rules.shares import worked_out

Judged = LimitSpec | CheckSpec | SequenceSpec | PermissionSpec


def template(resolved: Resolved, spec: Judged) -> dict[str, object]:
    """Every key of a verdict in its order, with the value it has while nothing was found."""
    requirement = resolved.requirement
    return {
        "requirement": requirement.id,
        "title": requirement.title,
        "kind": requirement.kind.value,
        **_named(spec),
        "verdict": None,
        "band": None,
        "margin": None,
        "probability_of_conformity": None,
        "limit": _limit(spec),
        "reading": None,
        "readings": [],
        "finding": None,
        "times": [],
        "reason": None,
        "message": "",
        "notes": [],
        "citation": _citation(resolved.requirement.citation),
        "applied_edition": resolved.applied_edition or None,
        "adopted_by": _citation(resolved.adopted_by) if resolved.adopted_by else None,
        "standing": requirement.standing.value,
        "adoption": resolved.adoption.value,
        "layer": resolved.layer,
        "lineage": _lineage(resolved),
        "protects": requirement.protects.value,
        "basis": requirement.basis.value,
        "required": False,
    }


def fresh(kept: dict[str, Any]) -> dict[str, object]:
    """A copy of a template whose parts a caller may change without changing the template."""
    copy = kept.copy()
    for key in ("limit", "citation", "adopted_by"):
        if copy[key] is not None:
            copy[key] = copy[key].copy()
    copy["lineage"] = [step.copy() for step in copy["lineage"]]
    copy["readings"], copy["times"] = [], []
    return copy


def _named(spec: Judged) -> dict[str, object]:
    """What is measured, looked at or observed: one of the three, the others null."""
    return {
        "quantity": spec.quantity if isinstance(spec, LimitSpec) else None,
        "check": spec.check if isinstance(spec, CheckSpec) else None,
        "asks": spec.asks if isinstance(spec, CheckSpec) else None,
        "sequence": spec.sequence if isinstance(spec, SequenceSpec) else None,
    }


def _limit(spec: Judged) -> dict[str, object] | None:
    if not isinstance(spec, LimitSpec):
        return None
    first = spec.low or spec.high
    return {
        "comparator": spec.comparator.value,
        "low": _bound(spec.low, first),
        "high": _bound(spec.high, first),
        "unit": first.unit.symbol if first else None,
        "nominal": str(spec.nominal) if spec.nominal else None,
        "printed_si": spec.printed_si or None,
        "measurement_point": spec.measurement_point or None,
        "method": spec.method or None,
        "test_load": str(spec.test_load) if spec.test_load else None,
        "repeats": spec.repeats,
        "governs": spec.governs.value,
        "worked_out": worked_out(spec) or None,
    }


def _bound(bound: Quantity | None, first: Quantity | None) -> str | None:
    """A bound as published; in the unit of the first where the two differ."""
    if bound is None or first is None or bound.unit == first.unit:
        return bound.text if bound else None
    return shown(bound.in_unit(first.unit))


def _citation(citation: Citation) -> dict[str, str]:
    return {
        "publication": citation.publication,
        "edition": citation.edition,
        "clause": citation.clause,
        "note": citation.note,
    }


def _lineage(resolved: Resolved) -> list[dict[str, object]]:
    """Who did what to it, since when, and what it was before."""
    return [
        {
            "layer": step.layer,
            "change": step.change.value,
            "since": step.since.isoformat() if step.since else None,
            "before": step.before.id if step.before else None,
            "said_before": said,
        }
        for step, said in zip(resolved.lineage, wording.said_before(resolved), strict=True)
    ]
