"""A number against a published limit."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.judging import judge
from rules.model import LimitSpec
from rules.quantities import UNITS, Dimension, parse_quantity
from rules.vocabulary import Governs
from tests.rules.hand_made import (
    at_least,
    at_most,
    between,
    found,
    per_door,
    reading,
    repeated,
    resolved,
    the_set,
)

FORCES = sorted(symbol for symbol, unit in UNITS.items() if unit.dimension is Dimension.FORCE)


def verdict(spec: LimitSpec, *readings: dict[str, Any], **more: Any) -> dict[str, Any]:
    """The one verdict on these readings."""
    (only,) = judge(the_set(spec), found(*readings, **more))["verdicts"]
    return only


@pytest.mark.parametrize(
    ("value", "unit", "word", "margin"),
    [
        ("15", "lbf", "conforms", "0"),
        ("15.0", "lbf", "conforms", "0"),
        ("15.000000000000000000000001", "lbf", "does_not_conform", "-0.000000000000000000000001"),
        ("66.7233242289075", "N", "conforms", "0"),
        ("66.9", "N", "does_not_conform", "-0.039718"),
        ("6.8", "kgf", "conforms", "0.008566"),
        ("240", "ozf", "conforms", "0"),
        ("0", "lbf", "conforms", "15"),
    ],
)
def test_at_most(value: str, unit: str, word: str, margin: str) -> None:
    """15 lbf decides in lbf whatever the gauge shows, the limit itself is inside, and the margin
    is the exact distance, never rounded to nought.
    """
    answer = verdict(at_most("opening_force", "15 lbf"), reading("opening_force", value, unit))
    assert answer["verdict"] == word
    assert answer["margin"] == {"value": margin, "unit": "lbf"}


def test_printed_si_never_decides() -> None:
    """66.9 N is under the printed 67 N and over the published 15 lbf: it does not conform."""
    spec = at_most("opening_force", "15 lbf", printed_si="67 N")
    assert verdict(spec, reading("opening_force", "66.9", "N"))["verdict"] == "does_not_conform"


@pytest.mark.parametrize(
    ("value", "word", "margin"),
    [("32", "conforms", "0"), ("31.999", "does_not_conform", "-0.001"), ("40", "conforms", "8")],
)
def test_at_least(value: str, word: str, margin: str) -> None:
    """A limit from below is inclusive too."""
    answer = verdict(at_least("clear_width", "32 in"), reading("clear_width", value, "in"))
    assert (answer["verdict"], answer["margin"]["value"]) == (word, margin)


@pytest.mark.parametrize(
    ("value", "word", "margin"),
    [
        ("6", "conforms", "0"),
        ("24", "conforms", "0"),
        ("10", "conforms", "4"),
        ("20", "conforms", "4"),
        ("5.9", "does_not_conform", "-0.1"),
        ("24.5", "does_not_conform", "-0.5"),
    ],
)
def test_between(value: str, word: str, margin: str) -> None:
    """Both ends are inside; the margin is that to the nearer one."""
    spec = between("closing_speed", "6 in/s", "24 in/s")
    answer = verdict(spec, reading("closing_speed", value, "in/s"))
    assert (answer["verdict"], answer["margin"]["value"]) == (word, margin)


def test_bounds_in_two_units() -> None:
    """A range published in two units is decided in the first of them."""
    spec = between("closing_speed", "6 in/s", "2 ft/s")
    answer = verdict(spec, reading("closing_speed", "24", "in/s"))
    assert answer["limit"]["high"] == "24"
    assert answer["margin"] == {"value": "0", "unit": "in/s"}


@given(
    limit=st.integers(1, 10**6),
    value=st.integers(0, 10**6),
    places=st.integers(0, 6),
    ours=st.sampled_from(FORCES),
    theirs=st.sampled_from(FORCES),
)
def test_any_force_in_any_unit(limit: int, value: int, places: int, ours: str, theirs: str) -> None:
    """The verdict is that of exact rational arithmetic in SI, whatever the two units."""
    spec, text = at_most("opening_force", f"{limit} {theirs}"), f"{value}e-{places}"
    answer = verdict(spec, reading("opening_force", text, ours))
    inside = Fraction(value, 10**places) * UNITS[ours].factor <= limit * UNITS[theirs].factor
    assert answer["verdict"] == ("conforms" if inside else "does_not_conform")


def test_numbers_are_echoed_as_sent() -> None:
    """The reading stands in the answer as it was written, with its place, without its history."""
    sent = reading("opening_force", "14.50", "lbf", repeat=1, history=["14"])
    answer = verdict(at_most("opening_force", "15 lbf"), sent)
    expected = {"quantity": "opening_force", "value": "14.50", "unit": "lbf", "repeat": 1}
    assert answer["reading"] == {"index": 0, **expected}


def test_worst_repeat_governs() -> None:
    """Of three pulls the one nearest to the limit governs, and all are kept."""
    spec = repeated(at_most("set_in_motion_force", "30 lbf"), 3, Governs.EACH)
    pulls = [reading("set_in_motion_force", v, "lbf") for v in ("22", "28", "25")]
    answer = verdict(spec, *pulls)
    assert answer["reading"]["index"] == 1
    assert answer["margin"]["value"] == "2"
    assert [r["margin"]["value"] for r in answer["readings"]] == ["8", "2", "5"]
    assert answer["notes"] == []


def test_one_repeat_beyond_the_limit_fails() -> None:
    """A mean inside the limit does not save a pull outside it where each one must conform."""
    spec = repeated(at_most("set_in_motion_force", "30 lbf"), 2, Governs.EACH)
    pulls = [reading("set_in_motion_force", v, "lbf") for v in ("10", "31")]
    assert verdict(spec, *pulls)["verdict"] == "does_not_conform"


@pytest.mark.parametrize(("governs", "value"), [(Governs.MEAN, "25"), (Governs.MEDIAN, "24")])
def test_mean_and_median_govern_where_published(governs: Governs, value: str) -> None:
    """Where the publication says so the mean or the median decides; it names its readings."""
    spec = repeated(at_most("set_in_motion_force", "30 lbf"), 3, governs)
    pulls = [reading("set_in_motion_force", v, "lbf", uncertainty="1") for v in ("20", "24", "31")]
    answer = verdict(spec, *pulls)
    assert answer["verdict"] == "conforms"
    assert answer["reading"] == {
        "index": None,
        "governs": governs.value,
        "of": [0, 1, 2],
        "value": value,
        "unit": "lbf",
    }
    assert answer["band"] == "clear"


def test_mean_without_all_uncertainties_has_none() -> None:
    """A mean of which one reading's uncertainty is unknown has no band and no probability."""
    spec = repeated(at_most("set_in_motion_force", "30 lbf"), 2, Governs.MEAN)
    known = reading("set_in_motion_force", "20", "lbf", uncertainty="1")
    answer = verdict(spec, known, reading("set_in_motion_force", "20", "lbf"))
    assert (answer["band"], answer["probability_of_conformity"]) == (None, None)


