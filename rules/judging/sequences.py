"""An observed course of events: every step must be seen, and every timed limit kept.

What is not recorded is not tested: silence on a step or a time never conforms. Where steps carry
the moment at which they were seen, their order is judged as well.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from rules.judging import limits
from rules.judging.bounds import Limit, limit_of
from rules.judging.checks import stated, worst
from rules.judging.findings import Finding, Observed, Result
from rules.judging.notes import shown
from rules.judging.outcome import UNSUPPLIED, Outcome
from rules.judging.readings import Reading
from rules.model import SequenceSpec, Step
from rules.vocabulary import Band, VerdictWord

# Within one course a gap in the record outweighs a doubt: it must be run again, not looked up.
_ORDER = (
    VerdictWord.CONFORMS,
    VerdictWord.INCONCLUSIVE,
    VerdictWord.NOT_TESTED,
    VerdictWord.DOES_NOT_CONFORM,
)

_UNRECORDED = Observed(None)
# A number that only the door's instructions could ask for: none is on file, and nobody took one.
_NOT_ASKED = Outcome(
    VerdictWord.NOT_TESTED,
    "Not recorded; the number is to come from this door's listed instructions: none is on file.",
    UNSUPPLIED.reason,
    looked_at=False,
)
# Whoever looks at the course alone need not measure: the number has a requirement of its own, and
# what is not recorded is not tested there.
_ASKED_BESIDE = Outcome(
    VerdictWord.NOT_TESTED,
    "Not recorded; the number is asked for by a requirement of its own.",
    "time_not_recorded",
    looked_at=False,
)
_SILENT = (_NOT_ASKED, _ASKED_BESIDE)


@dataclass(frozen=True, slots=True)
class Timed:
    """A timed limit of a sequence; `limit` is None where the number is supplied per door. `shared`
    where the same number is asked for beside the sequence: then one reading answers both.
    """

    quantity: str
    limit: Limit | None
    shared: bool = False


@dataclass(frozen=True, slots=True)
class Course:
    """What must be seen, in order, and how fast."""

    steps: tuple[Step, ...]
    times: tuple[Timed, ...]


def course_of(spec: SequenceSpec, shared: Collection[str] = ()) -> Course:
    """The course that a requirement asks for; the numbers of `shared` are asked for beside it."""
    times = (Timed(t.quantity, limit_of(t), t.quantity in shared) for t in spec.times)
    return Course(spec.steps, tuple(times))


def decide(
    course: Course, findings: Sequence[Finding], on: date, beside: Mapping[str, Sequence[Reading]]
) -> Outcome:
    """The outcome of a sequence, the worst of it where it was run more than once. `beside` are the
    readings that the visit holds outside of it.
    """
    return worst([_of(course, finding, on, beside) for finding in findings])


def _of(
    course: Course, finding: Finding, on: date, beside: Mapping[str, Sequence[Reading]]
) -> Outcome:
    said = stated(finding)
    if finding.result is not Result.CONFORMS:
        return said
    times = {timed.quantity: _time(timed, finding, on, beside) for timed in course.times}
    weighed = [outcome for outcome in times.values() if outcome not in _SILENT]
    outcomes = [*_steps(course, finding), *_disorder(course, finding), *weighed, said]
    governing = max(outcomes, key=lambda outcome: _ORDER.index(outcome.verdict))
    details = {
        **said.details,
        "band": _band([outcome.details.get("band") for outcome in weighed]),
        "times": [_time_json(name, times[name]) for name in times],
    }
    notes = tuple(note for outcome in times.values() for note in outcome.notes)
    return governing._replace(details=details, notes=notes)


def _band(bands: list[object]) -> str | None:
    """Conditional where one time is; clear where all of them are known to be."""
    if Band.CONDITIONAL in bands:
        return Band.CONDITIONAL.value
    return Band.CLEAR.value if bands and None not in bands else None


def _steps(course: Course, finding: Finding) -> list[Outcome]:
    outcomes = []
    for step in course.steps:
        observed = finding.steps.get(step.step, _UNRECORDED)
        if not observed.provided and step.may_be:
            continue
        if observed.seen is None:
            message = f"Not recorded whether it was seen: {step.expect}"
            if not observed.provided:
                message = f"Said not to be provided, and every such door has it: {step.expect}"
            reason = f"step_not_recorded: {step.step}"
            outcomes.append(Outcome(VerdictWord.NOT_TESTED, message, reason, looked_at=False))
        elif not observed.seen:
            message, reason = f"Not seen: {step.expect}", f"step_not_seen: {step.step}"
            outcomes.append(Outcome(VerdictWord.DOES_NOT_CONFORM, message, reason))
    return outcomes or _nothing_provided(course, finding)


def _nothing_provided(course: Course, finding: Finding) -> list[Outcome]:
    """Where no step could be shown, nothing was looked at; else nothing is wrong with the steps."""
    if any(finding.steps.get(step.step, _UNRECORDED).provided for step in course.steps):
        return []
    message = "Nothing that would show it is provided at this door."
    return [Outcome(VerdictWord.NOT_TESTED, message, "not_provided", looked_at=False)]


def _disorder(course: Course, finding: Finding) -> list[Outcome]:
    """What was seen before a thing that must come first, by the times that were recorded."""
    before: tuple[Step, Fraction] | None = None
    for step in course.steps:
        at = finding.steps.get(step.step, _UNRECORDED).at
        if at is None or step.order:
            continue
        if before is not None and at < before[1]:
            message = (
                f"Out of order: {step.expect}, at {shown(at)} s, before what must come first: "
                f"{before[0].expect}, at {shown(before[1])} s"
            )
            reason = f"step_out_of_order: {step.step}"
            return [Outcome(VerdictWord.DOES_NOT_CONFORM, message, reason)]
        before = step, at
    return []


def _time(
    timed: Timed, finding: Finding, on: date, beside: Mapping[str, Sequence[Reading]]
) -> Outcome:
    """The outcome of one timed limit, among the times recorded with the sequence."""
    readings = [time for time in finding.times if time.quantity == timed.quantity]
    if timed.shared and not readings:
        readings = list(beside.get(timed.quantity, ()))
    if timed.limit is None:
        return UNSUPPLIED if readings else _NOT_ASKED
    if not readings and timed.shared:
        return _ASKED_BESIDE
    if not readings:
        message = f"The {timed.quantity.replace('_', ' ')} is not recorded."
        reason = f"time_not_recorded: {timed.quantity}"
        return Outcome(VerdictWord.NOT_TESTED, message, reason, looked_at=False)
    outcome = limits.decide(timed.limit, readings, on)
    if outcome.verdict is VerdictWord.DOES_NOT_CONFORM:
        return outcome._replace(reason=f"time_limit: {timed.quantity}")
    return outcome


def _time_json(quantity: str, outcome: Outcome) -> dict[str, object]:
    return {
        "quantity": quantity,
        "verdict": outcome.verdict.value,
        "reason": outcome.reason or None,
        "message": outcome.message,
        **{key: outcome.details.get(key) for key in ("margin", "band", "reading")},
    }
