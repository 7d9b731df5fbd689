"""How fast judging is, beside the plainest code that could do it; ratios, never rates.

Every round runs each arm once, in shuffled order; a ratio is taken within its round and printed
as median (least - greatest), with the baseline against itself (A/A) for the noise of the machine.

* Portfolio: 1,000,000 readings, 8 dated sets. Baseline: NumPy, binary floats, one gather of each
  bound and one compare a limit. Ours: exact, with bands, instruments and repeats where given.
* Single visit: 20 readings against the packaged requirements, from the findings as sent to the
  answer ready for JSON. Baseline: one Python closure a limit, that compares two floats and makes
  a result of four keys.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from datetime import date
from statistics import median
from typing import Any

import numpy as np

from rules.asking import requirements
from rules.judging import judge
from rules.judging.bounds import limit_of
from rules.model import LimitSpec, RequirementSet
from rules.portfolio import Limits, Readings, judge_readings
from rules.quantities import unit
from rules.thresholds import UNBOUNDED, Measure
from tests.rules.hand_made import at_most, between, reading, resolved, the_set

READINGS, SETS, ROUNDS = 1_000_000, 8, 11
FORCES = ("opening_force", "set_in_motion_force", "latch_release_force", "closing_force")
MEASURES = (
    *(Measure(name, unit("lbf"), -1) for name in FORCES),
    Measure("closing_speed", unit("in/s"), -1),
)
DOOR = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
    "sprinklered": False,
}
FOUND = (
    ("closing_speed", "20.0", "in/s"),
    ("peak_closing_speed", "21", "in/s"),
    ("set_in_motion_force", "22", "lbf"),
    ("opening_force", "11", "lbf"),
    ("egress_panel_force", "4.1", "lbf"),
    ("lateral_load_opening_force", "14", "lbf"),
    ("closing_force", "13", "lbf"),
    ("latch_release_force", "12", "lbf"),
    ("clear_width", "36", "in"),
    ("gap", "0.1", "in"),
    ("bottom_gap", "0.3", "in"),
    ("retraction_distance", "40", "in"),
    ("battery_float_voltage", "13.8", "V"),
    ("battery_close_voltage", "11.1", "V"),
    ("start_delay", "1.2", "s"),
    ("pause_time", "2.5", "s"),
    ("opening_time_to_width", "8.1", "s"),
    ("closing_time", "22.3", "s"),
    ("standby_time", "24.1", "h"),
    ("standby_cycles", "52", "cycles"),
)
Arm = Callable[[], object]


def compare(name: str, baseline: Arm, ours: Arm, times: int = 1) -> None:
    """Print the ratio of the baseline's time to ours, and to its own again."""
    arms = {"baseline": baseline, "ours": ours, "again": baseline}
    spent: dict[str, list[float]] = {arm: [] for arm in arms}
    ours(), baseline()
    for _ in range(ROUNDS):
        for arm in random.sample(list(arms), len(arms)):
            begun = time.perf_counter()
            for _ in range(times):
                arms[arm]()
            spent[arm].append((time.perf_counter() - begun) / times)

    def ratio(arm: str) -> str:
        ratios = [a / b for a, b in zip(spent["baseline"], spent[arm], strict=True)]
        return f"{median(ratios):.2f} ({min(ratios):.2f} - {max(ratios):.2f})"

    took = f"{1000 * median(spent['ours']):8.3f} ms"
    print(f"{name:42} {ratio('ours')}   A/A {ratio('again')}   {took}, n = {ROUNDS}")  # noqa: T201


def sets(depth: tuple[int, ...]) -> list[RequirementSet]:
    """Sets with so many limits on each quantity, all of them with other numbers."""
    made = []
    for number in range(SETS):
        limits = [
            resolved(at_most(name, f"{10 + number + 2 * n} lbf"), f"{name}-{n}")
            for name, count in zip(FORCES, depth, strict=False)
            for n in range(count)
        ]
        speeds = (between("closing_speed", f"{5 + number} in/s", f"{24 + n} in/s") for n in (0, 1))
        limits += [resolved(s, f"speed-{n}") for n, s in enumerate(speeds) if n < depth[-1]]
        made.append(the_set(*limits))
    return made


