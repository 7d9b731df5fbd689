"""Speed from a stopwatch and a tape: exact, with the uncertainty of hand timing."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import measure
from rules.errors import InputError
from rules.quantities import UNITS, quantity

SENT = {
    "kind": "stopwatch",
    "travel": {"value": "10", "unit": "ft"},
    "times": ["5"],
    "unit": "s",
}


def timed(*times: str, travel: str = "10.0", unit: str = "ft", **more: object) -> dict:
    """What the library says of those times in seconds."""
    tape = {"value": travel, "unit": unit}
    return measure({**SENT, "travel": tape, "times": list(times), **more})


def speeds(answer: dict) -> list[dict]:
    """The speed readings, in the order of the times."""
    return [reading for reading in answer["readings"] if reading["quantity"] == "closing_speed"]


def test_every_time_gives_a_speed_and_a_time() -> None:
    """Repeats are numbered, so that the rule of the requirement chooses among them."""
    answer = timed("24.0", "23.8")
    assert [(r["quantity"], r["repeat"], r["value"]) for r in answer["readings"]] == [
        ("closing_speed", 1, "5"),
        ("closing_speed", 2, "5.042016807"),
        ("closing_time", 1, "24"),
        ("closing_time", 2, "23.8"),
    ]


@given(st.integers(1, 10**6), st.integers(1, 10**6), st.sampled_from(["m", "cm", "mm", "in", "ft"]))
def test_the_speed_is_exact_to_the_last_decimal_written(
    length: int, time: int, symbol: str
) -> None:
    """Travel over time as a fraction, within half of the ninth decimal; exact where it ends."""
    travel = Fraction(length, 1000) * UNITS[symbol].factor
    answer = timed(f"{time / 1000:.3f}", travel=f"{length / 1000:.3f}", unit=symbol)
    (found,) = speeds(answer)
    said = quantity(found["value"], found["unit"]).si
    off = abs(said - travel / Fraction(time, 1000)) / UNITS[found["unit"]].factor
    assert off <= Fraction(1, 2 * 10**9)


def test_a_speed_at_a_metric_limit_stays_exactly_there() -> None:
    """300 in in 25.4 s are 300 mm/s to the last digit, though no decimal of in/s says so."""
    (found,) = speeds(timed("25.4", travel="300", unit="in"))
    assert (found["value"], found["unit"]) == ("300", "mm/s")


def test_hand_timing_has_a_fifth_of_a_second_of_uncertainty() -> None:
    """24 ft in 12.0 s: 24 in/s with 0.2 s of 12 s, that is 1.7 %, and a tape of 1 mm."""
    (found,) = speeds(timed("12.0", travel="24"))
    assert (found["value"], found["unit"], found["uncertainty"]) == ("24", "in/s", "0.41")


def test_uncertainties_can_be_stated() -> None:
    """A better watch and a worse tape: 0.02 s of 10 s and 30 mm of 3 m."""
    answer = timed(
        "10",
        travel="3",
        unit="m",
        reaction={"value": "0.02", "unit": "s"},
        tape={"value": "30", "unit": "mm"},
    )
    assert speeds(answer)[0]["uncertainty"] == "0.0031"
    assert answer["derived"][0]["uncertainty"] == "0.030"


def test_an_uncertainty_of_nothing_is_not_stated() -> None:
    """A watch and a tape said to be perfect leave none to write down."""
    perfect = timed("10", reaction={"value": "0", "unit": "s"}, tape={"value": "0", "unit": "m"})
    assert all("uncertainty" not in reading for reading in perfect["readings"])


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"times": []}, "/times", "not_a_list"),
        ({"times": ["0"]}, "/times/0", "out_of_range"),
        ({"times": ["5", "-1"]}, "/times/1", "out_of_range"),
        ({"times": ["5", "NaN"]}, "/times/1", "not_a_number"),
        ({"times": [5.5]}, "/times/0", "not_a_number"),
        ({"times": ["1" * 5000]}, "/times/0", "too_long"),
        ({"times": ["5"] * 101}, "/times", "too_many"),
        ({"unit": "ft"}, "/unit", "wrong_dimension"),
        ({"unit": None}, "/unit", "unknown_unit"),
        ({"travel": None}, "/travel", "required"),
        ({"travel": {"value": "10", "unit": "lbf"}}, "/travel/unit", "wrong_dimension"),
        ({"tape": {"value": "-1", "unit": "mm"}}, "/tape/value", "out_of_range"),
    ],
)
def test_a_wrong_stopwatch_is_refused_by_its_place(change: dict, pointer: str, code: str) -> None:
    """Times and travel above zero, as decimal texts, in units that fit."""
    with pytest.raises(InputError) as refused:
        measure({**SENT, **change})
    assert [(p.pointer, p.code) for p in refused.value.problems] == [(pointer, code)]
