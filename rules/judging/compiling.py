"""A requirement set made ready for judging, once for each digest.

Every requirement that a visit can decide becomes a closure over its numbers; the parts of the
answer that no finding changes are written down beforehand.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from rules.judging import checks, limits, permissions, sequences
from rules.judging.bounds import limit_of
from rules.judging.findings import Findings
from rules.judging.outcome import STATED, UNSUPPLIED, Outcome
from rules.judging.readings import Statement, Unmeasured
from rules.judging.template import Judged, template
from rules.model import (
    CheckSpec,
    LimitSpec,
    RequirementSet,
    Resolved,
    SequenceSpec,
)
from rules.predicates import Facts
from rules.supplied import origin_of
from rules.vocabulary import Activity, VerdictWord

CACHED_SETS = 1024

# None: nobody said anything of it.
Decide = Callable[[Findings, Facts], Outcome | None]


@dataclass(frozen=True, slots=True)
class Item:
    """One requirement ready to be judged. `supplied` is False while the number that a door's
    listed instructions must give is not on file; then nobody can be asked to test it. `name` is
    what findings speak of it by, empty where the facts alone decide.
    """

    resolved: Resolved
    spec: Judged
    name: str
    decide: Decide
    required_in: frozenset[Activity]
    supplied: bool
    template: dict[str, object]


@dataclass(frozen=True, slots=True)
class Compiled:
    """The items in the order of their ids, with what they can be found under."""

    items: tuple[Item, ...]
    quantities: frozenset[str]
    numbered: frozenset[str]  # of these, the ones that have a number to hold a value against
    checks: frozenset[str]
    steps: dict[str, frozenset[str]]
    times: dict[str, frozenset[str]]
    # What each item comes to where nobody said anything of it, by activity; filled as it is asked.
    silence: dict[Activity, list[Any]] = field(default_factory=dict)


_compiled: dict[str, Compiled] = {}


def compiled(requirements: RequirementSet) -> Compiled:
    """The compiled set, made on first use of its digest."""
    known = _compiled.get(requirements.digest)
    if known is None:
        if len(_compiled) >= CACHED_SETS:
            _compiled.clear()
        known = _compiled[requirements.digest] = _compile(requirements)
    return known


def _compile(requirements: RequirementSet) -> Compiled:
    shared = _numbered(requirements)
    found = [
        _item(resolved, resolved.requirement.spec, shared)
        for resolved in sorted(requirements.items, key=lambda r: r.requirement.id)
        if isinstance(resolved.requirement.spec, Judged)
    ]
    specs = [item.spec for item in found]
    courses = [spec for spec in specs if isinstance(spec, SequenceSpec)]
    steps: dict[str, frozenset[str]] = {}
    times: dict[str, frozenset[str]] = {}
    for spec in courses:
        name = spec.sequence
        steps[name] = steps.get(name, frozenset()) | {step.step for step in spec.steps}
        times[name] = times.get(name, frozenset()) | {time.quantity for time in spec.times}
    return Compiled(
        items=tuple(found),
        quantities=frozenset(s.quantity for s in specs if isinstance(s, LimitSpec)),
        numbered=frozenset(
            item.name for item in found if isinstance(item.spec, LimitSpec) and item.supplied
        ),
        checks=frozenset(s.check for s in specs if isinstance(s, CheckSpec)),
        steps=steps,
        times=times,
    )


def _numbered(requirements: RequirementSet) -> dict[str, set[str]]:
    """By publication the quantities for which it holds a limit with a number."""
    found: dict[str, set[str]] = {}
    for resolved in requirements.items:
        spec = resolved.requirement.spec
        if isinstance(spec, LimitSpec) and limit_of(spec) is not None:
            found.setdefault(origin_of(resolved.requirement), set()).add(spec.quantity)
    return found


def _item(resolved: Resolved, spec: Judged, shared: Mapping[str, set[str]]) -> Item:
    requirement = resolved.requirement
    supplied = not isinstance(spec, LimitSpec) or limit_of(spec) is not None
    return Item(
        resolved=resolved,
        spec=spec,
        name=_name(spec),
        decide=_decider(spec, shared.get(origin_of(requirement), ())),
        required_in=requirement.required_in,
        supplied=supplied,
        template=template(resolved, spec),
    )


def _name(spec: Judged) -> str:
    match spec:
        case LimitSpec():
            return spec.quantity
        case CheckSpec():
            return spec.check
        case SequenceSpec():
            return spec.sequence
    return ""


def _decider(spec: Judged, shared: Collection[str]) -> Decide:
    match spec:
        case LimitSpec():
            return _limit(spec)
        case CheckSpec():
            return _check(spec)
        case SequenceSpec():
            return _sequence(spec, shared)
    return lambda _findings, facts: permissions.decide(spec, facts)


def _limit(spec: LimitSpec) -> Decide:
    name, limit = spec.quantity, limit_of(spec)

    def decide(findings: Findings, _facts: Facts) -> Outcome | None:
        readings, statement = findings.readings.get(name), findings.statements.get(name)
        if statement is not None and (limit or statement.result is Unmeasured.DOES_NOT_CONFORM):
            return _stated(statement)
        if limit is None:
            return UNSUPPLIED if readings or statement else None
        if readings is None:
            readings = findings.timed.get(name)  # taken while a sequence ran
        return None if readings is None else limits.decide(limit, readings, findings.on)

    return decide


def _stated(statement: Statement) -> Outcome:
    """What the inspector says in place of a number; a failure stands without any."""
    details = {"reading": {"index": statement.position, **statement.sent}}
    match statement.result:
        case Unmeasured.NOT_APPLICABLE:
            message = f"Said not to apply: {statement.reason}"
            return Outcome(VerdictWord.NOT_APPLICABLE, message, STATED, details)
        case Unmeasured.DOES_NOT_CONFORM:
            message = f"Found wanting: {statement.reason}"
            return Outcome(VerdictWord.DOES_NOT_CONFORM, message, STATED, details)
    return checks.not_tested(statement.reason, details)


def _check(spec: CheckSpec) -> Decide:
    def decide(findings: Findings, _facts: Facts) -> Outcome | None:
        found = findings.checks.get(spec.check)
        return None if found is None else checks.decide(found)

    return decide


def _sequence(spec: SequenceSpec, shared: Collection[str]) -> Decide:
    name, course = spec.sequence, sequences.course_of(spec, shared)

    def decide(findings: Findings, _facts: Facts) -> Outcome | None:
        found = findings.sequences.get(name)
        if found is None:
            return None
        return sequences.decide(course, found, findings.on, findings.readings)

    return decide
