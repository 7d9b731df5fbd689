"""Readings as columns of whole numbers, and back: what `rules.portfolio` makes arrays of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

from rules.errors import InputError
from rules.fields import Problems
from rules.judging import limits
from rules.judging.outcome import UNSUPPLIED, Outcome
from rules.judging.readings import Reading, read_reading
from rules.thresholds import MAX_DIGITS, Measure, Threshold

UNKNOWN = -1


@dataclass(frozen=True, slots=True)
class Columns:
    """Readings in columns of one length, `value = mantissa * 10**measures[measure].exponent`.

    `visit` numbers the visits from 0. `uncertainty` (U, k = 2) and `resolution` are mantissas in
    the same steps, UNKNOWN where not given; `expired` marks an instrument out of calibration on
    the day. Mantissas are not negative and have at most MAX_DIGITS digits.
    """

    measures: list[Measure] = field(default_factory=list)
    visit: list[int] = field(default_factory=list)
    measure: list[int] = field(default_factory=list)
    mantissa: list[int] = field(default_factory=list)
    uncertainty: list[int] = field(default_factory=list)
    resolution: list[int] = field(default_factory=list)
    expired: list[bool] = field(default_factory=list)


def columns(visits: Iterable[tuple[date, Sequence[Mapping[str, object]]]]) -> Columns:
    """The measured readings of visits, each given by its day and its readings as sent.

    What stands in place of a value is left out: no number is judged there. Raises InputError,
    its pointers under `/<visit>/readings/<n>`.
    """
    made, places = Columns(), dict[Measure, int]()
    for visit, (on, sent) in enumerate(visits):
        problems = Problems()
        read = [read_reading(one, n, problems) for n, one in enumerate(sent)]
        for reading in read:
            if isinstance(reading, Reading):
                measure, numbers = _scaled(reading, problems)
                made.visit.append(visit)
                made.measure.append(places.setdefault(measure, len(places)))
                made.mantissa.append(numbers[0])
                made.uncertainty.append(numbers[1])
                made.resolution.append(numbers[2])
                due = reading.calibration_due_on
                made.expired.append(due is not None and due < on)
        if problems.found:
            raise InputError([replace(p, pointer=f"/{visit}{p.pointer}") for p in problems.found])
    made.measures.extend(places)
    return made


def _scaled(reading: Reading, problems: Problems) -> tuple[Measure, list[int]]:
    """Value, uncertainty and resolution as whole numbers of one step that writes all of them."""
    numbers = (reading.value, reading.uncertainty, reading.resolution)
    decimals = max(_decimals(number) for number in numbers if number is not None)
    scaled = [UNKNOWN if n is None else int(n * 10**decimals) for n in numbers]
    if decimals > MAX_DIGITS or max(scaled) >= 10**MAX_DIGITS:
        message = f"a portfolio holds numbers of at most {MAX_DIGITS} digits"
        problems.add(f"/readings/{reading.position}/value", "too_long", message)
    return Measure(reading.quantity, reading.unit, -decimals), scaled


def _decimals(number: Fraction) -> int:
    """How many decimals write it exactly; more than MAX_DIGITS where none do."""
    rest, decimals = number.denominator, 0
    while rest != 1 and decimals <= MAX_DIGITS:
        number, decimals = number * 10, decimals + 1
        rest = number.denominator
    return decimals


def settle(threshold: Threshold, repeats: Sequence[Reading]) -> Outcome:
    """What the single engine says of repeats of one quantity."""
    if threshold.limit is None:
        return UNSUPPLIED
    return limits.decide(threshold.limit, repeats, date.max)


def reading_of(
    measure: Measure, mantissa: int, uncertainty: int, resolution: int, expired: int
) -> Reading:
    """A row of the columns as the single engine takes it."""
    step = Fraction(10) ** measure.exponent
    return Reading(
        position=0,
        quantity=measure.quantity,
        sent={"value": str(mantissa)},
        value=mantissa * step,
        unit=measure.unit,
        uncertainty=None if uncertainty < 0 else uncertainty * step,
        resolution=None if resolution < 0 else resolution * step,
        calibration_due_on=date.min if expired else None,
    )
