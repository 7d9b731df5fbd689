"""Force traces with known truth: latch, set in motion, open to the required width."""

from __future__ import annotations

import math
import random

import pytest

from rules import measure
from rules.errors import InputError

LBF = 4.4482216152605


def bump(time: float, at: float, width: float, height: float) -> float:
    """Half a sine wave."""
    inside = at <= time <= at + width
    return height * math.sin(math.pi * (time - at) / width) if inside else 0.0


def pushed(
    *,
    rate: float = 100,
    latch: float = 0.0,
    start: float = 120.0,
    steady: float = 40.0,
    noise: float = 0.0,
    seed: int = 0,
) -> list[list[float]]:
    """A push in newtons and metres: a latch at 0.5 s, the leaf set in motion at 1.5 s, then moved
    at 0.3 m/s with a steady force until 5 s.
    """
    draw = random.Random(seed)
    rows = []
    for number in range(int(6 * rate)):
        time = number / rate
        force = bump(time, 0.5, 0.4, latch)
        force += bump(time, 1.2, 0.6, start) if time < 1.5 else 0.0
        if 1.5 <= time < 5:
            fall = max(0.0, 1 - (time - 1.5) / 0.2)
            force += steady + (start - steady) * fall**2
        position = 0.3 * (min(time, 5) - 1.5) if time > 1.5 else 0.0
        rows.append([time, force + draw.gauss(0, noise), position + draw.gauss(0, noise / 10_000)])
    return rows


def trace(rows: list, **more: object) -> dict[str, object]:
    """A force trace; with positions where the rows have them."""
    units = {"t": "s", "force": "N"}
    if len(rows[0]) == 3:
        units["position"] = "m"
    return {"kind": "force", "units": units, "samples": rows, **more}


def values(answer: dict) -> dict[str, float]:
    """Readings by their quantity."""
    return {reading["quantity"]: float(reading["value"]) for reading in answer["readings"]}


@pytest.mark.parametrize("ramp", [40, 80, 200])
@pytest.mark.parametrize("noise", [0.02, 0.1])
def test_a_sharp_push_is_not_averaged_away(ramp: float, noise: float) -> None:
    """A push that rises to 31 lbf and lets go at once is 31 lbf, within what is stated."""
    draw = random.Random(ramp)
    rows = [[i / 100, min(ramp * i / 100, 31.0)] for i in range(math.ceil(3100 / ramp) + 1)]
    rows += [[rows[-1][0] + i / 100, 12.0] for i in range(1, 100)]
    noisy = [[time, max(0.0, force + draw.gauss(0, noise))] for time, force in rows]
    sent = trace(noisy, uncertainty={"value": "0.4", "unit": "lbf"})
    sent["units"] = {"t": "s", "force": "lbf"}
    (found,) = measure(sent)["readings"]
    assert float(found["value"]) == pytest.approx(31, abs=float(found["uncertainty"]))
    assert float(found["uncertainty"]) < 0.6


def codes(answer: dict) -> list[str]:
    """What the trace could not tell."""
    return [note["code"] for note in answer["notes"]]


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("rate", [50, 100, 500])
def test_each_part_of_a_push_is_told_from_the_others(rate: float, seed: int) -> None:
    """Each within 3 %, or 1 % of the highest force and three times the noise, of its truth."""
    draw = random.Random(seed)
    truth = {
        "latch_release_force": draw.uniform(20, 90),
        "set_in_motion_force": draw.uniform(100, 250),
        "opening_force": draw.uniform(20, 80),
    }
    rows = pushed(
        rate=rate,
        latch=truth["latch_release_force"],
        start=truth["set_in_motion_force"],
        steady=truth["opening_force"],
        noise=0.5,
        seed=seed,
    )
    answer = measure(trace(rows, latch=True, required_width={"value": "32", "unit": "in"}))
    found = values(answer)
    assert set(found) == set(truth)
    for quantity, expected in truth.items():
        near = 0.01 * truth["set_in_motion_force"] + 1.5
        assert found[quantity] == pytest.approx(expected, rel=0.03, abs=near)
    assert float(answer["derived"][0]["value"]) == pytest.approx(truth["opening_force"], rel=0.03)


