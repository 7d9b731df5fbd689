"""Verdicts as the answer carries them: one shape for every kind of requirement."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from rules.judging.compiling import Compiled, Item
from rules.judging.findings import Findings
from rules.judging.outcome import NO_ACCESS, SILENCE, UNSUPPLIED, Outcome, fact_missing
from rules.judging.template import fresh
from rules.model import LimitSpec, PermissionSpec
from rules.predicates import Facts
from rules.vocabulary import Band, VerdictWord

_UNTOUCHED = {VerdictWord.NOT_APPLICABLE, VerdictWord.NOT_TESTED}


class Verdict(NamedTuple):
    """One verdict with what the summary must know of it besides."""

    item: Item
    outcome: Outcome
    required: bool
    settled: bool  # looked at, or nobody can be asked to look
    seen: bool  # a person looked and found something; a permission is answered by the facts
    conditional: bool

    @property
    def json(self) -> dict[str, object]:
        """The verdict as the answer carries it; the caller may change what it was given."""
        outcome = self.outcome
        filled = fresh(self.item.template)
        filled.update(outcome.details)
        filled["verdict"] = outcome.verdict.value
        filled["reason"] = outcome.reason or None
        filled["message"] = outcome.message
        filled["notes"] = [note.json() for note in outcome.notes]
        filled["required"] = self.required
        return filled


def verdicts_of(ready: Compiled, findings: Findings, facts: Facts) -> Iterator[Verdict | None]:
    """The verdict on each item in its order; None where nobody looked and this activity asks
    nobody to. A requirement of which it cannot be told whether it applies is always listed.
    """
    names, silence = findings.names, _silence(ready, findings)
    for item, unsaid in zip(ready.items, silence, strict=True):
        if item.name and item.name not in names and not findings.no_access:
            yield unsaid
        else:
            yield _verdict_of(item, findings, facts)


def _silence(ready: Compiled, findings: Findings) -> list[Verdict | None]:
    known = ready.silence.get(findings.activity)
    if known is None:
        nothing = replace(
            findings, no_access="", readings={}, statements={}, checks={}, sequences={}, timed={}
        )
        known = [_verdict_of(item, nothing, {}) for item in ready.items]
        ready.silence[findings.activity] = known
    return known


def _verdict_of(item: Item, findings: Findings, facts: Facts) -> Verdict | None:
    required = findings.activity in item.required_in
    found = item.decide(findings, facts)
    outcome, settled = found, found is not None and found.looked_at
    if found is not None and _waved_away(found, required=required):
        # The facts say that it applies: a word against them leaves the duty to look.
        settled = findings.activity in item.resolved.requirement.may_stay_untested_in
    if findings.no_access:
        outcome, settled = _no_access(item, findings, required=required), False
    elif item.resolved.missing_facts:
        outcome = _fact_missing(item, found)
    elif found is None and required:
        outcome, settled = (SILENCE, False) if item.supplied else (UNSUPPLIED, True)
    if outcome is None:
        return None
    by_facts = isinstance(item.spec, PermissionSpec)
    return Verdict(
        item,
        outcome,
        required,
        settled,
        outcome.looked_at and not by_facts and outcome.verdict not in _UNTOUCHED,
        outcome.details.get("band") == Band.CONDITIONAL,
    )


def _waved_away(found: Outcome, *, required: bool) -> bool:
    return found.stated or (required and found.verdict is VerdictWord.NOT_APPLICABLE)


def _no_access(item: Item, findings: Findings, *, required: bool) -> Outcome | None:
    listed = required or item.resolved.missing_facts or isinstance(item.spec, PermissionSpec)
    if not listed:
        return None
    message = f"Not tested, no access: {findings.no_access}"
    return Outcome(VerdictWord.NOT_TESTED, message, NO_ACCESS)


def _fact_missing(item: Item, found: Outcome | None) -> Outcome:
    """Inconclusive, with the margin that the number would have where one was measured.

    What a person found to fail stays a failure, whatever is not known of the opening.
    """
    missing = item.resolved.missing_facts
    spec = item.spec
    open_bound = isinstance(spec, LimitSpec) and spec.shared and spec.shared.times is None
    unknown = "what this asks" if open_bound else "whether this applies"
    message = f"It cannot be told {unknown} without: {', '.join(missing)}."
    outcome = fact_missing(missing, message)
    by_a_person = not isinstance(spec, PermissionSpec)
    seen = found is not None and found.margin is None and by_a_person
    if found is not None and seen and found.verdict is VerdictWord.DOES_NOT_CONFORM:
        return found._replace(
            message=f"{found.message} {message}",
            reason=outcome.reason,
            missing_facts=outcome.missing_facts,
        )
    return outcome if found is None else outcome._replace(details=found.details, notes=found.notes)
