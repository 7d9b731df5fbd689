"""What was found on a visit, checked whole before anything is judged."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from rules.errors import InputError
from rules.fields import Problems, civil_date, items, mapping, sent, text, word
from rules.judging.readings import WHY_NOT, Reading, Statement, read_reading, read_time
from rules.quantities import exact
from rules.vocabulary import Activity, DecisionRule

FIELDS = frozenset(
    ("on", "activity", "readings", "checks", "sequences", "decision_rule", "no_access")
)
_NO_WAY = "say why nobody got to it"
_CHECK = frozenset(("check", "result", "reason", "remarks"))
_STEP = frozenset(("step", "seen", "at", "provided"))
_SEQUENCE = frozenset(("sequence", "result", "reason", "remarks", "steps", "times"))


class Result(StrEnum):
    """What a person may say of a looked-at item or an observed sequence."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    NOT_TESTED = "not_tested"
    NOT_APPLICABLE = "not_applicable"


class Observed(NamedTuple):
    """What was recorded of one step: whether it was seen, `None` where that was not recorded; when,
    in seconds from the start of the sequence; and whether the door has what would show it.
    """

    seen: bool | None
    at: Fraction | None = None
    provided: bool = True


class Finding(NamedTuple):
    """What a person found of one check or sequence, with each step that is listed."""

    position: int
    name: str
    result: Result
    reason: str
    sent: dict[str, object]
    steps: dict[str, Observed]
    times: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class Findings:
    """Everything found on one visit, by what it is about. `timed` are the quantities that were
    recorded with a sequence alone, each naming its sequence.
    """

    on: date
    activity: Activity
    rule: DecisionRule
    no_access: str
    readings: dict[str, tuple[Reading, ...]]
    statements: dict[str, Statement]
    checks: dict[str, tuple[Finding, ...]]
    sequences: dict[str, tuple[Finding, ...]]
    timed: dict[str, tuple[Reading, ...]] = field(default_factory=dict)

    @property
    def names(self) -> set[str]:
        """Everything that something is said of."""
        return {*self.readings, *self.statements, *self.checks, *self.sequences, *self.timed}


def read_findings(raw: Mapping[str, object], on: date) -> Findings:
    """Check and read the findings; `on` is the day for which requirements were resolved, taken
    where the findings name no day of their own.

    Raises InputError with every mistake found, each with its pointer.
    """
    problems = Problems()
    fields = mapping(raw, FIELDS, "", problems)
    day = civil_date(fields.get("on", on), "/on", problems)
    activity = word(fields.get("activity"), Activity, "/activity", problems)
    rule = fields.get("decision_rule", DecisionRule.SIMPLE)
    decision = word(rule, DecisionRule, "/decision_rule", problems)
    readings, statements = _readings(fields.get("readings"), problems)
    checks = _findings(fields.get("checks"), "check", problems)
    sequences = _findings(fields.get("sequences"), "sequence", problems)
    no_access = _no_access(fields, problems)
    if problems.found or day is None or activity is None or decision is None:
        raise InputError(problems.found)
    return Findings(
        on=day,
        activity=activity,
        rule=decision,
        no_access=no_access,
        readings=readings,
        statements=statements,
        checks=checks,
        sequences=sequences,
        timed=_timed(sequences, {*readings, *statements}),
    )


def _timed(
    sequences: Mapping[str, tuple[Finding, ...]], said: Collection[str]
) -> dict[str, tuple[Reading, ...]]:
    """What was measured while a sequence ran and is said nowhere else."""
    timed: dict[str, tuple[Reading, ...]] = {}
    for name, findings in sequences.items():
        for finding in findings:
            for time in finding.times:
                if time.quantity not in said:
                    named = time._replace(sent={**time.sent, "sequence": name})
                    timed[time.quantity] = (*timed.get(time.quantity, ()), named)
    return timed


def _no_access(fields: dict[str, object], problems: Problems) -> str:
    if fields.get("no_access") is None:
        return ""
    reason = text(fields["no_access"], "/no_access", problems, required=True, asks=_NO_WAY)
    for part in ("readings", "checks", "sequences"):
        if fields.get(part):
            problems.add(f"/{part}", "contradiction", "nothing can be found without access")
    return reason


def _readings(
    raw: object, problems: Problems
) -> tuple[dict[str, tuple[Reading, ...]], dict[str, Statement]]:
    readings: dict[str, tuple[Reading, ...]] = {}
    statements: dict[str, Statement] = {}
    for index, item in enumerate(items(raw, "/readings", problems)):
        new = read_reading(item, index, problems)
        if new is None:
            continue
        others = readings.get(new.quantity, ())
        _refuse_clash(new, others, statements.get(new.quantity), problems)
        if isinstance(new, Statement):
            statements[new.quantity] = new
        else:
            readings[new.quantity] = (*others, new)
    return readings, statements


