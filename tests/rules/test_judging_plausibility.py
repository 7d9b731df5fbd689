"""Mixed-up units against a door's own past: how many are marked, and how many honest readings.

Simulated, for want of measured series: 200 invented doors, each with its own force between 2 and
60 lbf, eight past readings and a new one scattered about it (normal, seeded, two decimals as on a
gauge). What this run shows, by the scatter of one door's readings (standard deviation):

    scatter    mix-ups marked    honest readings marked
    1 %        100.0 %           0.0 %
    2 %         98.8 %           0.0 %
    5 %         65.4 %           0.0 %
    10 %        36.7 %           0.0 %
    30 %        12.2 %           3.0 %

Mix-ups: the mean over the six ordered pairs of N, kgf and lbf; honest: over the three units. So 5 %
about each ratio finds 19 of 20 mix-ups on doors whose readings repeat within 2 %, and ever fewer
the less they do. A gauge in ounces-force (16 to the pound) is not told by these ratios, nor is a
mix-up of speed, torque or time; of lengths only cm for mm is, ten lying within 5 % of 9.81.
"""

from __future__ import annotations

from itertools import permutations
from random import Random
from typing import Any

import pytest

from rules.errors import InputError
from rules.judging import judge
from rules.judging.plausibility import RATIOS, TOLERANCE
from rules.quantities import UNITS
from tests.rules.hand_made import at_most, found, reading, the_set

DOORS = 200
MIXED_UP = sorted(permutations(("N", "kgf", "lbf"), 2))
HELD = the_set(at_most("opening_force", "15 lbf"))


def gauge(true: float, unit: str, scatter: float, rnd: Random) -> str:
    """What a gauge in that unit shows of a force in lbf, two decimals."""
    factor = float(UNITS["lbf"].factor / UNITS[unit].factor)
    return f"{max(true * rnd.gauss(1, scatter), 0.0) * factor:.2f}"


def doors(scatter: float, shown: str) -> list[tuple[str, list[str]]]:
    """For each door a new reading on a gauge in the unit `shown`, and its past ones in lbf."""
    rnd = Random(f"{scatter} {shown}")
    answer = []
    for _ in range(DOORS):
        true = rnd.uniform(2, 60)
        past = [gauge(true, "lbf", scatter, rnd) for _ in range(8)]
        answer.append((gauge(true, shown, scatter, rnd), past))
    return answer


def verdict(value: str, unit: str, past: list[dict[str, str]] | None = None) -> dict[str, Any]:
    """The verdict on that reading."""
    more = {"history": past} if past else {}
    (only,) = judge(HELD, found(reading("opening_force", value, unit, **more)))["verdicts"]
    return only


def marked(scatter: float, gauges: str, written: str) -> int:
    """How many of the doors are marked where the gauge shows one unit and another is written;
    none of their verdicts is another for it.
    """
    count = 0
    for value, past in doors(scatter, gauges):
        history = [{"value": one, "unit": "lbf"} for one in past]
        answer, plain = verdict(value, written, history), verdict(value, written)
        assert (answer["verdict"], answer["margin"]) == (plain["verdict"], plain["margin"])
        assert answer["reading"]["value"] == value
        count += [note["code"] for note in answer["notes"]] == ["unit_to_be_confirmed"]
    return count


@pytest.mark.parametrize(("gauges", "written"), MIXED_UP)
def test_nineteen_of_twenty_mixed_up_units_are_marked(gauges: str, written: str) -> None:
    """Each of the six ways to write N, kgf or lbf for another, on doors that repeat to 2 %."""
    assert marked(0.02, gauges, written) >= 0.95 * DOORS


@pytest.mark.parametrize("unit", ["N", "kgf", "lbf"])
def test_honest_readings_of_a_door_that_repeats_are_not_marked(unit: str) -> None:
    """No false alarm at a scatter of 5 %, in whatever unit past and present are written."""
    assert marked(0.05, unit, unit) == 0


def test_a_door_that_jumps_about_is_seldom_marked() -> None:
    """At a scatter of 30 %, which no sound gauge has, at most one honest reading in twenty."""
    assert marked(0.30, "lbf", "lbf") <= 0.05 * DOORS


@pytest.mark.parametrize("unit", [None, "", " "])
def test_a_reading_without_a_unit_is_refused(unit: str | None) -> None:
    """Always, with its pointer; past readings do not supply one."""
    for value, past in doors(0.02, "lbf")[:20]:
        sent = reading("opening_force", value, unit, history=past)
        with pytest.raises(InputError) as refused:
            judge(HELD, found(sent))
        assert [p.pointer for p in refused.value.problems] == ["/readings/0/unit"]
    with pytest.raises(InputError):
        judge(HELD, found({"quantity": "opening_force", "value": "15"}))


def test_which_pairs_of_units_the_ratios_tell() -> None:
    """Of all pairs of one dimension, larger over smaller: three of force, cm for mm, kg for lb."""
    told = {
        (one.symbol, other.symbol)
        for one, other in permutations(UNITS.values(), 2)
        for ratio in RATIOS.values()
        if one.dimension is other.dimension
        and abs(one.factor / other.factor / ratio - 1) <= TOLERANCE
    }
    of_force = {("kgf", "lbf"), ("lbf", "N"), ("kgf", "N")}
    assert told == of_force | {("cm", "mm"), ("kg", "lb")}
