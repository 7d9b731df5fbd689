"""A measured value against a published limit: exact, in the unit as published, inclusive.

The value is brought into the unit of the limit by exact rational factors; the SI value that a
publisher prints beside it is never compared with (15 lb is 66.72 N and prints as 67 N).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from fractions import Fraction
from statistics import median_high, median_low
from typing import NamedTuple

from rules.judging.bounds import Limit, Printed, Scale, scale_of
from rules.judging.instruments import flaws
from rules.judging.notes import Note
from rules.judging.outcome import Outcome
from rules.judging.plausibility import doubt
from rules.judging.readings import Reading
from rules.judging.uncertainty import band, probability_of_conformity
from rules.quantities import with_unit
from rules.vocabulary import Band, Governs, VerdictWord

FEWER_REPEATS = "fewer_repeats"
INSIDE_PRINTED = "inside_printed_si_only"
OUTSIDE_PRINTED = "outside_printed_si_only"


class Measured(NamedTuple):
    """A reading, or what several of them come to, in parts; `margin` is the distance to the
    nearest bound, positive inside.
    """

    words: str
    value: int
    margin: int
    uncertainty: int | None
    sent: dict[str, object]


def decide(limit: Limit, readings: Sequence[Reading], on: date) -> Outcome:
    """The outcome of the readings of one quantity, of which there is at least one.

    A number beyond the limit does not conform, whatever the instrument. A number inside conforms
    only where every instrument used can carry it.
    """
    scale = scale_of(limit, readings)
    measured = [_measured(scale, reading) for reading in readings]
    governing = measured[0] if len(measured) == 1 else _governing(scale, measured)
    faults = _faults(limit, readings, on)
    reach = _band(governing, measured)
    margin = scale.shown(governing.margin)
    details = _details(scale, governing, margin, reach)
    notes = (*_remarks(limit, readings), *faults)
    if len(measured) > 1:
        details["readings"] = [_repeat(scale, one) for one in measured]
    if limit.printed and any(reading.unit is not limit.unit for reading in readings):
        own = measured if governing in measured else [governing]
        notes = (*(note for one in own for note in _printed(scale, limit.printed, one)), *notes)
    verdict, reason = VerdictWord.CONFORMS, ""
    if governing.margin < 0:
        verdict = VerdictWord.DOES_NOT_CONFORM
    elif faults:
        verdict, reason = VerdictWord.INCONCLUSIVE, faults[0].code
    return Outcome(
        verdict,
        _sentence(limit, governing, margin, reach, verdict),
        reason,
        details,
        notes,
        scale.si(governing.margin),
    )


def _measured(scale: Scale, reading: Reading) -> Measured:
    value, words, unit = scale.whole(reading.value, reading.unit), reading.shown, scale.limit.unit
    if reading.unit is not unit:
        words = f"{words} ({with_unit(scale.shown(value), unit)})"
    uncertainty = reading.uncertainty
    return Measured(
        words,
        value,
        scale.margin(value),
        None if uncertainty is None else scale.whole(uncertainty, reading.unit),
        {"index": reading.position, **reading.sent},
    )


def _governing(scale: Scale, measured: list[Measured]) -> Measured:
    """The repeat with the smallest margin, or the mean or median of them all.

    Repeats share their gauge and with it most of their error, so a mean keeps the largest of
    their uncertainties, and has none where one of them is unknown.
    """
    limit = scale.limit
    if limit.governs is Governs.EACH:
        return min(measured, key=lambda one: one.margin)
    values = [one.value for one in measured]
    if limit.governs is Governs.MEAN:
        value = sum(values) // len(values)
    else:
        value = (median_low(values) + median_high(values)) // 2
    known = [one.uncertainty for one in measured if one.uncertainty is not None]
    sent: dict[str, object] = {
        "index": None,
        "governs": limit.governs.value,
        "of": [one.sent["index"] for one in measured],
        "value": scale.shown(value),
        "unit": limit.unit.symbol,
    }
    text = with_unit(scale.shown(value), limit.unit)
    words = f"The {limit.governs} of {len(measured)} readings, {text},"
    uncertainty = max(known) if len(known) == len(measured) else None
    return Measured(words, value, scale.margin(value), uncertainty, sent)


def _band(governing: Measured, measured: list[Measured]) -> Band | None:
    """Whether an uncertainty reaches the limit; inside, that of any repeat that must conform."""
    own = None
    if governing.uncertainty is not None:
        own = band(governing.margin, governing.uncertainty)
    if governing.margin >= 0 and governing.sent["index"] is not None:
        for one in measured:
            if one.uncertainty is not None and one.margin < one.uncertainty:
                return Band.CONDITIONAL
    return own


def _faults(limit: Limit, readings: Sequence[Reading], on: date) -> list[Note]:
    return [
        fault
        for reading in readings
        if reading.calibration_due_on is not None or reading.resolution is not None
        for fault in flaws(reading, on, limit.span(reading.unit))
    ]


def _remarks(limit: Limit, readings: Sequence[Reading]) -> list[Note]:
    notes = [note for reading in readings if (note := doubt(reading)) is not None]
    if len(readings) < limit.repeats:
        message = (
            f"{len(readings)} of {limit.repeats} repeats were recorded; to measure "
            f"{limit.repeats} times is common practice, unless the source itself says so."
        )
        notes.append(Note(FEWER_REPEATS, message))
    return notes


def _printed(scale: Scale, printed: Printed, one: Measured) -> Iterator[Note]:
    """A note where the SI value printed beside the limit would decide otherwise."""
    if abs(one.margin) * printed.gap.denominator > printed.gap.numerator * scale.parts:
        return
    inside = one.margin >= 0
    if printed.holds(Fraction(one.value, scale.parts)) is not inside:
        code, words = (OUTSIDE_PRINTED, "outside") if inside else (INSIDE_PRINTED, "inside")
        message = (
            f"{one.words} is {words} the {printed.text} printed beside this limit; the value as "
            f"published decides: {scale.limit.words}."
        )
        yield Note(code, message)


def _details(
    scale: Scale, governing: Measured, margin: str, reach: Band | None
) -> dict[str, object]:
    details: dict[str, object] = {
        "margin": {"value": margin, "unit": scale.limit.unit.symbol},
        "band": None if reach is None else reach.value,
        "reading": governing.sent,
    }
    if governing.uncertainty is not None:
        details["probability_of_conformity"] = probability_of_conformity(
            governing.value, scale.low, scale.high, governing.uncertainty
        )
    return details


def _repeat(scale: Scale, one: Measured) -> dict[str, object]:
    margin = {"value": scale.shown(one.margin), "unit": scale.limit.unit.symbol}
    return {**one.sent, "margin": margin}


def _sentence(
    limit: Limit, governing: Measured, margin: str, reach: Band | None, verdict: VerdictWord
) -> str:
    place = "outside" if margin[0] == "-" else "inside"
    away = with_unit(margin.lstrip("-"), limit.unit)
    by = "exactly at its end" if margin == "0" else f"by {away}"
    text = f"{governing.words} is {place} the limit of {limit.words}, {by}"
    if reach is Band.CONDITIONAL:
        text += "; the uncertainty reaches the limit"
    if verdict is VerdictWord.INCONCLUSIVE:
        text += "; the instrument cannot carry it"
    return f"{text}."