def test_moments_stand_in_for_positions() -> None:
    """Where no positions are sent, the times at which the leaf moved and stood open divide it."""
    rows = [row[:2] for row in pushed()]
    answer = measure(trace(rows, moved_at="1.53", opened_at="4.2"))
    assert values(answer)["set_in_motion_force"] == pytest.approx(120, rel=0.03)
    assert values(answer)["opening_force"] == pytest.approx(40, rel=0.03)
    assert codes(answer) == []


def test_without_positions_the_whole_trace_is_the_first_push() -> None:
    """The highest force sets the leaf in motion, and the reader is told that this is assumed."""
    answer = measure(trace([row[:2] for row in pushed()]))
    assert set(values(answer)) == {"set_in_motion_force"}
    assert codes(answer) == ["no_positions"]


def test_a_leaf_that_does_not_move_gives_no_reading() -> None:
    """A push that sets nothing in motion is no force that sets it in motion."""
    rows = [[time, force, 0.0] for time, force, _ in pushed()]
    answer = measure(trace(rows))
    assert (answer["readings"], codes(answer)) == ([], ["not_moved"])


def test_a_width_that_is_not_reached_gives_no_opening_force() -> None:
    """The leaf came 1.05 m; for 1.2 m nothing can be said."""
    answer = measure(trace(pushed(), required_width={"value": "1.2", "unit": "m"}))
    assert "opening_force" not in values(answer)
    assert codes(answer) == ["width_not_reached"]


def test_a_latch_without_a_peak_of_its_own_is_noted() -> None:
    """One push alone cannot be divided into latch and motion."""
    answer = measure(trace(pushed(), latch=True))
    assert "latch_release_force" not in values(answer)
    assert codes(answer) == ["no_latch_peak"]


def test_a_push_that_only_rises_until_the_leaf_moves_has_no_latch_peak() -> None:
    """Nothing fell off before the leaf moved: one push, and it set the leaf in motion."""
    rows = [[n / 10, 10.0 * n, 0.0 if n < 9 else 0.05 * (n - 8)] for n in range(13)]
    answer = measure(trace(rows, latch=True))
    assert values(answer) == {"set_in_motion_force": 90.0}
    assert codes(answer) == ["no_latch_peak"]


def test_the_gauge_decides_whether_an_uncertainty_is_stated() -> None:
    """Without the gauge's own there is none; with it, the scatter is added."""
    rows = pushed(noise=2.0, seed=1)
    assert "uncertainty" not in measure(trace(rows))["readings"][0]
    stated = measure(trace(rows, uncertainty={"value": "0.5", "unit": "lbf"}))["readings"][0]
    assert float(stated["uncertainty"]) == pytest.approx(
        2 * math.hypot(0.25 * LBF, 2 / math.sqrt(5)), rel=0.1
    )


def test_units_are_those_of_the_samples() -> None:
    """Pounds of force and inches in, pounds of force out."""
    rows = [[time, force / LBF, position / 0.0254] for time, force, position in pushed()]
    answer = measure(
        trace(rows, required_width={"value": "813", "unit": "mm"})
        | {"units": {"t": "s", "force": "lbf", "position": "in"}}
    )
    assert {reading["unit"] for reading in answer["readings"]} == {"lbf"}
    assert values(answer)["set_in_motion_force"] == pytest.approx(120 / LBF, rel=0.03)


