"""Battery arithmetic: the capacity that loads need, and how long a battery runs a current.

Capacity is the sum of each current times its duration, times every factor (ageing, margin,
discharge). Run time follows Peukert's rule in the rate form, T = H (C / (I H))^n, with the
capacity C rated at H hours. The form T = C / I^n, also in print, is the same rule for a capacity
rated at a current of one ampere, that is with H = C / 1 A.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import exp, isfinite, log, prod

from rules.errors import InputError
from rules.fields import Problems, mapping
from rules.measurement.answer import fraction_text, significant
from rules.measurement.fields import Fields, in_range, read_measure
from rules.quantities import Dimension, exact, unit

FIELDS = frozenset(("loads", "factors", "capacity", "rated_over", "current", "exponent"))
MAX_LOADS, MAX_FACTORS = 100, 10
_LARGEST = 1e9  # hours
_LARGEST_EXPONENT = 2
_DIGITS = 10


def measure_standby(trace: Mapping[str, object]) -> dict[str, object]:
    """What the loads need, whether the capacity suffices, and the run time, where asked."""
    fields = Fields(trace, FIELDS)
    answer: dict[str, object] = {"readings": []}
    if fields.has("loads"):
        needed, total = _needed(fields)
        answer["load"] = {"value": fraction_text(total), "unit": "Ah"}
        answer["required_capacity"] = {"value": fraction_text(needed), "unit": "Ah"}
        capacity = fields.measure("capacity", Dimension.CHARGE)
        if capacity:
            answer["sufficient"] = capacity.in_unit(unit("Ah")) >= needed
    elif not fields.has("current"):
        raise InputError.at("/loads", "required", "loads, or a battery and a current, are needed")
    if fields.has("current"):
        answer["run_time"] = {"value": significant(_run_time(fields), _DIGITS), "unit": "h"}
    return answer


def _needed(fields: Fields) -> tuple[Fraction, Fraction]:
    """Ampere hours with and without the factors."""
    total = Fraction(0)
    for index, raw in enumerate(fields.items("loads", MAX_LOADS)):
        at = f"/loads/{index}"
        problems = Problems()
        load = mapping(raw, ("current", "duration", "name"), at, problems)
        if problems.found:
            raise InputError(problems.found)
        current = read_measure(load.get("current"), f"{at}/current", Dimension.CURRENT)
        duration = read_measure(load.get("duration"), f"{at}/duration", Dimension.TIME)
        total += current.si * duration.in_unit(unit("h"))
    factors = fields.items("factors", MAX_FACTORS) if fields.has("factors") else []
    read = [
        in_range(exact(raw, f"/factors/{n}"), f"/factors/{n}", above=0)
        for n, raw in enumerate(factors)
    ]
    return total * prod(read, start=Fraction(1)), total


def _run_time(fields: Fields) -> float:
    capacity = fields.needed_measure("capacity", Dimension.CHARGE, above=0).in_unit(unit("Ah"))
    rated = fields.needed_measure("rated_over", Dimension.TIME, above=0).in_unit(unit("h"))
    current = fields.needed_measure("current", Dimension.CURRENT, above=0).si
    exponent = fields.needed_number("exponent")
    if not 1 <= exponent <= _LARGEST_EXPONENT:
        message = f"Peukert's exponent lies from 1 to {_LARGEST_EXPONENT}"
        raise InputError.at("/exponent", "out_of_range", message)
    hours = float(rated) * exp(float(exponent) * log(capacity / (current * rated)))
    if not isfinite(hours) or hours > _LARGEST:
        raise InputError.at("/current", "out_of_range", "no battery runs for so long")
    return hours
