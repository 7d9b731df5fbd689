"""A measured value against a published limit: exact, in the unit as published, inclusive.

The value is brought into the unit of the limit by exact rational factors; the SI value that a
publisher prints beside it is never compared with (15 lb is 66.72 N and prints as 67 N).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from statistics import mean, median
from typing import NamedTuple

from rules.judging.instruments import flaws
from rules.judging.notes import Note, shown
from rules.judging.outcome import Outcome
from rules.judging.plausibility import doubt
from rules.judging.readings import Reading
from rules.judging.uncertainty import band, probability_of_conformity
from rules.model import LimitSpec
from rules.quantities import Unit, with_unit
from rules.vocabulary import Band, Governs, VerdictWord

FEWER_REPEATS = "fewer_repeats"


class Measured(NamedTuple):
    """A reading, or what several of them come to, in the unit of a limit; `margin` is the
    distance to its nearest bound, positive inside.
    """

    shown: str
    value: Fraction
    margin: Fraction
    uncertainty: Fraction | None
    sent: dict[str, object]


@dataclass(frozen=True, slots=True)
class Limit:
    """The bounds of a limit in its deciding unit, and how its repeats are taken together."""

    unit: Unit
    low: Fraction | None
    high: Fraction | None
    words: str
    repeats: int
    governs: Governs
    _ratios: dict[str, Fraction] = field(default_factory=dict)

    def ratio(self, unit: Unit) -> Fraction:
        """How many of this limit's units one of the other unit is."""
        if unit.symbol not in self._ratios:
            self._ratios[unit.symbol] = unit.factor / self.unit.factor
        return self._ratios[unit.symbol]

    def margin(self, value: Fraction) -> Fraction:
        """The distance to the nearest bound, positive inside, nought at the limit."""
        if self.low is None:
            return self._high - value
        if self.high is None:
            return value - self.low
        return min(value - self.low, self.high - value)

    @property
    def span(self) -> Fraction:
        """What an instrument must tell apart: the width, or the distance from zero."""
        if self.low is not None and self.high is not None:
            return self.high - self.low
        return self.low if self.low is not None else self._high

    @property
    def _high(self) -> Fraction:
        return self.high if self.high is not None else Fraction(0)


def limit_of(spec: LimitSpec) -> Limit | None:
    """The limit that a requirement states; None where its number is to be supplied per door."""
    first = spec.low or spec.high
    if first is None:
        return None
    low, high = spec.low, spec.high
    if low and high:
        words = f"{low.text} to {high}" if low.unit == high.unit else f"{low} to {high}"
    else:
        words = f"at least {low}" if low else f"at most {high}"
    return Limit(
        unit=first.unit,
        low=low.in_unit(first.unit) if low else None,
        high=high.in_unit(first.unit) if high else None,
        words=words,
        repeats=spec.repeats,
        governs=spec.governs,
    )


def decide(limit: Limit, readings: Sequence[Reading], on: date) -> Outcome:
    """The outcome of the readings of one quantity, of which there is at least one.

    A number beyond the limit does not conform, whatever the instrument. A number inside conforms
    only where every instrument used can carry it.
    """
    measured = [_measured(limit, reading) for reading in readings]
    governing = measured[0] if len(measured) == 1 else _governing(limit, measured)
    faults = _faults(limit, readings, on)
    reach = _band(governing, measured)
    verdict, reason = VerdictWord.CONFORMS, ""
    if governing.margin.numerator < 0:
        verdict = VerdictWord.DOES_NOT_CONFORM
    elif faults:
        verdict, reason = VerdictWord.INCONCLUSIVE, faults[0].code
    return Outcome(
        verdict,
        _sentence(limit, governing, reach, verdict),
        reason,
        _details(limit, measured, governing, reach),
        (*_remarks(limit, readings), *faults),
        governing.margin * limit.unit.factor,
    )


