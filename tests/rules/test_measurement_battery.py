"""Battery traces with known truth, and the arithmetic of standby batteries."""

from __future__ import annotations

import random

import pytest

from rules import measure
from rules.errors import InputError


def discharged(
    *,
    floats_at: float = 13.8,
    lost: float = 1.0,
    falls: float = 0.1,
    lasts: float = 30.0,
    noise: float = 0.0,
    every: float = 0.05,
    seed: int = 0,
) -> list[list[float]]:
    """Hours and volts: on the charger, then 12.6 V falling evenly, to its end."""
    draw = random.Random(seed)
    rows = []
    for number in range(int(lasts / every)):
        time = number * every
        volts = floats_at if time < lost else 12.6 - falls * (time - lost)
        rows.append([time, volts + draw.gauss(0, noise)])
    return rows


def trace(rows: list, **more: object) -> dict[str, object]:
    """A battery trace in hours and volts."""
    return {"kind": "battery", "units": {"t": "h", "volts": "V"}, "samples": rows, **more}


ELEVEN = {"value": "11", "unit": "V"}


def values(answer: dict) -> dict[str, float]:
    """Readings by their quantity."""
    return {reading["quantity"]: float(reading["value"]) for reading in answer["readings"]}


def codes(answer: dict) -> list[str]:
    """What the trace could not tell."""
    return [note["code"] for note in answer["notes"]]


@pytest.mark.parametrize("seed", range(30))
def test_float_voltage_and_time_to_the_threshold_are_recovered(seed: int) -> None:
    """Float within 10 mV; hours to 11 V within their uncertainty, dips of a motor left alone."""
    draw = random.Random(seed)
    falls, floats_at = draw.uniform(0.07, 0.3), draw.uniform(13.2, 14.2)
    rows = discharged(falls=falls, floats_at=floats_at, noise=0.02, seed=seed)
    for place in draw.sample(range(40, len(rows)), 5):
        rows[place][1] -= 2.5
    meter = {"value": "0.05", "unit": "V"}
    answer = measure(trace(rows, line_lost_at="1", close_threshold=ELEVEN, uncertainty=meter))
    found = values(answer)
    assert found["battery_float_voltage"] == pytest.approx(floats_at, abs=0.01)
    (standby,) = (r for r in answer["readings"] if r["quantity"] == "standby_time")
    assert abs(float(standby["value"]) - 1.6 / falls) <= float(standby["uncertainty"])
    assert standby["unit"] == "h"


def test_moments_that_were_seen_give_their_voltage() -> None:
    """The voltage at the trouble signal and at the closing, and hours until it closed."""
    rows = discharged(falls=0.1, noise=0.0)
    answer = measure(trace(rows, line_lost_at="1", trouble_at="12", closed_at="17"))
    assert values(answer) == {
        "battery_float_voltage": pytest.approx(13.8),
        "battery_low_voltage": pytest.approx(11.5, abs=0.02),
        "battery_close_voltage": pytest.approx(11.0, abs=0.02),
        "standby_time": pytest.approx(16),
    }


def test_a_battery_that_lasts_longer_than_the_trace_gives_no_time() -> None:
    """Not reached is not a reading; how long it lasted at least is said beside."""
    answer = measure(trace(discharged(lasts=10), line_lost_at="1", close_threshold=ELEVEN))
    assert "standby_time" not in values(answer)
    assert codes(answer) == ["threshold_not_reached"]
    assert answer["derived"][0]["quantity"] == "standby_time_at_least"
    assert float(answer["derived"][0]["value"]) == pytest.approx(8.95, abs=0.1)


def test_a_flat_battery_lasts_no_time() -> None:
    """At or below the threshold when the line is lost: zero hours, and a note."""
    rows = [[n / 10, 13.8 if n < 10 else 10.5] for n in range(100)]
    answer = measure(trace(rows, line_lost_at="1", close_threshold=ELEVEN))
    assert values(answer)["standby_time"] == 0
    assert codes(answer) == ["below_from_the_start"]


