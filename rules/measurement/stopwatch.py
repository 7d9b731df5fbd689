"""Closing speed from a stopwatch and a tape, exactly, with the uncertainty of hand timing.

Uncertainties (k = 2) where the trace states none: 0.2 s for starting and stopping a watch by
hand (the difference of two reactions scatters by about 0.10 s) and 1 mm for a tape.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import hypot

from rules.measurement.answer import Reading, exact_reading
from rules.measurement.fields import Fields, in_range
from rules.quantities import Dimension, Quantity, Unit, exact, parse_quantity, unit

FIELDS = frozenset(("travel", "times", "unit", "reaction", "tape"))
MAX_TIMES = 100
_DECIMALS = 9  # to which an exact reading is written
REACTION = parse_quantity("0.2 s")
TAPE = parse_quantity("1 mm")
# Speeds of a tape in feet are given in inches a second: the limits in print are.
SPEED_UNITS = {"m": "m/s", "cm": "mm/s", "mm": "mm/s", "in": "in/s", "ft": "in/s"}


def measure_stopwatch(trace: Mapping[str, object]) -> dict[str, object]:
    """A closing time and a closing speed for each time taken, numbered as repeats."""
    fields = Fields(trace, FIELDS)
    travel = fields.needed_measure("travel", Dimension.LENGTH, above=0)
    symbol = fields.unit("unit", Dimension.TIME)
    reaction = fields.measure("reaction", Dimension.TIME) or REACTION
    tape = fields.measure("tape", Dimension.LENGTH) or TAPE
    readings: list[Reading] = []
    for index, raw in enumerate(fields.items("times", MAX_TIMES)):
        pointer = f"/times/{index}"
        value = in_range(exact(raw, pointer), pointer, above=0)
        time = Quantity(value, symbol, str(raw))
        readings += _readings(travel, time, reaction, tape, index + 1)
    return {
        "readings": sorted(readings, key=lambda item: str(item["quantity"])),
        "derived": [
            exact_reading("travel", travel.value, travel.unit.symbol, _in(tape, travel.unit))
        ],
    }


def _readings(
    travel: Quantity, time: Quantity, reaction: Quantity, tape: Quantity, repeat: int
) -> list[Reading]:
    speed_unit = _speed_unit(travel.si / time.si, travel.unit)
    speed = travel.si / time.si / speed_unit.factor
    share = hypot(float(tape.si / travel.si), float(reaction.si / time.si))
    return [
        exact_reading(
            "closing_speed", speed, speed_unit.symbol, float(speed) * share, repeat=repeat
        ),
        exact_reading(
            "closing_time", time.value, time.unit.symbol, _in(reaction, time.unit), repeat=repeat
        ),
    ]


def _speed_unit(speed: Fraction, travel: Unit) -> Unit:
    """The speed unit that goes with the tape's, or another in which the speed, in m/s, is a
    decimal that ends: a speed exactly at a limit then stays exactly there.
    """
    units = [unit(symbol) for symbol in (SPEED_UNITS[travel.symbol], "in/s", "mm/s")]
    ending = (u for u in units if 10**_DECIMALS % (speed / u.factor).denominator == 0)
    return next(ending, units[0])


def _in(measure: Quantity, other: Unit) -> float:
    return float(measure.in_unit(other))