def portfolio(
    name: str, depth: tuple[int, ...], *, known: bool = False, twice: bool = False
) -> None:
    """One arrangement of a portfolio; `known`: with uncertainties and instruments."""
    draw = np.random.default_rng(7)
    visits = READINGS // len(MEASURES)
    visit = np.repeat(np.arange(visits), len(MEASURES))
    measure = np.tile([0, 0, 1, 2, 4] if twice else range(len(MEASURES)), visits)
    mantissa = draw.integers(0, 400, READINGS)
    unknown = np.full(READINGS, -1)
    uncertainty = draw.integers(0, 20, READINGS) if known else unknown
    resolution = np.ones(READINGS, int) if known else unknown
    expired = draw.random(READINGS) < 0.02 * known
    of_visit = draw.integers(0, SETS, visits)
    limits = Limits.of(sets(depth), MEASURES)
    values = mantissa / 10
    high = [np.where(slot.highest >= UNBOUNDED, np.inf, slot.highest / 10) for slot in limits.slots]
    low = [np.where(slot.lowest <= 0, -1.0, slot.lowest / 10) for slot in limits.slots]
    two_sided = [bool((bounds > 0).any()) for bounds in low]

    def baseline() -> object:
        cell = of_visit[visit] * len(MEASURES) + measure
        inside = [values <= bounds[cell] for bounds in high]
        for place, bounds in enumerate(low):
            if two_sided[place]:
                inside[place] &= values >= bounds[cell]
        return inside

    def ours() -> object:
        columns = (visit, measure, mantissa, uncertainty, resolution, expired)
        return judge_readings(limits, of_visit, Readings(MEASURES, *columns))

    compare(f"portfolio, {name}", baseline, ours)


def closures(held: RequirementSet) -> dict[str, list[Callable[[float], dict[str, Any]]]]:
    """For each quantity a bare closure a limit."""

    def closure(name: str, low: float, high: float) -> Callable[[float], dict[str, Any]]:
        def decide(value: float) -> dict[str, Any]:
            margin = min(value - low, high - value)
            word = "conforms" if margin >= 0 else "does_not_conform"
            return {"requirement": name, "verdict": word, "margin": margin, "value": value}

        return decide

    made: dict[str, list[Callable[[float], dict[str, Any]]]] = {}
    for item in held.items:
        spec = item.requirement.spec
        limit = limit_of(spec) if isinstance(spec, LimitSpec) else None
        if isinstance(spec, LimitSpec) and limit is not None:
            low = float("-inf") if limit.low is None else float(limit.low)
            high = float("inf") if limit.high is None else float(limit.high)
            made.setdefault(spec.quantity, []).append(closure(item.requirement.id, low, high))
    return made


def single() -> None:
    """One visit."""
    held = requirements(facts=DOOR, jurisdiction="us", on=date(2026, 3, 1))
    sent = [reading(*one) for one in FOUND]
    found = {"activity": "periodic_inspection", "readings": sent}
    decide = closures(held)

    def baseline() -> object:
        return [
            one(float(str(r["value"]))) for r in sent for one in decide.get(str(r["quantity"]), ())
        ]

    compare("single visit, 20 readings", baseline, lambda: judge(held, found), times=100)


if __name__ == "__main__":
    portfolio("one limit a quantity", (1, 1, 1, 1, 1))
    portfolio("two limits a quantity", (2, 2, 2, 2, 2))
    portfolio("one or two limits a quantity", (2, 1, 2, 1, 2))
    portfolio("two limits, U and gauges known", (2, 2, 2, 2, 2), known=True)
    portfolio("two limits, a fifth repeated", (2, 2, 2, 2, 2), twice=True)
    single()