def test_a_voltage_that_still_drifts_is_no_float_yet() -> None:
    """Half a volt in an hour: a value, with a note."""
    rows = [[n / 60, 13.3 + 0.5 * n / 60] for n in range(60)]
    assert codes(measure(trace(rows))) == ["not_settled"]


def test_without_a_line_loss_the_whole_trace_is_the_float() -> None:
    """One voltmeter on the charger; no uncertainty unless the meter's is given."""
    rows = [[n, 13.79 + 0.01 * (n % 3)] for n in range(30)]
    plain = measure(trace(rows))["readings"]
    assert [(r["quantity"], "uncertainty" in r) for r in plain] == [
        ("battery_float_voltage", False)
    ]
    stated = measure(trace(rows, uncertainty={"value": "0.1", "unit": "V"}))["readings"][0]
    assert float(stated["uncertainty"]) == pytest.approx(0.1, rel=0.1)


def test_a_discharge_without_its_beginning_tells_no_float() -> None:
    """A trace that starts on the battery: hours from its first sample, and no float voltage."""
    rows = [row for row in discharged(falls=0.1) if row[0] >= 1]
    answer = measure(trace(rows, close_threshold=ELEVEN))
    assert set(values(answer)) == {"standby_time"}
    assert values(answer)["standby_time"] == pytest.approx(16, abs=0.1)


def test_a_voltage_that_comes_back_for_a_while_has_not_crossed_for_good() -> None:
    """Two samples above the threshold start the count anew; it then falls from 12.6 V to
    10.95 V within the seventh hour.
    """
    volts = [13.8, 13.8, 12.5, 10.0, 10.0, 10.0, 10.0, 12.6, 12.6, *[10.95] * 10]
    rows = [[float(hour), each] for hour, each in enumerate(volts)]
    answer = measure(trace(rows, line_lost_at="2", close_threshold=ELEVEN))
    assert values(answer)["standby_time"] == pytest.approx(6 + 1.6 / 1.65, abs=1e-4)


@pytest.mark.parametrize(
    ("rows", "more", "pointer", "code"),
    [
        ([[0, -13.8], [1, -13.7]], {}, "/samples/0/1", "negative"),
        ([[0, 13.8], [1, 13.7]], {"closed_at": "2"}, "/closed_at", "out_of_range"),
        ([[0, 13.8], [1, 13.7]], {"line_lost_at": "x"}, "/line_lost_at", "not_a_number"),
        (
            [[0, 13.8], [1, 13.7]],
            {"close_threshold": {"value": "11", "unit": "A"}},
            "/close_threshold/unit",
            "wrong_dimension",
        ),
    ],
)
def test_a_wrong_battery_trace_is_refused_by_its_place(
    rows: list, more: dict, pointer: str, code: str
) -> None:
    """Leads reversed, moments outside the trace, wrong units."""
    with pytest.raises(InputError) as refused:
        measure(trace(rows, **more))
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]


def amperes(value: str) -> dict[str, str]:
    """A current."""
    return {"value": value, "unit": "A"}


def hours(value: str) -> dict[str, str]:
    """A duration."""
    return {"value": value, "unit": "h"}