def _measured(limit: Limit, reading: Reading) -> Measured:
    value, words, uncertainty = reading.value, reading.shown, reading.uncertainty
    if reading.unit is not limit.unit:
        ratio = limit.ratio(reading.unit)
        value *= ratio
        words = f"{words} ({with_unit(shown(value), limit.unit)})"
        uncertainty = None if uncertainty is None else uncertainty * ratio
    sent = {"index": reading.position, **reading.sent}
    return Measured(words, value, limit.margin(value), uncertainty, sent)


def _governing(limit: Limit, measured: list[Measured]) -> Measured:
    """The repeat with the smallest margin, or the mean or median of them all.

    Repeats share their gauge and with it most of their error, so a mean keeps the largest of
    their uncertainties, and has none where one of them is unknown.
    """
    if limit.governs is Governs.EACH:
        return min(measured, key=lambda one: one.margin)
    take = mean if limit.governs is Governs.MEAN else median
    value = take([one.value for one in measured])
    known = [one.uncertainty for one in measured if one.uncertainty is not None]
    sent: dict[str, object] = {
        "index": None,
        "governs": limit.governs.value,
        "of": [one.sent["index"] for one in measured],
        "value": shown(value),
        "unit": limit.unit.symbol,
    }
    words = (
        f"The {limit.governs} of {len(measured)} readings, {with_unit(shown(value), limit.unit)},"
    )
    uncertainty = max(known) if len(known) == len(measured) else None
    return Measured(words, value, limit.margin(value), uncertainty, sent)


def _band(governing: Measured, measured: list[Measured]) -> Band | None:
    """Whether an uncertainty reaches the limit; inside, that of any repeat that must conform."""
    own = None
    if governing.uncertainty is not None:
        own = band(governing.margin, governing.uncertainty)
    if governing.margin >= 0 and governing in measured:
        for one in measured:
            if one.uncertainty is not None and one.margin < one.uncertainty:
                return Band.CONDITIONAL
    return own


def _faults(limit: Limit, readings: Sequence[Reading], on: date) -> list[Note]:
    return [
        fault
        for reading in readings
        if reading.calibration_due_on is not None or reading.resolution is not None
        for fault in flaws(reading, on, limit.span / limit.ratio(reading.unit))
    ]


def _remarks(limit: Limit, readings: Sequence[Reading]) -> list[Note]:
    notes = [note for reading in readings if (note := doubt(reading)) is not None]
    if len(readings) < limit.repeats:
        message = f"{len(readings)} of the {limit.repeats} repeats asked for were recorded."
        notes.append(Note(FEWER_REPEATS, message))
    return notes


def _details(
    limit: Limit, measured: list[Measured], governing: Measured, reach: Band | None
) -> dict[str, object]:
    unit, uncertainty = limit.unit.symbol, governing.uncertainty
    details: dict[str, object] = {
        "margin": {"value": shown(governing.margin), "unit": unit},
        "band": None if reach is None else reach.value,
        "reading": governing.sent,
    }
    if uncertainty is not None:
        details["probability_of_conformity"] = probability_of_conformity(
            governing.value, limit.low, limit.high, uncertainty
        )
    if len(measured) > 1:
        details["readings"] = [
            {**one.sent, "margin": {"value": shown(one.margin), "unit": unit}} for one in measured
        ]
    return details


def _sentence(limit: Limit, governing: Measured, reach: Band | None, verdict: VerdictWord) -> str:
    margin = shown(governing.margin)
    place = "outside" if margin[0] == "-" else "inside"
    by = (
        "exactly at its end" if margin == "0" else f"by {with_unit(margin.lstrip('-'), limit.unit)}"
    )
    text = f"{governing.shown} is {place} the limit of {limit.words}, {by}"
    if reach is Band.CONDITIONAL:
        text += "; the uncertainty reaches the limit"
    if verdict is VerdictWord.INCONCLUSIVE:
        text += "; the instrument cannot carry it"
    return f"{text}."
