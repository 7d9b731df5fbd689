"""Bands, decision rules and the probability of conformity."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.judging import judge
from rules.judging.uncertainty import band, probability_of_conformity
from rules.vocabulary import Band
from tests.rules.hand_made import at_least, at_most, between, found, reading, the_set


@pytest.mark.parametrize(
    ("value", "word", "expected"),
    [
        ("14.5", "conforms", "clear"),
        ("14.500001", "conforms", "conditional"),
        ("15", "conforms", "conditional"),
        ("15.5", "does_not_conform", "conditional"),
        ("15.500001", "does_not_conform", "clear"),
    ],
)
def test_band_ends(value: str, word: str, expected: str) -> None:
    """Clear at exactly U inside the limit, still conditional at exactly U beyond it."""
    sent = reading("opening_force", value, "lbf", uncertainty="0.5")
    (answer,) = judge(the_set(at_most("opening_force", "15 lbf")), found(sent))["verdicts"]
    assert (answer["verdict"], answer["band"]) == (word, expected)


@pytest.mark.parametrize(
    ("rule", "value", "summary"),
    [
        ("simple", "14.8", "conforms"),
        ("guarded", "14.8", "inconclusive"),
        ("guarded", "14.0", "conforms"),
        ("simple", "15.2", "does_not_conform"),
        ("guarded", "15.2", "does_not_conform"),
    ],
)
def test_decision_rules(rule: str, value: str, summary: str) -> None:
    """Under `guarded` a conditional result makes a conforming summary inconclusive; the verdict
    keeps its side, and no conditional failure is turned into a lesser one.
    """
    sent = reading("opening_force", value, "lbf", uncertainty="0.5")
    held = the_set(at_most("opening_force", "15 lbf"))
    answer = judge(held, found(sent, decision_rule=rule))
    assert answer["summary"]["verdict"] == summary
    assert answer["decision_rule"] == rule
    side = "conforms" if value < "15" else "does_not_conform"
    assert answer["verdicts"][0]["verdict"] == side


def test_kgf_gauge_near_thirty_pounds() -> None:
    """13.6 kgf with U = 0.2 kgf is 29.98 lbf: inside 30 lbf, within its uncertainty of it."""
    sent = reading("set_in_motion_force", "13.6", "kgf", uncertainty="0.2")
    (answer,) = judge(the_set(at_most("set_in_motion_force", "30 lbf")), found(sent))["verdicts"]
    assert (answer["verdict"], answer["band"]) == ("conforms", "conditional")
    assert answer["margin"] == {"value": "0.017132", "unit": "lbf"}


def test_uncertainty_of_the_instrument_counts() -> None:
    """The instrument's own U serves where the reading states none; the reading's goes first."""
    held = the_set(at_most("opening_force", "15 lbf"))
    gauge = {"uncertainty": {"value": "2", "unit": "N"}}
    of_gauge = reading("opening_force", "14.8", "lbf", instrument=gauge)
    assert judge(held, found(of_gauge))["verdicts"][0]["band"] == "conditional"
    stated = {**of_gauge, "uncertainty": "0.1"}
    assert judge(held, found(stated))["verdicts"][0]["band"] == "clear"


def test_any_conditional_repeat_shows() -> None:
    """A conditional repeat that does not govern is not hidden by the one that does."""
    held = the_set(at_most("opening_force", "15 lbf"))
    governing = reading("opening_force", "14.5", "lbf", uncertainty="0.1")
    other = reading("opening_force", "14", "lbf", uncertainty="2")
    (answer,) = judge(held, found(governing, other))["verdicts"]
    assert (answer["reading"]["index"], answer["band"]) == (0, "conditional")
    unknown = reading("opening_force", "14.5", "lbf")
    (answer,) = judge(held, found(unknown, other))["verdicts"]
    assert (answer["band"], answer["probability_of_conformity"]) == ("conditional", None)


def test_two_sided_probability() -> None:
    """Between two limits both tails count: at the middle of 2 u each way 95.45 %."""
    assert (
        probability_of_conformity(Fraction(5), Fraction(3), Fraction(7), Fraction(2)) == "0.95450"
    )


def test_without_uncertainty_the_probability_is_certain() -> None:
    """U = 0 leaves only the side of the limit."""
    limits = (None, Fraction(15))
    assert probability_of_conformity(Fraction(15), *limits, Fraction(0)) == "1.00000"
    assert probability_of_conformity(Fraction(16), *limits, Fraction(0)) == "0.00000"
    above = (Fraction(6), None)
    assert probability_of_conformity(Fraction(6), *above, Fraction(0)) == "1.00000"
    assert probability_of_conformity(Fraction(5), *above, Fraction(0)) == "0.00000"
    assert band(Fraction(0), Fraction(0)) is Band.CLEAR


@given(value=st.integers(0, 400), tenths=st.integers(1, 100), low=st.booleans())
def test_probability_agrees_with_the_side(value: int, tenths: int, *, low: bool) -> None:
    """At a one-sided limit the probability is a half; inside it is more, outside less."""
    spec = at_least("opening_force", "20 lbf") if low else at_most("opening_force", "20 lbf")
    uncertainty = f"{tenths / 10}"
    sent = reading("opening_force", f"{value / 10}", "lbf", uncertainty=uncertainty)
    (answer,) = judge(the_set(spec), found(sent))["verdicts"]
    probability = float(answer["probability_of_conformity"])
    assert (probability >= 0.5) == (answer["verdict"] == "conforms")


@given(value=st.integers(0, 300), tenths=st.integers(1, 400))
def test_clear_means_what_it_says(value: int, tenths: int) -> None:
    """A clear conformity between two limits leaves at most 5 % in the tails together, and a clear
    failure at most 2.5 % inside.
    """
    spec = between("closing_speed", "6 in/s", "24 in/s")
    sent = reading("closing_speed", f"{value / 10}", "in/s", uncertainty=f"{tenths / 10}")
    (answer,) = judge(the_set(spec), found(sent))["verdicts"]
    probability = float(answer["probability_of_conformity"])
    if answer["band"] == "clear":
        conforms = answer["verdict"] == "conforms"
        assert probability >= 0.95 if conforms else probability <= 0.025