def test_a_spike_of_one_sample_raises_no_peak() -> None:
    """At a hundred samples a second one wild sample is left out, and reported."""
    rows = pushed(noise=0.5, seed=3)
    rows[120][1] += 400
    answer = measure(trace(rows))
    assert values(answer)["set_in_motion_force"] == pytest.approx(120, rel=0.03)
    assert [d["reason"] for d in answer["samples"]["discarded"]] == ["spike"]


def test_few_samples_are_taken_as_they_are() -> None:
    """At ten samples a second a single high sample may be the peak: nothing is left out."""
    rows = [[0, 0, 0], [0.1, 60, 0], [0.2, 130, 0], [0.3, 70, 0.05], [0.4, 40, 0.2], [0.5, 40, 0.9]]
    answer = measure(trace(rows, required_width={"value": "0.8", "unit": "m"}))
    assert values(answer) == {"set_in_motion_force": 130.0, "opening_force": 40.0}


@pytest.mark.parametrize(
    ("rows", "more", "pointer", "code"),
    [
        ([[0, 0], [1, -50], [2, 100]], {}, "/samples/1/1", "negative"),
        ([[0, -20], [1, -50], [2, -1]], {}, "/samples/1/1", "negative"),
        ([[0, 0], [1, 50], [2, 10]], {"moved_at": "3"}, "/moved_at", "out_of_range"),
        ([[0, 0], [1, 50], [2, 10]], {"latch": "yes"}, "/latch", "not_a_flag"),
        ([[0, 0], [1, 50], [2, 10]], {"width": 1}, "/width", "unknown_field"),
        ([[0, 0]], {}, "/samples", "too_few"),
        (
            [[0, 0], [1, 50], [2, 10]],
            {"uncertainty": {"value": "1", "unit": "V"}},
            "/uncertainty/unit",
            "wrong_dimension",
        ),
    ],
)
def test_a_wrong_force_trace_is_refused_by_its_place(
    rows: list, more: dict, pointer: str, code: str
) -> None:
    """Forces with their sign turned, moments outside the trace, wrong fields."""
    with pytest.raises(InputError) as refused:
        measure(trace(rows, **more))
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]


def test_a_gauge_that_shows_nothing_gives_no_reading() -> None:
    """No force is no measurement, and so never conforms to a limit from above."""
    answer = measure(trace([[n / 100, 0.0] for n in range(200)]))
    assert (answer["readings"], codes(answer)) == ([], ["no_push"])


def test_a_push_under_way_when_the_trace_begins_is_told() -> None:
    """The highest force is the first: it may have been higher before."""
    answer = measure(trace([[n / 100, 100 - n * 0.4] for n in range(200)]))
    assert values(answer)["set_in_motion_force"] == pytest.approx(100, rel=0.01)
    assert codes(answer) == ["no_positions", "begins_pushed"]


def test_a_leaf_that_moves_from_the_first_sample_on_was_set_in_motion_before() -> None:
    """What set it in motion is not in the trace; what keeps it moving is."""
    rows = [[n / 100, 50.0, 0.003 * n] for n in range(200)]
    answer = measure(trace(rows, required_width={"value": "0.3", "unit": "m"}))
    assert set(values(answer)) == {"opening_force"}
    assert codes(answer) == ["begins_moving"]


def test_a_leaf_open_before_it_has_moved_is_refused() -> None:
    """The two moments contradict each other."""
    rows = [row[:2] for row in pushed()]
    with pytest.raises(InputError) as refused:
        measure(trace(rows, moved_at="2", opened_at="1"))
    assert [(p.pointer, p.code) for p in refused.value.problems] == [("/opened_at", "out_of_range")]


@pytest.mark.parametrize("force", [30.0, 180.0])
def test_a_push_that_never_changes_is_its_own_peak(force: float) -> None:
    """A plateau from end to end, and two samples alone."""
    even = measure(trace([[n / 100, force] for n in range(200)]))
    assert values(even) == {"set_in_motion_force": force}
    assert values(measure(trace([[0, force], [1, force]]))) == {"set_in_motion_force": force}
