"""Verdicts as the answer carries them: one shape for every kind of requirement."""

from __future__ import annotations

from typing import NamedTuple

from rules.judging.compiled import Item, Judged
from rules.judging.findings import Findings
from rules.judging.notes import shown
from rules.judging.outcome import (
    NO_ACCESS,
    NOT_RECORDED,
    Outcome,
    fact_missing,
    no_instructions,
)
from rules.model import CheckSpec, LimitSpec, PermissionSpec, Resolved, SequenceSpec
from rules.predicates import Facts
from rules.quantities import Quantity
from rules.vocabulary import VerdictWord


class Verdict(NamedTuple):
    """One verdict with what the summary must know of it besides."""

    item: Item
    outcome: Outcome
    required: bool
    settled: bool  # looked at, or nobody can be asked to look

    @property
    def json(self) -> dict[str, object]:
        """The verdict as the answer carries it. Every call builds it anew, so that a caller may
        change what it was given.
        """
        resolved, outcome = self.item.resolved, self.outcome
        requirement, details = resolved.requirement, outcome.details
        return {
            "requirement": requirement.id,
            "title": requirement.title,
            "kind": requirement.kind.value,
            **_named(self.item.spec),
            "verdict": outcome.verdict.value,
            "band": details.get("band"),
            "margin": details.get("margin"),
            "probability_of_conformity": details.get("probability_of_conformity"),
            "limit": _limit(self.item.spec),
            "reading": details.get("reading"),
            "readings": details.get("readings", []),
            "finding": details.get("finding"),
            "times": details.get("times", []),
            "reason": outcome.reason or None,
            "message": outcome.message,
            "notes": [note.json() for note in outcome.notes],
            "citation": _citation(resolved),
            "standing": requirement.standing.value,
            "adoption": resolved.adoption.value,
            "layer": resolved.layer,
            "lineage": _lineage(resolved),
            "protects": requirement.protects.value,
            "basis": requirement.basis.value,
            "required": self.required,
        }


def verdict_of(item: Item, findings: Findings, facts: Facts) -> Verdict | None:
    """The verdict on one requirement; None where nobody looked and this activity asks nobody to.

    A requirement of which it cannot be told whether it applies is always listed.
    """
    required = findings.activity in item.required_in
    found = item.decide(findings, facts)
    outcome, settled = found, found is not None and found.looked_at
    if found is not None and found.stated:
        requirement = item.resolved.requirement
        settled = findings.activity in requirement.may_stay_untested_in
    if findings.no_access:
        outcome, settled = _no_access(item, findings, required=required), False
    elif item.resolved.missing_facts:
        outcome = _fact_missing(item, found)
    elif found is None and required:
        outcome, settled = (_silence(), False) if item.supplied else (no_instructions(), True)
    return None if outcome is None else Verdict(item, outcome, required, settled)


def _silence() -> Outcome:
    message = "Not recorded; what is not recorded is not tested."
    return Outcome(VerdictWord.NOT_TESTED, message, NOT_RECORDED)


def _no_access(item: Item, findings: Findings, *, required: bool) -> Outcome | None:
    listed = required or item.resolved.missing_facts or isinstance(item.spec, PermissionSpec)
    if not listed:
        return None
    message = f"Not tested, no access: {findings.no_access}"
    return Outcome(VerdictWord.NOT_TESTED, message, NO_ACCESS)


def _fact_missing(item: Item, found: Outcome | None) -> Outcome:
    """Inconclusive, with the margin that the number would have where one was measured."""
    missing = item.resolved.missing_facts
    message = f"It cannot be told whether this applies without: {', '.join(missing)}."
    outcome = Outcome(VerdictWord.INCONCLUSIVE, message, fact_missing(missing))
    return outcome if found is None else outcome._replace(details=found.details, notes=found.notes)


def _named(spec: Judged) -> dict[str, object]:
    match spec:
        case LimitSpec():
            return {"quantity": spec.quantity}
        case CheckSpec():
            return {"check": spec.check, "asks": spec.asks}
        case SequenceSpec():
            return {"sequence": spec.sequence}
        case _:
            return {}


def _limit(spec: Judged) -> dict[str, object] | None:
    if not isinstance(spec, LimitSpec):
        return None
    first = spec.low or spec.high
    return {
        "comparator": spec.comparator.value,
        "low": _bound(spec.low, first),
        "high": _bound(spec.high, first),
        "unit": first.unit.symbol if first else None,
        "printed_si": spec.printed_si or None,
        "measurement_point": spec.measurement_point or None,
        "method": spec.method or None,
        "test_load": str(spec.test_load) if spec.test_load else None,
        "repeats": spec.repeats,
        "governs": spec.governs.value,
    }


def _bound(bound: Quantity | None, first: Quantity | None) -> str | None:
    """A bound as published; in the unit of the first where the two differ."""
    if bound is None or first is None or bound.unit == first.unit:
        return bound.text if bound else None
    return shown(bound.in_unit(first.unit))


def _citation(resolved: Resolved) -> dict[str, str]:
    citation = resolved.requirement.citation
    return {
        "publication": citation.publication,
        "edition": citation.edition,
        "clause": citation.clause,
        "note": citation.note,
    }


def _lineage(resolved: Resolved) -> list[dict[str, object]]:
    """Who did what to it and since when; the requirement's own page tells the rest."""
    return [
        {
            "layer": step.layer,
            "change": step.change.value,
            "since": step.since.isoformat() if step.since else None,
        }
        for step in resolved.lineage
    ]