def test_fewer_repeats_are_noted() -> None:
    """One pull of three is judged, and said to be one of three."""
    spec = repeated(at_most("set_in_motion_force", "30 lbf"), 3, Governs.EACH)
    answer = verdict(spec, reading("set_in_motion_force", "22", "lbf"))
    assert answer["verdict"] == "conforms"
    assert [note["code"] for note in answer["notes"]] == ["fewer_repeats"]


def test_two_publishers_on_one_quantity() -> None:
    """Both requirements get their verdict; the summary names the stricter and takes the worst."""
    held = the_set(
        resolved(at_most("opening_force", "15 lbf"), "strict"),
        resolved(at_most("opening_force", "50 lbf"), "lenient"),
    )
    answer = judge(held, found(reading("opening_force", "20", "lbf")))
    words = {v["requirement"]: v["verdict"] for v in answer["verdicts"]}
    assert words == {"invented/lenient": "conforms", "invented/strict": "does_not_conform"}
    summary = answer["summary"]
    assert summary["verdict"] == "does_not_conform"
    expected = [{"quantity": "opening_force", "requirement": "invented/strict"}]
    assert summary["governing"] == expected


def test_number_supplied_per_door_is_missing() -> None:
    """Without listed instructions a measured value cannot be judged, and is not a failure."""
    answer = verdict(per_door("pause_time"), reading("pause_time", "3", "s"))
    assert (answer["verdict"], answer["reason"]) == ("inconclusive", "no_instructions")


def test_inspectors_failure_stands_without_a_number() -> None:
    """What the inspector found wanting fails, number on file or not."""
    stated = {"quantity": "pause_time", "result": "does_not_conform", "reason": "never resumes"}
    answer = verdict(per_door("pause_time"), stated)
    assert answer["verdict"] == "does_not_conform"
    assert "never resumes" in answer["message"]


@pytest.mark.parametrize("word", ["not_tested", "not_applicable"])
def test_a_number_not_on_file_is_said_to_be_missing_whatever_is_stated(word: str) -> None:
    """Nobody can be asked to test it: what is missing is the number, not the test."""
    stated = {"quantity": "pause_time", "result": word, "reason": "no gauge for it"}
    answer = verdict(per_door("pause_time"), stated)
    assert (answer["verdict"], answer["reason"]) == ("inconclusive", "no_instructions")


