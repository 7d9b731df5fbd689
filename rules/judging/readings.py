"""A reading as it is judged: exact, in its own unit, with what is known of its instrument."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from rules.errors import InputError
from rules.fields import Problems, civil_date, items, mapping, sent, text, word
from rules.measurands import MEASURANDS
from rules.quantities import Unit, exact, quantity, with_unit

WHY_NOT = "say why it was not tested, or why it does not apply"

_MEASURED = ("quantity", "value", "unit", "uncertainty", "instrument", "history")
_QUALIFYING = frozenset(("uncertainty", "instrument", "history"))
_READING = frozenset((*_MEASURED, "repeat", "result", "reason", "remarks"))
_TIME = frozenset((*_MEASURED, "repeat"))
_INSTRUMENT = frozenset(("ref", "resolution", "uncertainty", "calibration_due_on"))


class Unmeasured(StrEnum):
    """What may stand in place of a value. Nothing conforms to a limit without a number."""

    NOT_TESTED = "not_tested"
    NOT_APPLICABLE = "not_applicable"
    DOES_NOT_CONFORM = "does_not_conform"


class Reading(NamedTuple):
    """A measured value. `uncertainty` (U, k = 2), `resolution` and `history` are in `unit`;
    `sent` is what was sent, without the history.
    """

    position: int
    quantity: str
    sent: dict[str, object]
    value: Fraction
    unit: Unit
    uncertainty: Fraction | None = None
    resolution: Fraction | None = None
    calibration_due_on: date | None = None
    history: tuple[Fraction, ...] = ()
    repeat: int | None = None

    @property
    def shown(self) -> str:
        """The value and unit as sent."""
        return with_unit(str(self.sent["value"]), self.unit)


class Statement(NamedTuple):
    """What the inspector says of a quantity in place of a value, and why."""

    position: int
    quantity: str
    sent: dict[str, object]
    result: Unmeasured
    reason: str


def read_reading(raw: object, index: int, problems: Problems) -> Reading | Statement | None:
    """One item of `readings`; None, with its problems kept, where it cannot be accepted."""
    at = f"/readings/{index}"
    fields = mapping(raw, _READING, at, problems)
    if "result" in fields:
        return _statement(fields, index, at, problems)
    for extra in ("reason", "remarks"):
        text(fields.get(extra), f"{at}/{extra}", problems)
    return _measured(fields, index, at, problems)


def read_time(raw: object, index: int, at: str, problems: Problems) -> Reading | None:
    """One item of a sequence's `times`."""
    return _measured(mapping(raw, _TIME, at, problems), index, at, problems)


def _statement(
    fields: dict[str, object], index: int, at: str, problems: Problems
) -> Statement | None:
    name = _measurand(fields, at, problems)
    if fields.keys() & {*_MEASURED[1:], "repeat"}:
        message = "a reading has a value, or a result in its place, never both"
        problems.add(f"{at}/result", "contradiction", message)
    result = word(fields["result"], Unmeasured, f"{at}/result", problems)
    reason = text(fields.get("reason"), f"{at}/reason", problems, required=True, asks=WHY_NOT)
    text(fields.get("remarks"), f"{at}/remarks", problems)
    if not name or result is None:
        return None
    return Statement(index, name, sent(fields), result, reason)


def _measured(fields: dict[str, object], index: int, at: str, problems: Problems) -> Reading | None:
    name = _measurand(fields, at, problems)
    repeat = _repeat(fields.get("repeat"), at, problems)
    try:
        value = quantity(_present(fields, "value", at), _present(fields, "unit", at), at)
        _refuse_other_dimension(name, value.unit, at)
        _refuse_negative(value.value, f"{at}/value")
        kept = sent(fields)
        kept.pop("history", None)
        kept["value"] = value.text
        reading = Reading(index, name, kept, value.value, value.unit, repeat=repeat)
        if fields.keys() & _QUALIFYING:
            reading = _qualified(reading, fields, at, problems)
    except InputError as error:
        problems.take(error)
        return None
    return reading


def _measurand(fields: dict[str, object], at: str, problems: Problems) -> str:
    name = fields.get("quantity")
    if isinstance(name, str) and name in MEASURANDS:
        return name
    code = "required" if name is None else "unknown_quantity"
    problems.add(f"{at}/quantity", code, f"one of: {', '.join(sorted(MEASURANDS))}")
    return ""


def _present(fields: Mapping[str, object], key: str, at: str) -> object:
    if fields.get(key) is None:
        raise InputError.at(f"{at}/{key}", "required", f"a {key} is required here")
    return fields[key]


def _repeat(raw: object, at: str, problems: Problems) -> int | None:
    if raw is None or (type(raw) is int and raw >= 1):
        return raw
    problems.add(f"{at}/repeat", "not_a_count", "the number of the repeat, from 1 on")
    return None


def _qualified(
    reading: Reading, fields: Mapping[str, object], at: str, problems: Problems
) -> Reading:
    """With what is known of the uncertainty, the instrument and the door's past readings."""
    gauge = mapping(fields.get("instrument", {}), _INSTRUMENT, f"{at}/instrument", problems)
    text(gauge.get("ref"), f"{at}/instrument/ref", problems)
    due = gauge.get("calibration_due_on")
    due_at = f"{at}/instrument/calibration_due_on"
    own, of_gauge = fields.get("uncertainty"), gauge.get("uncertainty")
    of_gauge = _amount(of_gauge, reading, f"{at}/instrument/uncertainty")
    past = items(fields.get("history"), f"{at}/history", problems)
    history = [_amount(one, reading, f"{at}/history/{n}") for n, one in enumerate(past)]
    return reading._replace(
        uncertainty=of_gauge if own is None else _amount(own, reading, f"{at}/uncertainty"),
        resolution=_amount(gauge.get("resolution"), reading, f"{at}/instrument/resolution"),
        calibration_due_on=None if due is None else civil_date(due, due_at, problems),
        history=tuple(one for one in history if one is not None),
    )


def _amount(raw: object, reading: Reading, at: str) -> Fraction | None:
    """A decimal in the reading's unit, or {"value", "unit"} in a unit of the same dimension."""
    if raw is None:
        return None
    if not isinstance(raw, Mapping):
        return _refuse_negative(exact(raw, at), at)
    amount = quantity(_present(raw, "value", at), _present(raw, "unit", at), at)
    _refuse_other_dimension(reading.quantity, amount.unit, at)
    return _refuse_negative(amount.in_unit(reading.unit), f"{at}/value")


def _refuse_other_dimension(name: str, unit: Unit, at: str) -> None:
    if name and not MEASURANDS[name].takes(unit):
        message = f"{name} is not measured in {unit.symbol}"
        raise InputError.at(f"{at}/unit", "wrong_dimension", message)


def _refuse_negative(value: Fraction, at: str) -> Fraction:
    if value < 0:
        raise InputError.at(at, "negative", "what is measured here cannot be negative")
    return value
