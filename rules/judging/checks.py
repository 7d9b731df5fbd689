"""What a person found of a looked-at item."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rules.judging.findings import Finding, Result
from rules.judging.notes import Note
from rules.judging.outcome import STATED, Outcome, badness
from rules.vocabulary import VerdictWord

SEVERAL_FINDINGS = "several_findings"


def decide(findings: Sequence[Finding]) -> Outcome:
    """The outcome of what was said of one check: the worst, where it was said more than once."""
    return worst([stated(finding) for finding in findings])


def stated(finding: Finding) -> Outcome:
    """What the finding says by itself, in the inspector's words where a reason was given."""
    details: dict[str, object] = {"finding": {"index": finding.position, **finding.sent}}
    match finding.result:
        case Result.CONFORMS:
            return Outcome(VerdictWord.CONFORMS, "Found as it should be.", details=details)
        case Result.DOES_NOT_CONFORM:
            said = finding.reason or finding.sent.get("remarks")
            message = f"Found wanting: {said}" if said else "Found wanting by the inspector."
            return Outcome(VerdictWord.DOES_NOT_CONFORM, message, details=details)
        case Result.NOT_APPLICABLE:
            message = f"Said not to apply: {finding.reason}"
            return Outcome(VerdictWord.NOT_APPLICABLE, message, STATED, details)
    return not_tested(finding.reason, details)


def not_tested(reason: str, details: Mapping[str, object]) -> Outcome:
    """The outcome of an item left untested with a reason."""
    return Outcome(
        VerdictWord.NOT_TESTED,
        f"Not tested: {reason}",
        STATED,
        details,
        looked_at=False,
        stated=True,
    )


def worst(outcomes: Sequence[Outcome]) -> Outcome:
    """The outcome that governs among several findings of one thing, and a note that it does."""
    governing = max(outcomes, key=lambda outcome: badness(outcome.verdict))
    if len(outcomes) == 1:
        return governing
    message = f"{len(outcomes)} findings were recorded; the worst of them governs."
    return governing._replace(notes=(*governing.notes, Note(SEVERAL_FINDINGS, message)))
