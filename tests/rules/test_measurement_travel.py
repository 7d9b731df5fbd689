"""Travel traces with known truth: speeds, times, stops and re-closures, and what is left out.

Every course is in closed form; every sensor's noise, losses and faults are stated and seeded.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules import measure
from rules.errors import InputError
from rules.measurement.line import Line
from rules.measurement.turns import turn
from tests.rules.courses import Course, Leg, Sensor, trace

SPEEDS = (152.4, 609.6)  # mm/s, the ends of 6 to 24 in/s
RATES = (10, 12.5, 20, 25, 50, 100)
NOISES = (0.0, 0.5, 2.0, 5.0)
RAMPS = (0.0, 0.0, 0.1, 0.2, 0.3, 0.5, 0.8)
TRACES_A_KIND = 32


def closes(draw: random.Random, speed: float, ramp: float, least: float = 2.0) -> Leg:
    """A closing of a few seconds."""
    return Leg(speed, max(draw.uniform(least, least + 6), 2 * ramp + 1), ramp)


def opens(draw: random.Random, speed: float, ramp: float) -> Leg:
    """A retraction, shorter than any closing of four seconds."""
    return Leg(-speed * draw.uniform(0.5, 1), max(draw.uniform(1, 2.2), 2 * ramp + 0.8), ramp)


def stands(draw: random.Random) -> Leg:
    """A standstill that is a stop beyond doubt."""
    return Leg(0.0, draw.uniform(0.75, 3.0))


def hesitates(draw: random.Random) -> Leg:
    """A standstill that is too short for a stop, beyond doubt."""
    return Leg(0.0, draw.uniform(0.05, 0.25))


Build = Callable[[random.Random, float, float], list[Leg]]
KINDS: dict[str, Build] = {
    "plain": lambda d, v, r: [closes(d, v, r, 5)],
    "one_stop": lambda d, v, r: [closes(d, v, r), stands(d), closes(d, v, r)],
    "two_stops": lambda d, v, r: [
        *(closes(d, v, r), stands(d), closes(d, v, r), stands(d), closes(d, v, r))
    ],
    "reclosure_after_pauses": lambda d, v, r: [
        *(closes(d, v, r, 4), stands(d), opens(d, v, r), stands(d), closes(d, v, r, 4))
    ],
    "reclosure_at_once": lambda d, v, r: [closes(d, v, r, 4), opens(d, v, r), closes(d, v, r, 4)],
    "two_reclosures": lambda d, v, r: [
        *(closes(d, v, r, 4), stands(d), opens(d, v, r), closes(d, v, r, 4), stands(d)),
        *(closes(d, v, r), opens(d, v, r), stands(d), closes(d, v, r, 4)),
    ],
    "hesitations": lambda d, v, r: [
        *(closes(d, v, r), hesitates(d), closes(d, v, r), hesitates(d), closes(d, v, r))
    ],
    "slows_down_and_goes_on": lambda d, v, r: [
        closes(d, v, max(r, 0.3)),
        closes(d, v, max(r, 0.3)),
    ],
}


def built(kind: str, number: int) -> tuple[Course, Sensor]:
    """The course and the sensor of one trace; the same whenever it is asked for."""
    draw = random.Random(f"{kind}-{number}")
    speed, ramp = draw.uniform(*SPEEDS), draw.choice(RAMPS)
    legs = tuple(KINDS[kind](draw, speed, ramp))
    course = Course(legs, starts=draw.uniform(0.6, 3), stands=draw.uniform(0.6, 3))
    sensor = Sensor(
        rate=RATES[number % len(RATES)],
        noise=NOISES[number % len(NOISES)],
        even=draw.random() < 0.3,
        lost=draw.choice((0, 0, 0.05, 0.1)),
        doubled=draw.choice((0, 0.05)),
        displaced=draw.choice((0, 0.1)),
        wild=draw.choice((0, 0, 0.02)),
        steps=draw.choice((0, 0, 1)),
        jitter=draw.choice((0, 0.2)),
        seed=draw.randrange(10**9),
    )
    return course, sensor


@cache
def answered(kind: str, number: int) -> dict:
    """What the library says of one trace; the taped travel and the signal are given with it."""
    course, sensor = built(kind, number)
    tape = {"value": f"{course.position(1e6):.1f}", "unit": "mm"}
    return measure(trace(sensor.look(course), travel=tape, signal_at="0.25"))


def value(answer: dict, quantity: str) -> tuple[float, float]:
    """A reading and its uncertainty."""
    (found,) = (r for r in answer["readings"] if r["quantity"] == quantity)
    return float(found["value"]), float(found["uncertainty"])


ALL = [(kind, number) for kind in KINDS for number in range(TRACES_A_KIND)]


def test_there_are_at_least_two_hundred_traces() -> None:
    """Eight kinds of course, thirty-two seeds each."""
    assert len(ALL) >= 200


@pytest.mark.parametrize(("kind", "number"), ALL)
def test_a_course_is_recovered(kind: str, number: int) -> None:
    """Mean speed within 1 % or its uncertainty; stops and re-closures exactly."""
    course, _ = built(kind, number)
    answer = answered(kind, number)
    speed, uncertainty = value(answer, "closing_speed")
    assert abs(speed - course.closing_speed) <= max(0.01 * course.closing_speed, uncertainty)
    assert (answer["stops"], answer["reclosures"]) == (course.stops, course.reclosures)
    assert answer["closed"] is True


def test_nearly_every_uncertainty_holds_the_truth() -> None:
    """Of all speeds, closing times and start delays, at least 95 % lie within their U (k = 2)."""
    held = []
    for kind, number in ALL:
        course, _ = built(kind, number)
        truths = {
            "closing_speed": course.closing_speed,
            "closing_time": course.lasts,
            "start_delay": course.starts - 0.25,
        }
        for quantity, truth in truths.items():
            found, uncertainty = value(answered(kind, number), quantity)
            held.append(abs(found - truth) <= uncertainty + 0.0005 * truth)
    assert sum(held) / len(held) >= 0.95


def test_pauses_are_as_long_as_they_were() -> None:
    """The length of every stop, by the speed below 5 % of the moving door's, within its U or
    0.15 s; and what the door did next.
    """
    for kind in ("one_stop", "two_stops", "reclosure_after_pauses"):
        for number in range(TRACES_A_KIND):
            course, _ = built(kind, number)
            ramp = course.legs[0].ramp
            truths = [leg.lasts for leg in course.legs if leg.speed == 0]
            nexts = [
                "closing" if after.speed > 0 else "opening"
                for leg, after in zip(course.legs, course.legs[1:], strict=False)
                if leg.speed == 0
            ]
            pauses = answered(kind, number)["pauses"]
            for pause, truth in zip(pauses, truths, strict=True):
                off = abs(float(pause["value"]) - truth - 0.1 * ramp)
                assert off <= max(0.15, float(pause["uncertainty"]))
            assert [pause["then"] for pause in pauses] == nexts


def test_the_peak_speed_is_that_of_the_even_part() -> None:
    """A door that gathers speed and holds it: the peak is the speed held, within 3 %."""
    for number in range(TRACES_A_KIND):
        course, _ = built("plain", number)
        peak, _ = value(answered("plain", number), "peak_closing_speed")
        assert peak == pytest.approx(course.legs[0].speed, rel=0.03)


def test_retractions_are_as_far_as_they_were() -> None:
    """How far the door backed off, within 2 %."""
    for number in range(TRACES_A_KIND):
        course, _ = built("reclosure_after_pauses", number)
        (found,) = (
            d
            for d in answered("reclosure_after_pauses", number)["derived"]
            if d["quantity"] == "retraction"
        )
        truth = -next(leg.distance for leg in course.legs if leg.speed < 0)
        assert float(found["value"]) == pytest.approx(truth, rel=0.02)


def test_what_was_left_out_is_reported() -> None:
    """Doubled times, wild values, lost values and disorder are counted, each under its reason."""
    course = Course((Leg(254, 10),))
    rows = Sensor(rate=20, noise=1, seed=5).look(course)
    rows[40][1] += 4000
    rows[100][1] -= 90
    rows.insert(60, list(rows[60]))
    rows[80], rows[81] = rows[81], rows[80]
    lost: list[list] = [list(row) for row in rows]
    lost[120][1] = None
    answer = measure(trace(lost))
    report = answer["samples"]
    assert {d["reason"]: (d["count"], d["first"]) for d in report["discarded"]} == {
        "no_value": (1, [120]),
        "duplicate_time": (1, [61]),
        "jump": (1, [40]),
        "spike": (1, [101]),
    }
    assert (report["received"], report["used"], report["reordered"]) == (
        len(lost),
        len(lost) - 4,
        1,
    )
    assert float(answer["readings"][0]["value"]) == pytest.approx(254, rel=0.01)


def test_wild_samples_at_the_beginning_are_left_out() -> None:
    """The first sample that agrees with those after it is where the trace begins."""
    rows = Sensor(rate=20, noise=1, seed=5).look(Course((Leg(254, 10),)))
    rows[0][1], rows[1][1] = 9000, -7000
    answer = measure(trace(rows))
    (left_out,) = answer["samples"]["discarded"]
    assert (left_out["reason"], left_out["first"]) == ("jump", [0, 1])
    assert value(answer, "closing_speed")[0] == pytest.approx(254, rel=0.01)


def test_a_trace_that_ends_open_has_no_closing_time() -> None:
    """Closed and opened again: a speed, but no time from full open until closed."""
    course = Course((Leg(254, 8), Leg(0, 2), Leg(-254, 4)))
    answer = measure(trace(Sensor(rate=20, noise=1, seed=6).look(course)))
    quantities = {reading["quantity"] for reading in answer["readings"]}
    assert "closing_speed" in quantities
    assert "closing_time" not in quantities


def test_a_movement_of_a_moment_has_no_peak_that_was_held() -> None:
    """A closing of less than half a second has a mean speed and no peak."""
    course = Course((Leg(400, 0.4),))
    answer = measure(trace(Sensor(rate=50, noise=0.5, seed=6).look(course)))
    quantities = {reading["quantity"] for reading in answer["readings"]}
    assert "closing_speed" in quantities
    assert "peak_closing_speed" not in quantities


def test_a_turn_is_found_even_where_one_motion_has_hardly_a_sample() -> None:
    """Golden-section search past the last point of one side ends, with a moment between them."""
    before = [Line(1.0, n / 10, n * 20.0) for n in range(20)]
    found = turn([*before, Line(1.0, 2.0, 370.0)], 1.95, 1.0)
    assert 1.2 <= found.time <= 2.8


def test_readings_of_one_time_count_as_their_mean() -> None:
    """Two samples with the same time and different values are one, in the middle."""
    rows = [[i / 10, 25.4 * i] for i in range(100)]
    twice = [*rows, *([time, position + 2] for time, position in rows)]
    answer = measure(trace(twice))
    assert answer["samples"]["used"] == 100
    assert float(answer["readings"][0]["value"]) == pytest.approx(254, rel=1e-4)


@pytest.mark.parametrize(
    ("units", "time_scale", "position_scale", "speed_unit", "speed"),
    [
        ({"t": "s", "position": "in"}, 1, 1 / 25.4, "in/s", 10),
        ({"t": "s", "position": "ft"}, 1, 1 / 304.8, "in/s", 10),
        ({"t": "min", "position": "m"}, 1 / 60, 0.001, "m/s", 0.254),
        ({"t": "s", "position": "cm"}, 1, 0.1, "mm/s", 254),
    ],
)
def test_any_mix_of_units_gives_the_same_speed(
    units: dict, time_scale: float, position_scale: float, speed_unit: str, speed: float
) -> None:
    """Samples, tape and signal each in a unit of their own."""
    course = Course((Leg(254, 24),))
    rows = Sensor(rate=20, noise=2, seed=3).look(course)
    scaled = [[time * time_scale, position * position_scale] for time, position in rows]
    sent = {
        **trace(scaled, travel={"value": "20", "unit": "ft"}, signal_at=str(time_scale)),
        "units": units,
    }
    answer = measure(sent)
    found = next(r for r in answer["readings"] if r["quantity"] == "closing_speed")
    assert found["unit"] == speed_unit
    assert float(found["value"]) == pytest.approx(speed, rel=0.005)
    assert value(answer, "start_delay")[0] == pytest.approx(0.5, abs=0.1)
    assert answer["closed"] is True


def test_an_opening_that_shrinks_is_a_door_that_closes() -> None:
    """Positions may be the opening that is left: the same readings, and closed at zero."""
    course = Course((Leg(254, 8), Leg(0, 2), Leg(254, 8)))
    rows = Sensor(rate=20, noise=2, seed=8).look(course)
    left = [[time, course.position(1e6) - position] for time, position in rows]
    growing, shrinking = measure(trace(rows)), measure(trace(left, measures="opening"))
    assert growing["readings"] == shrinking["readings"]
    assert (growing["closed"], shrinking["closed"]) == (None, True)
    assert float(shrinking["pauses"][0]["position"]["value"]) == pytest.approx(2032, abs=10)


def test_a_door_that_stops_short_is_not_closed() -> None:
    """Half a metre short of the taped travel is not closed; without a tape nothing is said."""
    rows = Sensor(rate=20, noise=2, seed=8).look(Course((Leg(254, 22),)))
    tape = {"value": "20", "unit": "ft"}
    assert measure(trace(rows, travel=tape))["closed"] is False
    assert measure(trace(rows))["closed"] is None


def test_a_door_that_stands_closed_before_it_is_opened_again_has_not_stopped() -> None:
    """Closed, pushed open, closed again: one re-closure, one pause, and no stop at the strike."""
    course = Course((Leg(254, 10), Leg(0, 3), Leg(-300, 3), Leg(0, 2), Leg(254, 3 * 300 / 254)))
    rows = Sensor(rate=20, noise=2, seed=1).look(course)
    answer = measure(trace(rows, travel={"value": "2540", "unit": "mm"}))
    assert (answer["stops"], answer["reclosures"], answer["closed"]) == (1, 1, True)


@pytest.mark.parametrize(
    ("rows", "codes"),
    [
        ([[i / 10, 25.4 * i] for i in range(100)], {"begins_moving", "ends_moving"}),
        ([[i / 10, 0.0] for i in range(100)], {"no_closing"}),
        (
            [[i / 10, max(0.0, 2000 - 20.0 * i)] for i in range(130)],
            {"begins_moving", "no_closing"},
        ),
        (
            [[i, min(254.0 * max(0, i - 5), 6096)] for i in range(60)],
            {"few_samples", "closing_untold"},
        ),
    ],
)
def test_what_a_trace_cannot_tell_is_noted(rows: list, codes: set[str]) -> None:
    """A trace cut off while the door moves, one without closing, one with few samples."""
    assert {note["code"] for note in measure(trace(rows))["notes"]} == codes


def test_a_door_that_stops_short_has_no_closing_time() -> None:
    """It came half of 240 in and stood still: its speed is told, a time of closing is not."""
    rows = [[i / 10, min(25.4 * max(0, i - 10), 25.4 * 118)] for i in range(220)]
    answer = measure(trace(rows, travel={"value": "240", "unit": "in"}))
    assert answer["closed"] is False
    assert "closing_time" not in {each["quantity"] for each in answer["readings"]}
    assert [note["code"] for note in answer["notes"]] == ["not_closed"]


def test_a_noisy_trace_promises_no_counts() -> None:
    """Noise above 5 mm is told, and its size."""
    rows = Sensor(rate=20, noise=15, seed=2).look(Course((Leg(400, 12),)))
    answer = measure(trace(rows))
    assert "noisy" in {note["code"] for note in answer["notes"]}
    assert float(answer["noise"]["value"]) == pytest.approx(15, rel=0.25)


def test_a_signal_after_the_door_moved_gives_no_delay() -> None:
    """A start delay cannot be negative; the contradiction is noted."""
    rows = Sensor(rate=20, noise=1, seed=2).look(Course((Leg(254, 8),)))
    answer = measure(trace(rows, signal_at="4"))
    assert "start_delay" not in {r["quantity"] for r in answer["readings"]}
    assert "moved_before_signal" in {note["code"] for note in answer["notes"]}


def test_a_stop_of_about_half_a_second_is_called_doubtful() -> None:
    """Whether it counts or not, the reader is told that the noise leaves it open."""
    course = Course((Leg(254, 8, 0.2), Leg(0, 0.5), Leg(254, 8, 0.2)))
    answer = measure(trace(Sensor(rate=10, noise=4, seed=4).look(course)))
    assert "doubtful_stop" in {note["code"] for note in answer["notes"]}


def test_the_sensors_own_uncertainty_widens_that_of_the_speed() -> None:
    """U of the position sensor, 50 mm in 2 m, is seen in the speed."""
    rows = Sensor(rate=20, noise=0.5, seed=4).look(Course((Leg(254, 8),)))
    plain = value(measure(trace(rows)), "closing_speed")[1]
    wide = value(measure(trace(rows, uncertainty={"value": "5", "unit": "cm"})), "closing_speed")[1]
    assert wide == pytest.approx(254 * 50 / 2032, rel=0.1)
    assert plain < wide / 3


def test_coarse_steps_of_a_display_count_as_noise() -> None:
    """A sensor that shows steps of 25 mm: the speed within its uncertainty, stated or not."""
    rows = Sensor(rate=20, steps=25, seed=1).look(Course((Leg(254, 24),)))
    for more in ({}, {"resolution": {"value": "25", "unit": "mm"}}):
        speed, uncertainty = value(measure(trace(rows, **more)), "closing_speed")
        assert abs(speed - 254) <= uncertainty
        assert uncertainty > 1


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 31), st.randoms(use_true_random=False), st.integers(-10, 2_000_000))
def test_order_and_origin_of_time_do_not_matter(
    number: int, draw: random.Random, origin: int
) -> None:
    """Shuffled samples, and a clock that began elsewhere, give the same counts and speed."""
    course, sensor = built("one_stop", number)
    rows = [[time + origin, position] for time, position in sensor.look(course)]
    draw.shuffle(rows)
    answer, straight = measure(trace(rows)), answered("one_stop", number)
    assert (answer["stops"], answer["reclosures"]) == (straight["stops"], straight["reclosures"])
    speed, uncertainty = value(straight, "closing_speed")
    assert abs(value(answer, "closing_speed")[0] - speed) <= uncertainty


def test_the_longest_trace_is_answered_and_a_longer_one_refused() -> None:
    """200,000 samples are read; one more is an error, not a wait."""
    rows: list[list[float]] = [[i / 5000, min(254.0 * i / 5000, 6096)] for i in range(200_000)]
    assert value(measure(trace(rows)), "closing_speed")[0] == pytest.approx(254, rel=0.001)
    with pytest.raises(InputError, match="at most 200000"):
        measure(trace([*rows, [41, 6096]]))


GOOD = [[i / 10, 25.4 * i] for i in range(50)]


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"samples": []}, "/samples", "not_a_list"),
        ({"samples": None}, "/samples", "required"),
        ({"samples": "0,0"}, "/samples", "not_a_list"),
        ({"samples": [[0, 0]]}, "/samples", "too_few"),
        ({"samples": [[0, 0], [0, 1]]}, "/samples", "too_few"),
        ({"samples": [[0, 0], [1, 1], [2, 2]]}, "/samples", "too_few"),
        ({"samples": [*GOOD, [9]]}, "/samples/50", "not_a_sample"),
        ({"samples": [*GOOD, [9, 1, 1]]}, "/samples/50", "not_a_sample"),
        ({"samples": [*GOOD, 9]}, "/samples/50", "not_a_sample"),
        ({"samples": [*GOOD, [None, 1]]}, "/samples/50/0", "required"),
        ({"samples": [*GOOD, [9, float("nan")]]}, "/samples/50/1", "out_of_range"),
        ({"samples": [*GOOD, [float("inf"), 1]]}, "/samples/50/0", "out_of_range"),
        ({"samples": [*GOOD, [9, "NaN"]]}, "/samples/50/1", "not_a_number"),
        ({"samples": [*GOOD, [9, "1e999"]]}, "/samples/50/1", "out_of_range"),
        ({"samples": [*GOOD, [9, 10**400]]}, "/samples/50/1", "out_of_range"),
        ({"samples": [*GOOD, [9, True]]}, "/samples/50/1", "not_a_number"),
        ({"samples": [*GOOD, [9, "1\x00"]]}, "/samples/50/1", "not_a_number"),
        ({"samples": GOOD[::-1]}, "/samples/1/0", "time_backwards"),
        (
            {"samples": [GOOD[1], GOOD[0], *GOOD[2:]], "ordered": True},
            "/samples/1/0",
            "time_backwards",
        ),
        ({"ordered": "yes"}, "/ordered", "not_a_flag"),
        ({"units": None}, "/units", "required"),
        ({"units": {"t": "s"}}, "/units/position", "unknown_unit"),
        ({"units": {"t": "s", "position": "lbf"}}, "/units/position", "wrong_dimension"),
        ({"units": {"t": "mm", "position": "mm"}}, "/units/t", "wrong_dimension"),
        ({"units": {"t": "s", "position": "mm", "force": "N"}}, "/units/force", "unknown_field"),
        ({"signal_at": "-1"}, "/signal_at", "out_of_range"),
        ({"travel": {"value": "0", "unit": "ft"}}, "/travel/value", "out_of_range"),
        ({"travel": {"value": "20", "unit": "s"}}, "/travel/unit", "wrong_dimension"),
        ({"travel": "20 ft"}, "/travel", "not_an_object"),
        ({"travel": {"value": "20", "unit": "ft", "by": "tape"}}, "/travel/by", "unknown_field"),
        ({"measures": "closing"}, "/measures", "unknown_word"),
        ({"speed": "10"}, "/speed", "unknown_field"),
        ({"a/b": 1}, "/a~1b", "unknown_field"),
    ],
)
def test_a_wrong_trace_is_refused_by_its_place(change: dict, pointer: str, code: str) -> None:
    """Each mistake by its JSON Pointer and code; never a guess, never a traceback."""
    with pytest.raises(InputError) as refused:
        measure({**trace(GOOD), **change})
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]


@pytest.mark.parametrize(
    ("sent", "pointer"),
    [([], ""), ({}, "/kind"), ({"kind": "speed"}, "/kind"), ({"kind": []}, "/kind")],
)
def test_what_is_no_trace_is_refused(sent: object, pointer: str) -> None:
    """A trace is an object with a kind that is known."""
    with pytest.raises(InputError) as refused:
        measure(sent)  # type: ignore[arg-type]
    assert refused.value.problems[0].pointer == pointer


@pytest.mark.parametrize(
    "rows",
    [
        [[i, 1e9 * (i % 2)] for i in range(100)],
        [[i / 10, 25.4 * i if i % 3 else 9e5] for i in range(100)],
        [[i / 20, 12.7 * i if i % 40 < 30 else 5e4] for i in range(400)],
        [[i / 20, 10 * (i % 40 if i % 80 < 40 else 40 - i % 40)] for i in range(20_000)],
    ],
)
def test_a_trace_that_tells_nothing_is_refused(rows: list) -> None:
    """Noise alone, a third of wild samples, a sensor that is stuck a quarter of the time, or a
    door that turns hundreds of times.
    """
    with pytest.raises(InputError) as refused:
        measure(trace(rows))
    assert refused.value.problems[0].pointer == "/samples"


def test_the_mean_while_closing_and_the_speed_over_all() -> None:
    """2,032 mm at 254 mm/s, 4 s of standstill, 2,032 mm more: 254 mm/s while closing, and
    4,064 mm in 20 s over all; which of them leaves the stop out is told.
    """
    course = Course((Leg(254, 8), Leg(0, 4), Leg(254, 8)))
    answer = measure(trace(Sensor(rate=20, noise=1, seed=9).look(course)))
    assert value(answer, "closing_speed")[0] == pytest.approx(254, rel=0.005)
    (overall,) = (d for d in answer["derived"] if d["quantity"] == "closing_speed_overall")
    assert float(overall["value"]) == pytest.approx(4064 / 20, rel=0.005)
    assert overall["unit"] == "mm/s"
    assert "stops_left_out" in {note["code"] for note in answer["notes"]}


def test_without_a_stop_both_speeds_are_one() -> None:
    """Nothing is left out, and nothing is said of it."""
    rows = Sensor(rate=20, noise=1, seed=9).look(Course((Leg(254, 8),)))
    answer = measure(trace(rows, travel={"value": "2032", "unit": "mm"}))
    (overall,) = (d for d in answer["derived"] if d["quantity"] == "closing_speed_overall")
    assert float(overall["value"]) == pytest.approx(value(answer, "closing_speed")[0], rel=0.005)
    assert answer["notes"] == []


@pytest.mark.parametrize(
    ("signal", "width", "seconds"),
    [
        ("0.5", {"value": "36", "unit": "in"}, 1.0 + 914.4 / 200),
        (None, {"value": "36", "unit": "in"}, 914.4 / 200),
        ("0.5", {"value": "1400", "unit": "mm"}, 1.0 + 7 + 2 + 0),
        ("0.5", {"value": "1800", "unit": "mm"}, 1.0 + 7 + 2 + 2),
        ("0.5", {"value": "2300", "unit": "mm"}, None),
    ],
)
@pytest.mark.parametrize("measures", ["travel", "opening"])
def test_the_time_to_the_required_width(
    signal: str | None, width: dict, seconds: float | None, measures: str
) -> None:
    """Opened at 200 mm/s by 1,400 mm, held 2 s, opened by 600 mm more; from the operating device,
    or from the first motion where it is not known. A width on the edge of the stop is met at
    either end of it, and one that is never reached is told.
    """
    course = Course((Leg(-200, 7), Leg(0, 2), Leg(-200, 3)))
    rows = Sensor(rate=20, noise=1, seed=9).look(course)
    if measures == "opening":
        rows = [[time, -position] for time, position in rows]
    more = {"signal_at": signal} if signal else {}
    answer = measure(trace(rows, measures=measures, required_width=width, **more))
    found = [r for r in answer["readings"] if r["quantity"] == "opening_time_to_width"]
    told = "width_not_reached" in {note["code"] for note in answer["notes"]}
    assert told is (seconds is None)
    if seconds is None:
        assert found == []
    elif width["value"] == "1400":
        assert 8.0 - 0.1 <= float(found[0]["value"]) <= seconds + 0.1
    else:
        assert float(found[0]["value"]) == pytest.approx(seconds, abs=0.1)