@pytest.mark.parametrize("word", ["not_tested", "not_applicable"])
def test_inspector_may_leave_a_limit_unmeasured(word: str) -> None:
    """In place of a value the inspector may say why there is none."""
    stated = {"quantity": "opening_force", "result": word, "reason": "no gauge for it"}
    answer = verdict(at_most("opening_force", "15 lbf"), stated)
    assert (answer["verdict"], answer["reason"]) == (word, "stated")
    assert "no gauge for it" in answer["message"]


EXPIRED = {"calibration_due_on": "2026-02-28"}
GOOD = {"calibration_due_on": "2026-03-01", "resolution": "0.1"}
COARSE = {"resolution": "2"}


@pytest.mark.parametrize(
    ("value", "instrument", "word", "reason"),
    [
        ("14", GOOD, "conforms", None),
        ("14", EXPIRED, "inconclusive", "calibration_expired"),
        ("14", COARSE, "inconclusive", "instrument_too_coarse"),
        ("14", {**EXPIRED, **COARSE}, "inconclusive", "calibration_expired"),
        ("16", GOOD, "does_not_conform", None),
        ("16", EXPIRED, "does_not_conform", None),
        ("16", COARSE, "does_not_conform", None),
    ],
)
def test_instrument(value: str, instrument: dict[str, str], word: str, reason: str | None) -> None:
    """A flaw of the instrument takes back a "conforms", never makes or unmakes a failure; the
    calibration is still good on the day it falls due.
    """
    sent = reading("opening_force", value, "lbf", instrument=instrument)
    answer = verdict(at_most("opening_force", "15 lbf"), sent)
    assert (answer["verdict"], answer["reason"]) == (word, reason)
    assert bool(answer["notes"]) == (instrument is not GOOD)


def test_resolution_of_exactly_a_tenth_is_fine() -> None:
    """The rule of ten: ten steps over the distance from zero, or over the width, are enough."""
    spec = between("closing_speed", "6 in/s", "24 in/s")
    for resolution, word in (("1.8", "conforms"), ("1.9", "inconclusive")):
        sent = reading("closing_speed", "10", "in/s", instrument={"resolution": resolution})
        assert verdict(spec, sent)["verdict"] == word


def test_any_flawed_repeat_takes_the_conformity_back() -> None:
    """Where each repeat must conform, each instrument must carry it."""
    good = reading("opening_force", "14", "lbf", instrument=GOOD)
    flawed = reading("opening_force", "3", "lbf", instrument=EXPIRED)
    assert verdict(at_most("opening_force", "15 lbf"), good, flawed)["verdict"] == "inconclusive"


@pytest.mark.parametrize(
    ("value", "unit", "doubted"),
    [
        ("4.99", "lbf", True),  # 11 / 4.99 = 2.204
        ("48.95", "lbf", True),  # 4.45 times
        ("107.91", "lbf", True),  # 9.81 times
        ("2.4719", "lbf", True),
        ("1.1213", "lbf", True),
        ("25.41", "lbf", True),  # 2.31 = 2.20 + 5 %, the end is inside
        ("25.42", "lbf", False),
        ("5.25", "lbf", True),  # 1.05 / 2.20, the other end
        ("5.26", "lbf", False),
        ("22", "lbf", False),
        ("11", "lbf", False),
        ("48.93", "N", False),  # the same force as 11 lbf, in another unit
        ("0", "lbf", False),
    ],
)
def test_plausibility(value: str, unit: str, *, doubted: bool) -> None:
    """A reading that looks like a mixed-up unit against this door's median is marked, never
    converted, and its verdict stands.
    """
    past = [{"value": value, "unit": "lbf"} for value in ("10", "12", "11")]
    sent = reading("opening_force", value, unit, history=past)
    answer = verdict(at_most("opening_force", "30 lbf"), sent)
    plain = verdict(at_most("opening_force", "30 lbf"), reading("opening_force", value, unit))
    assert (answer["verdict"], answer["margin"]) == (plain["verdict"], plain["margin"])
    assert [note["code"] for note in answer["notes"]] == ["unit_to_be_confirmed"] * doubted


