"""What a requirement asks, in one line for a person; a number always with its published unit."""

from __future__ import annotations

import re
from functools import singledispatch

from rules.judging.bounds import limit_of
from rules.model import (
    CheckSpec,
    FilingSpec,
    ImpairmentSpec,
    IntervalSpec,
    LimitSpec,
    PermissionSpec,
    QualificationSpec,
    RecordSpec,
    Resolved,
    RetentionSpec,
    SequenceSpec,
)
from rules.shares import worked_out
from rules.vocabulary import Governs, Meaning

# A publisher seldom says how often to measure: the packaged numbers are the custom of the trade.
CUSTOM = "by common practice, unless the source itself says so"
_GOVERNING = {
    Governs.EACH: "each must be inside",
    Governs.MEAN: "their mean decides",
    Governs.MEDIAN: "their median decides",
}


def probability_in_words(probability: str) -> str:
    """A probability of five decimals for a person: none is nought and none is one."""
    return {"0.00000": "below 0.00001", "1.00000": "above 0.99999"}.get(probability, probability)


_SPANS = re.compile(r"(\d+)([YMWDH])", re.ASCII)
_SPAN_WORDS = {"Y": "year", "M": "month", "W": "week", "D": "day", "H": "hour"}
_MEANINGS = {
    Meaning.NOT_LATER_THAN: "not later than that after the last one",
    Meaning.FROM_DATE: "counted from the day of the last one",
    Meaning.FROM_MONTH: "counted from the month of the last one",
    Meaning.CALENDAR_PERIOD: "once in every such period of the calendar",
    Meaning.BETWEEN: "counted from the last one",
}


def span_in_words(duration: str) -> str:
    """An ISO 8601 duration for a person: `P1Y6M` is 1 year 6 months."""
    parts = [
        f"{count} {_SPAN_WORDS[unit]}{'' if count == '1' else 's'}"
        for count, unit in _SPANS.findall(duration)
    ]
    return " ".join(parts)


@singledispatch
def in_words(spec: object) -> str:
    """The line for a specification of any kind of `rules.model`."""
    raise TypeError(f"no words for {type(spec).__name__}")


def said_before(resolved: Resolved) -> list[str | None]:
    """For each step of the lineage what was asked before it; None where it changed nothing."""
    told: list[str | None] = []
    after = in_words(resolved.requirement.spec)
    for step in reversed(resolved.lineage):
        before = in_words(step.before.spec) if step.before else after
        told.append(before if before != after else None)
        after = before
    return told[::-1]


@in_words.register
def _limit(spec: LimitSpec) -> str:
    limit = limit_of(spec)
    number = limit.words if limit else worked_out(spec) or "to be supplied for each door"
    parts = [f"{spec.quantity.replace('_', ' ')} {number}"]
    if spec.nominal:
        parts.append(f"usually about {spec.nominal}")
    if spec.printed_si:
        parts.append(f"printed beside it: {spec.printed_si}")
    if spec.measurement_point:
        parts.append(f"measured at: {spec.measurement_point}")
    if spec.test_load:
        parts.append(f"under a load of {spec.test_load}")
    if spec.repeats > 1:
        parts.append(f"measured {spec.repeats} times {CUSTOM}; {_GOVERNING[spec.governs]}")
    return "; ".join(parts)


@in_words.register
def _check(spec: CheckSpec) -> str:
    return f"check: {spec.asks}"


@in_words.register
def _sequence(spec: SequenceSpec) -> str:
    steps = "; ".join(
        f"{number}. {f'{step.do} ' if step.do else ''}{step.expect}"
        for number, step in enumerate(spec.steps, 1)
    )
    times = "".join(f"; {_limit(time)}" for time in spec.times)
    return f"{spec.do} Expect: {steps}{times}. {spec.caution}".strip()


@in_words.register
def _interval(spec: IntervalSpec) -> str:
    activity = spec.activity.replace("_", " ")
    if spec.after:
        within = f", within {span_in_words(spec.every)}" if spec.every else ""
        return f"{activity} after each {spec.after}{within}"
    parts = [f"{activity} every {span_in_words(spec.every)}", _MEANINGS[spec.meaning]]
    for word, span in (("early", spec.early), ("late", spec.late)):
        if span:
            parts.append(f"at most {span_in_words(span)} {word}")
    if spec.least:
        least, greatest = span_in_words(spec.least), span_in_words(spec.greatest)
        parts.append(f"{least} to {greatest} apart")
    return ", ".join(parts)


@in_words.register
def _record(spec: RecordSpec) -> str:
    return f"the record contains: {'; '.join(spec.contents)}"


@in_words.register
def _retention(spec: RetentionSpec) -> str:
    event = spec.counted_from.replace("_", " ")
    if not any(int(count) for count, _ in _SPANS.findall(spec.keep)):
        return f"kept until the {event}"
    return f"kept {span_in_words(spec.keep)}, counted from the {event}"


@in_words.register
def _qualification(spec: QualificationSpec) -> str:
    return f"who may do it: {spec.asks}"


@in_words.register
def _permission(spec: PermissionSpec) -> str:
    return f"permission: {spec.says}"


@in_words.register
def _filing(spec: FilingSpec) -> str:
    days = ", in business days," if spec.business_days else ""
    when = f"within {span_in_words(spec.within)}{days} of" if spec.within else "when"
    return f"filed {when}: {spec.event}. {spec.says}".strip()


@in_words.register
def _impairment(spec: ImpairmentSpec) -> str:
    over = f" once out of service for more than {span_in_words(spec.over)}" if spec.over else ""
    within = f" within {span_in_words(spec.within)}" if spec.within else ""
    return f"{spec.system}: {spec.response}{over}{within}"