def _refuse_clash(
    new: Reading | Statement,
    others: tuple[Reading, ...],
    stated: Statement | None,
    problems: Problems,
) -> None:
    """One quantity is measured or stated, and no two of its repeats have one number."""
    if stated or (others and isinstance(new, Statement)):
        message = f"{new.quantity} is measured or has a result in its place, never both"
        problems.add(f"/readings/{new.position}/quantity", "contradiction", message)
    elif isinstance(new, Reading) and any(_same_repeat(new, other) for other in others):
        message = f"repeat {new.repeat} of {new.quantity} stands twice"
        problems.add(f"/readings/{new.position}/repeat", "duplicate", message)


def _same_repeat(one: Reading, other: Reading) -> bool:
    return one.repeat is not None and one.repeat == other.repeat


def _findings(raw: object, key: str, problems: Problems) -> dict[str, tuple[Finding, ...]]:
    found: dict[str, tuple[Finding, ...]] = {}
    for index, item in enumerate(items(raw, f"/{key}s", problems)):
        finding = _finding(item, index, key, problems)
        if finding is None:
            continue
        others = found.get(finding.name, ())
        if key == "check":
            _refuse_contradiction(finding, others, problems)
        found[finding.name] = (*others, finding)
    return found


def _refuse_contradiction(new: Finding, others: tuple[Finding, ...], problems: Problems) -> None:
    """One thing looked at has one result in one visit; a sequence may be run again and again."""
    for one in others:
        if one.result is not new.result:
            for this, other in ((one, new), (new, one)):
                message = (
                    f"{this.name} is said to be {this.result} here and {other.result} at "
                    f"/checks/{other.position}/result"
                )
                problems.add(f"/checks/{this.position}/result", "contradiction", message)
            return


def _finding(raw: object, index: int, key: str, problems: Problems) -> Finding | None:
    at = f"/{key}s/{index}"
    fields = mapping(raw, _CHECK if key == "check" else _SEQUENCE, at, problems)
    name = text(fields.get(key), f"{at}/{key}", problems, required=True)
    result = word(fields.get("result"), Result, f"{at}/result", problems)
    told = result in {Result.NOT_TESTED, Result.NOT_APPLICABLE}
    reason = text(fields.get("reason"), f"{at}/reason", problems, required=told, asks=WHY_NOT)
    text(fields.get("remarks"), f"{at}/remarks", problems)
    steps = _steps(fields.get("steps"), f"{at}/steps", problems)
    times = _times(fields.get("times"), f"{at}/times", problems)
    if not name or result is None:
        return None
    return Finding(index, name, result, reason, sent(fields), steps, times)


def _steps(raw: object, at: str, problems: Problems) -> dict[str, Observed]:
    steps: dict[str, Observed] = {}
    for index, item in enumerate(items(raw, at, problems)):
        where = f"{at}/{index}"
        fields = mapping(item, _STEP, where, problems)
        name = text(fields.get("step"), f"{where}/step", problems, required=True)
        observed = _observed(fields, where, problems)
        if observed is None:
            continue
        if name in steps:
            problems.add(f"{where}/step", "duplicate", f"step {name} stands twice")
        else:
            steps[name] = observed
    return steps


def _observed(fields: dict[str, object], at: str, problems: Problems) -> Observed | None:
    seen, provided = fields.get("seen"), fields.get("provided", True)
    if provided is not True and provided is not False:
        problems.add(f"{at}/provided", "not_a_boolean", "true or false is expected here")
        return None
    known = isinstance(seen, bool)
    if not known and (seen is not None or ("seen" not in fields and provided)):
        message = "true or false is expected here, or null where it was not recorded"
        problems.add(f"{at}/seen", "not_a_boolean", message)
        return None
    if known and not provided:
        problems.add(f"{at}/seen", "contradiction", "what is not provided cannot be looked for")
        return None
    moment = _moment(fields, seen=seen is True, at=at, problems=problems)
    return Observed(seen if isinstance(seen, bool) else None, moment, provided)


def _moment(
    fields: dict[str, object], *, seen: bool, at: str, problems: Problems
) -> Fraction | None:
    """When a step was seen, in seconds from the start of the sequence."""
    raw = fields.get("at")
    if raw is None:
        return None
    if not seen:
        problems.add(f"{at}/at", "contradiction", "only what was seen has a time")
        return None
    try:
        moment = exact(raw, f"{at}/at")
    except InputError as refused:
        problems.take(refused)
        return None
    if moment < 0:
        problems.add(f"{at}/at", "negative", "it is counted from the start of the sequence")
        return None
    return moment


def _times(raw: object, at: str, problems: Problems) -> tuple[Reading, ...]:
    read = [
        read_time(item, index, f"{at}/{index}", problems)
        for index, item in enumerate(items(raw, at, problems))
    ]
    return tuple(reading for reading in read if reading is not None)