def test_a_capacity_equal_to_the_need_suffices() -> None:
    """Exact arithmetic: 2 A for 20 minutes and a third more are 8/9 Ah, and 8/9 Ah suffice."""
    sent = {
        "kind": "standby",
        "loads": [{"current": amperes("2"), "duration": {"value": "20", "unit": "min"}}],
        "factors": ["1.5"],
        "capacity": {"value": "1", "unit": "Ah"},
    }
    answer = measure(sent)
    assert (answer["required_capacity"]["value"], answer["sufficient"]) == ("1", True)
    assert answer["load"]["value"] == "0.666666667"


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"loads": []}, "/loads", "not_a_list"),
        ({"loads": [7]}, "/loads/0", "not_an_object"),
        ({"loads": [{"current": amperes("1")}]}, "/loads/0/duration", "not_an_object"),
        (
            {"loads": [{"current": hours("1"), "duration": hours("1")}]},
            "/loads/0/current/unit",
            "wrong_dimension",
        ),
        (
            {"loads": [{"current": amperes("-1"), "duration": hours("1")}]},
            "/loads/0/current/value",
            "out_of_range",
        ),
        ({"factors": ["0"]}, "/factors/0", "out_of_range"),
        ({"loads": None}, "/loads", "required"),
        ({"current": amperes("1")}, "/capacity", "required"),
    ],
)
def test_wrong_battery_arithmetic_is_refused_by_its_place(
    change: dict, pointer: str, code: str
) -> None:
    """Every load, factor and battery datum by its pointer."""
    sent = {
        "kind": "standby",
        "loads": [{"current": amperes("1"), "duration": hours("1")}],
        **change,
    }
    with pytest.raises(InputError) as refused:
        measure(sent)
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]


@pytest.mark.parametrize("exponent", ["0.9", "2.1"])
def test_an_exponent_outside_peukerts_range_is_refused(exponent: str) -> None:
    """From 1 to 2; and a current that any battery would carry for ever is refused too."""
    battery = {
        "kind": "standby",
        "capacity": {"value": "100", "unit": "Ah"},
        "rated_over": hours("20"),
        "current": amperes("10"),
    }
    with pytest.raises(InputError, match="exponent"):
        measure({**battery, "exponent": exponent})
    with pytest.raises(InputError, match="so long"):
        measure({**battery, "current": amperes("1e-20"), "exponent": "1.2"})


METER = {"value": "0.05", "unit": "V"}


def standby(rows: list, **more: object) -> tuple[float, float]:
    """Hours to 11 V and their uncertainty."""
    answer = measure(trace(rows, close_threshold=ELEVEN, uncertainty=METER, **more))
    (found,) = (r for r in answer["readings"] if r["quantity"] == "standby_time")
    return float(found["value"]), float(found["uncertainty"])


@pytest.mark.parametrize(
    ("rows", "truth"),
    [
        ([[n / 10, 12.5 if n < 200 else 2.0] for n in range(220)], 19.95),
        ([[n, max(11.0, 13 - 0.1 * n)] for n in range(40)], 20),
        (
            [
                *([n / 10, 12.5 - n / 200] for n in range(100)),
                *([40 + n / 10, 10.4 - n / 200] for n in range(50)),
            ],
            24.95,
        ),
    ],
)
def test_a_discharge_that_bends_or_breaks_off_keeps_its_time(rows: list, truth: float) -> None:
    """A cell that fails at once, a voltage that comes to rest on the threshold, thirty hours
    without a sample: the moment within its uncertainty, which is as wide as the gap.
    """
    hours_found, uncertainty = standby(rows)
    assert abs(hours_found - truth) <= uncertainty


def test_one_low_sample_at_the_end_is_not_yet_a_crossing() -> None:
    """It may be the dip of a motor: how long it lasted at least ends before it, and it is noted."""
    answer = measure(trace([[0, 13.8], [1, 12.0], [2, 10.0]], close_threshold=ELEVEN))
    assert (answer["readings"], codes(answer)) == ([], ["below_only_at_the_end"])
    assert float(answer["derived"][0]["value"]) == 1


def test_a_door_that_closed_before_the_line_was_lost_is_refused() -> None:
    """No standby time is negative."""
    rows = [[n, 13.8] for n in range(10)]
    with pytest.raises(InputError) as refused:
        measure(trace(rows, line_lost_at="5", closed_at="3"))
    assert [(p.pointer, p.code) for p in refused.value.problems] == [("/closed_at", "out_of_range")]


def test_a_rising_voltage_reaches_no_threshold() -> None:
    """A battery on the charger: nothing crossed, and how long it lasted at least."""
    answer = measure(trace([[n, 11.5 + 0.1 * n] for n in range(20)], close_threshold=ELEVEN))
    assert (answer["readings"], codes(answer)) == ([], ["threshold_not_reached"])
