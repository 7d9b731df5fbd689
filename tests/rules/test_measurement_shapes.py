"""Travel traces of every shape a door makes, from profiles of its speed: the promise, shape by
shape, and what is said where a shape cannot be told.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from rules import measure
from tests.rules.courses import trace
from tests.rules.profiles import Speeds, Truth, change, even, fade, looked_at, waves

Draw = np.random.Generator
EACH = 4
RATES = (10, 20, 50, 100)
NOISES = (0.0, 0.5, 2.0, 5.0)


def rest(seconds: float = 1.5) -> Speeds:
    """A standstill, by itself the one before or after a course."""
    return even(0, seconds)


def motion(speed: float, seconds: float, ramp: float = 0.0, *, soft: bool = False) -> Speeds:
    """A motion that gathers its speed over a ramp and loses it over another."""
    if not ramp:
        return even(speed, seconds)
    ends = [change(0, speed, ramp, soft=soft), change(speed, 0, ramp, soft=soft)]
    return np.concatenate([ends[0], even(speed, seconds - 2 * ramp), ends[1]])


def creeps_to_its_end(draw: Draw, v: float) -> list[Speeds]:
    """A tenth to a third of the speed over the last 10 to 40 cm."""
    slow = v * draw.uniform(0.1, 0.3)
    return [
        *(change(0, v, 0.3), even(v, draw.uniform(3, 8)), change(v, slow, 0.3)),
        *(even(slow, draw.uniform(100, 400) / slow), change(slow, 0, 0.1)),
    ]


def fades_out(draw: Draw, v: float) -> list[Speeds]:
    """A buffer that takes the speed away, ever more slowly."""
    return [change(0, v, 0.4), even(v, draw.uniform(3, 8)), fade(v, draw.uniform(0.3, 1.0))]


def creeps_from_its_beginning(draw: Draw, v: float) -> list[Speeds]:
    """A slow start for one to two and a half seconds."""
    slow = v * draw.uniform(0.1, 0.3)
    return [
        *(even(slow, draw.uniform(1, 2.5)), change(slow, v, 0.3)),
        *(even(v, draw.uniform(4, 8)), change(v, 0, 0.2)),
    ]


def pushed_several_times(draw: Draw, v: float) -> list[Speeds]:
    """Closed, opened by two to four pushes, closed."""
    pushes = [
        part
        for _ in range(draw.integers(2, 5))
        for part in (motion(-v * draw.uniform(0.5, 1), draw.uniform(0.8, 1.6)), rest(1))
    ]
    return [motion(v, 6), rest(1), *pushes, motion(v, 7, 0.3)]


SHAPES: dict[str, Callable[[Draw, float], list[Speeds]]] = {
    "creeps_to_its_end": creeps_to_its_end,
    "fades_out": fades_out,
    "creeps_from_its_beginning": creeps_from_its_beginning,
    "long_ramps": lambda d, v: [motion(v, d.uniform(5, 9), d.uniform(0.8, 2))],
    "soft_ramps": lambda d, v: [motion(v, d.uniform(5, 9), d.uniform(0.3, 1.5), soft=True)],
    "long_ramps_about_a_stop": lambda d, v: [
        *(motion(v, 5, d.uniform(0.3, 1.2)), rest(d.uniform(0.8, 3))),
        motion(v, 5, d.uniform(0.3, 1.2)),
    ],
    "a_short_retraction": lambda d, v: [
        *(motion(v, 5), rest(1), even(-v / 2, d.uniform(60, 150) / (v / 2)), rest(1)),
        motion(v, 5, 0.3),
    ],
    "a_retraction_at_once": lambda d, v: [
        *(motion(v, 5, 0.3), motion(-v * d.uniform(0.4, 1), 2, 0.3), motion(v, 5, 0.3))
    ],
    "pushed_several_times": pushed_several_times,
    "two_speeds": lambda d, v: [
        *(change(0, v, 0.2), even(v, 4), change(v, v / 2, 0.2)),
        *(even(v / 2, d.uniform(3, 6)), change(v / 2, 0, 0.2)),
    ],
    "uneven": lambda d, v: [waves(v, d.uniform(0.1, 0.4), d.uniform(0.5, 2), d.uniform(5, 9))],
    "a_stop": lambda d, v: [motion(v, 5), rest(d.uniform(0.8, 2.5)), motion(v, 4)],
}
SLOW_ENDS = ("fades_out", "creeps_from_its_beginning", "creeps_to_its_end")
SENSORS: dict[str, dict] = {
    "even": {},
    "disorder": {"disorder": True},
    "wild": {"wild": 0.02},
    "steps": {"steps": 10.0, "noise": 0.0},
}


def mean_speed(answer: dict) -> tuple[float, float]:
    """The mean closing speed and its uncertainty, mm/s."""
    (found,) = (r for r in answer["readings"] if r["quantity"] == "closing_speed")
    return float(found["value"]), float(found["uncertainty"])


def told(answer: dict) -> set[str]:
    """The codes of its notes."""
    return {note["code"] for note in answer["notes"]}


def holds(answer: dict, truth: Truth, times: float = 1) -> bool:
    """Whether the speed lies within 1 % or so many times its uncertainty of the truth."""
    speed, uncertainty = mean_speed(answer)
    near = max(0.01 * truth.highest, times * uncertainty)
    return truth.lowest - near <= speed <= truth.highest + near


@cache
def answered(shape: str, sensor: str, number: int) -> tuple[dict, Truth]:
    """What the library says of one draw, and the truth."""
    draw = np.random.default_rng([list(SHAPES).index(shape), list(SENSORS).index(sensor), number])
    speeds = np.concatenate([rest(), *SHAPES[shape](draw, draw.uniform(152, 610)), rest()])
    look = {"rate": RATES[number], "noise": NOISES[draw.integers(4)], **SENSORS[sensor]}
    truth = Truth(speeds)
    if shape == "fades_out":
        truth.lowest = truth.highest
    return measure(trace(looked_at(speeds, draw, **look))), truth


ALL = [(shape, sensor, n) for shape in SHAPES for sensor in SENSORS for n in range(EACH)]


@pytest.mark.parametrize(("shape", "sensor", "number"), ALL)
def test_every_shape_is_recovered(shape: str, sensor: str, number: int) -> None:
    """Stops and re-closures exactly; the speed within 1 % or one and a half times its uncertainty
    (k = 2, which is to hold 95 % alone): twelve shapes, four sensors, four draws. What creeps
    below the steps of a coarse display is noted instead. A motion that fades out ends where a
    standstill begins.
    """
    answer, truth = answered(shape, sensor, number)
    assert (answer["stops"], answer["reclosures"]) == (truth.stops, truth.reclosures)
    noted = shape in SLOW_ENDS and "coarse" in told(answer)
    assert noted or holds(answer, truth, 1.5)


def test_nearly_every_shape_is_within_its_uncertainty() -> None:
    """Within 1 % or the uncertainty itself: at least 97 % of the traces of a sensor without
    coarse steps.
    """
    fine = [each for each in ALL if each[1] != "steps"]
    held = [holds(*answered(*each)) for each in fine]
    assert sum(held) >= 0.97 * len(held)


@pytest.mark.parametrize("rate", [5, 250, 1000])
def test_rates_from_five_to_a_thousand_a_second(rate: int) -> None:
    """Few samples widen the uncertainty and are noted; many are averaged."""
    draw = np.random.default_rng(rate)
    speeds = np.concatenate([rest(), motion(300, 6, 0.3), rest(2), motion(300, 5, 0.3), rest()])
    answer = measure(trace(looked_at(speeds, draw, rate=rate, noise=2)))
    assert holds(answer, Truth(speeds))
    assert answer["stops"] == 1
    assert ("few_samples" in told(answer)) is (rate < 10)


@pytest.mark.parametrize("gap", [(2.5, 4.5), (0.7, 2.7), (5.2, 7.2), (7.6, 9.6), None])
def test_two_seconds_without_a_sample_are_told(gap: tuple[float, float] | None) -> None:
    """On the way, over the beginning, over the stop's edge, within the stop: what is answered
    still holds the truth, and that something may be missing is said.
    """
    speeds = np.concatenate([rest(), motion(400, 5, 0.3), rest(3.4), motion(400, 4, 0.3), rest()])
    draw = np.random.default_rng(7)
    answer = measure(trace(looked_at(speeds, draw, rate=25, noise=1, gap=gap)))
    assert holds(answer, Truth(speeds))
    assert ("gap" in told(answer)) is (gap is not None)
    assert answer["stops"] == 1


def test_a_stop_that_no_sample_saw_is_within_the_uncertainty() -> None:
    """1.2 s of standstill inside 2 s without samples: not counted, but the speed's uncertainty
    reaches that of a door which stood, and the reader is warned.
    """
    speeds = np.concatenate([rest(), motion(400, 5), rest(1.2), motion(400, 4), rest()])
    rows = looked_at(speeds, np.random.default_rng(8), rate=25, noise=1, gap=(6.2, 8.2))
    answer = measure(trace(rows))
    assert holds(answer, Truth(speeds))
    assert "gap" in told(answer)


def test_a_display_that_stays_at_each_step_is_still_a_door_that_closes() -> None:
    """Steps of 10 mm looked at a hundred times a second: no standstill on each of them."""
    speeds = np.concatenate([rest(), motion(62, 9, 0.2), rest(2.9), motion(62, 11, 0.2), rest()])
    rows = looked_at(speeds, np.random.default_rng(9), rate=100, noise=0, steps=10)
    answer = measure(trace(rows))
    assert holds(answer, Truth(speeds))
    assert (answer["stops"], answer["reclosures"]) == (1, 0)


@pytest.mark.parametrize("stands", [0.45, 0.48, 0.5, 0.52, 0.55])
def test_the_speed_is_as_unsure_as_the_stop(stands: float) -> None:
    """A standstill of about half a second: wherever it is called doubtful, the uncertainty holds
    the speed with it and without it.
    """
    speeds = np.concatenate([rest(), motion(300, 5, 0.2), rest(stands), motion(300, 5, 0.2)])
    rows = looked_at(np.concatenate([speeds, rest()]), np.random.default_rng(3), rate=12.5, noise=3)
    answer = measure(trace(rows))
    speed, uncertainty = mean_speed(answer)
    travel = 2 * 300 * 4.8
    doubtful = "doubtful_stop" in told(answer)
    assert doubtful or (answer["stops"] == 1) is (stands >= 0.5)
    if doubtful or stands < 0.5:
        assert speed - uncertainty <= travel / (10 + stands)
    if doubtful or stands >= 0.5:
        assert travel / 10 <= speed + uncertainty


def test_a_door_looked_at_from_the_other_side_closes_in_no_trace() -> None:
    """Positions that shrink and are not said to be an opening: a door that opens, and no speed."""
    speeds = np.concatenate([rest(), motion(300, 6, 0.3), rest()])
    rows = looked_at(speeds, np.random.default_rng(4), noise=1)
    answer = measure(trace([[time, 6000 - position] for time, position in rows]))
    assert "no_closing" in told(answer)
    assert "closing_speed" not in {reading["quantity"] for reading in answer["readings"]}


@pytest.mark.parametrize("seconds", [(1.0, None), (0.0, -2.0)])
def test_a_trace_cut_off_in_motion_tells_the_rest(seconds: tuple[float, float | None]) -> None:
    """The speed of what is seen, that it is not the whole, and so no closing time."""
    first, last = seconds
    speeds = np.concatenate([motion(300, 6), rest(1.5), motion(300, 6)])
    seen = speeds[int(first * 1000) : int(last * 1000) if last else None]
    answer = measure(trace(looked_at(seen, np.random.default_rng(5), noise=2)))
    assert holds(answer, Truth(seen))
    assert {"begins_moving", "ends_moving"} <= told(answer)
    assert "closing_time" not in {reading["quantity"] for reading in answer["readings"]}
    assert answer["stops"] == 1


def test_a_rebound_of_a_few_millimetres_is_no_reclosure() -> None:
    """The strike throws the door back by 5 mm: neither a stop nor an opening."""
    speeds = np.concatenate([rest(), motion(400, 6), even(-50, 0.1), even(50, 0.1), rest()])
    answer = measure(trace(looked_at(speeds, np.random.default_rng(6), rate=50, noise=0.5)))
    assert (answer["stops"], answer["reclosures"]) == (0, 0)
    assert mean_speed(answer)[0] == pytest.approx(400, rel=0.01)