def test_history_in_the_unit_of_the_reading() -> None:
    """Past values without a unit are in the unit of the reading; a median of 0 says nothing."""
    spec = at_most("opening_force", "30 lbf")
    marked = verdict(spec, reading("opening_force", "22", "lbf", history=["10", "10.1"]))
    assert [note["code"] for note in marked["notes"]] == ["unit_to_be_confirmed"]
    gaps = verdict(spec, reading("opening_force", "22", "lbf", history=[None, "10", None]))
    assert [note["code"] for note in gaps["notes"]] == ["unit_to_be_confirmed"]
    silent = verdict(spec, reading("opening_force", "22", "lbf", history=["0", "0"]))
    assert silent["notes"] == []


PRINTED = at_most("opening_force", "15 lbf", printed_si="67 N")
WIDTH = at_least("clear_width", "32 in", printed_si="815 mm")
UNREADABLE = at_most("latch_release_torque", "28 lbf*in", printed_si="315 N-cm")
SPEED = between("closing_speed", "6 in/s", "24 in/s", printed_si="152 to 610 mm/s")


@pytest.mark.parametrize(
    ("spec", "sent", "word", "code"),
    [
        (PRINTED, ("66.9", "N"), "does_not_conform", "inside_printed_si_only"),
        (PRINTED, ("67", "N"), "does_not_conform", "inside_printed_si_only"),
        (PRINTED, ("67.1", "N"), "does_not_conform", None),
        (PRINTED, ("66.7", "N"), "conforms", None),
        (PRINTED, ("15.01", "lbf"), "does_not_conform", None),
        (SPEED, ("610", "mm/s"), "does_not_conform", "inside_printed_si_only"),
        (SPEED, ("152", "mm/s"), "does_not_conform", "inside_printed_si_only"),
        (SPEED, ("609.6", "mm/s"), "conforms", None),
        (SPEED, ("611", "mm/s"), "does_not_conform", None),
        (WIDTH, ("813", "mm"), "conforms", "outside_printed_si_only"),
        (WIDTH, ("812.8", "mm"), "conforms", "outside_printed_si_only"),
        (WIDTH, ("815", "mm"), "conforms", None),
        (WIDTH, ("812.7", "mm"), "does_not_conform", None),
        (WIDTH, ("32", "in"), "conforms", None),
        (UNREADABLE, ("3.16", "N*m"), "conforms", None),
    ],
)
def test_between_the_published_and_the_printed_value_the_reader_is_told(
    spec: LimitSpec, sent: tuple[str, str], word: str, code: str | None
) -> None:
    """The published unit decides; where the SI value printed beside it would say otherwise of a
    reading taken in another unit, a note says so, either way round.
    """
    (verdict,) = judge(the_set(spec), found(reading(spec.quantity, *sent)))["verdicts"]
    assert verdict["verdict"] == word
    assert [note["code"] for note in verdict["notes"]] == ([code] if code else [])
    if code:
        (note,) = verdict["notes"]
        assert spec.printed_si in note["message"]
        assert " ".join(sent) in note["message"]


def test_a_mean_in_another_unit_is_told_as_well() -> None:
    """Three readings in newtons whose mean lies between 15 lbf and the printed 67 N."""
    spec = LimitSpec(
        *("opening_force", PRINTED.comparator, None, PRINTED.high),
        printed_si="67 N",
        repeats=2,
        governs=Governs.MEAN,
    )
    sent = [reading("opening_force", newtons, "N") for newtons in ("66.8", "67.0")]
    (verdict,) = judge(the_set(spec), found(*sent))["verdicts"]
    assert [note["code"] for note in verdict["notes"]] == ["inside_printed_si_only"]


def test_the_limit_stands_in_the_verdict_as_published() -> None:
    """Where and how it is measured, under which load, what is printed beside it; null where the
    publication says nothing.
    """
    spec = at_most(
        "opening_force",
        "15 lbf",
        printed_si="67 N",
        measurement_point="latch stile",
        method="pull",
        test_load=parse_quantity("250 lbf"),
        nominal=parse_quantity("4 lbf"),
    )
    said = verdict(spec, reading("opening_force", "14", "lbf"))["limit"]
    assert said == {
        "comparator": "at_most",
        "low": None,
        "high": "15",
        "unit": "lbf",
        "nominal": "4 lbf",
        "printed_si": "67 N",
        "measurement_point": "latch stile",
        "method": "pull",
        "test_load": "250 lbf",
        "repeats": 1,
        "governs": "each",
        "worked_out": None,
    }
    bare = verdict(at_least("clear_width", "32 in"), reading("clear_width", "33", "in"))["limit"]
    empty = ("high", "nominal", "printed_si", "measurement_point", "method", "test_load")
    assert [bare[key] for key in empty] == [None] * 6
    assert bare["low"] == "32"
