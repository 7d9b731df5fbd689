"""What a requirement asks, in one line for a person; a number always with its published unit."""

from __future__ import annotations

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
    RetentionSpec,
    SequenceSpec,
)
from rules.shares import worked_out
from rules.vocabulary import Governs

_GOVERNING = {
    Governs.EACH: "each of which must be inside",
    Governs.MEAN: "of which the mean decides",
    Governs.MEDIAN: "of which the median decides",
}


def probability_in_words(probability: str) -> str:
    """A probability of five decimals for a person: none is nought and none is one."""
    return {"0.00000": "below 0.00001", "1.00000": "above 0.99999"}.get(probability, probability)


@singledispatch
def in_words(spec: object) -> str:
    """The line for a specification of any kind of `rules.model`."""
    raise TypeError(f"no words for {type(spec).__name__}")


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
        parts.append(f"{spec.repeats} repeats, {_GOVERNING[spec.governs]}")
    return "; ".join(parts)


@in_words.register
def _check(spec: CheckSpec) -> str:
    return f"check: {spec.asks}"


@in_words.register
def _sequence(spec: SequenceSpec) -> str:
    steps = "; ".join(f"{number}. {step.expect}" for number, step in enumerate(spec.steps, 1))
    times = "".join(f"; {_limit(time)}" for time in spec.times)
    return f"{spec.do} Expect: {steps}{times}. {spec.caution}".strip()


@in_words.register
def _interval(spec: IntervalSpec) -> str:
    owed = f"every {spec.every}" if spec.every else f"after {spec.after}"
    parts = [f"{spec.activity} {owed}", f"meaning {spec.meaning}"]
    parts += [
        f"{word} {span}" for word, span in (("early", spec.early), ("late", spec.late)) if span
    ]
    if spec.least:
        parts.append(f"{spec.least} to {spec.greatest} apart")
    return ", ".join(parts)


@in_words.register
def _record(spec: RecordSpec) -> str:
    return f"the record contains: {'; '.join(spec.contents)}"


@in_words.register
def _retention(spec: RetentionSpec) -> str:
    return f"kept {spec.keep}, counted from the {spec.counted_from.replace('_', ' ')}"


@in_words.register
def _qualification(spec: QualificationSpec) -> str:
    return f"who may do it: {spec.asks}"


@in_words.register
def _permission(spec: PermissionSpec) -> str:
    return f"permission: {spec.says}"


@in_words.register
def _filing(spec: FilingSpec) -> str:
    days = ", in business days," if spec.business_days else ""
    when = f"within {spec.within}{days} of" if spec.within else "when"
    return f"filed {when}: {spec.event}. {spec.says}".strip()


@in_words.register
def _impairment(spec: ImpairmentSpec) -> str:
    over = f" once out of service for more than {spec.over}" if spec.over else ""
    within = f" within {spec.within}" if spec.within else ""
    return f"{spec.system}: {spec.response}{over}{within}"
