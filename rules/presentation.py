"""One resolved requirement as JSON: what it says, where that is written, how it came to hold."""

from __future__ import annotations

from typing import Any

from rules.canonical import plain
from rules.model import LineageStep, Resolved


def requirement_json(resolved: Resolved) -> dict[str, Any]:
    """The requirement with citation, standing and lineage, ready for `json.dumps`."""
    requirement = resolved.requirement
    return {
        "requirement": requirement.id,
        "kind": requirement.kind.value,
        "title": requirement.title,
        requirement.kind.value: plain(requirement.spec),
        "basis": requirement.basis.value,
        "protects": requirement.protects.value,
        "doors": requirement.doors.value,
        "applies": plain(requirement.applies),
        "required_in": sorted(requirement.required_in),
        "may_stay_untested_in": sorted(requirement.may_stay_untested_in),
        "citation": plain(requirement.citation),
        "applied_edition": resolved.applied_edition or None,
        "standing": requirement.standing.value,
        "advisory": resolved.advisory,
        "adoption": resolved.adoption.value,
        "layer": resolved.layer,
        "since": plain(resolved.since),
        "missing_facts": list(resolved.missing_facts),
        "lineage": [_step_json(step) for step in resolved.lineage],
    }


def _step_json(step: LineageStep) -> dict[str, Any]:
    before = step.before
    return {
        "layer": step.layer,
        "change": step.change.value,
        "since": plain(step.since),
        "citation": plain(step.citation),
        "before": before
        and {
            "requirement": before.id,
            "title": before.title,
            before.kind.value: plain(before.spec),
            "citation": plain(before.citation),
            "standing": before.standing.value,
        },
    }
