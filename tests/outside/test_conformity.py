"""Conformity under uncertainty against ILAC-G8, JCGM 106 and SciPy's normal distribution.

Bands: ILAC-G8:09/2019, clause 4, read in a stored copy. JCGM 106:2012: the formula of clause 7
and its two printed examples stand from memory, recomputed; the numbers below are therefore a
check of the arithmetic, not of the reading.
"""

from fractions import Fraction
from typing import Any

import pytest
from scipy.stats import norm

from rules.judging import judge
from rules.judging.uncertainty import probability_of_conformity
from tests.rules.hand_made import at_most, found, reading, the_set


def verdict(value: str, uncertainty: str) -> dict[str, Any]:
    """The verdict on a force against 15 lbf."""
    sent = reading("opening_force", value, "lbf", uncertainty=uncertainty)
    (only,) = judge(the_set(at_most("opening_force", "15 lbf")), found(sent))["verdicts"]
    return only


@pytest.mark.parametrize(
    ("value", "word", "band", "probability"),
    [
        ("13.5", "conforms", "clear", "0.99865"),
        ("14.2", "conforms", "conditional", "0.94520"),
        ("15.4", "does_not_conform", "conditional", "0.21186"),
        ("16.2", "does_not_conform", "clear", "0.00820"),
    ],
)
def test_w17_four_statements(value: str, word: str, band: str, probability: str) -> None:
    """W17: with TL = 15 lbf and w = U = 1.0 lbf, pass, conditional pass, conditional fail and
    fail are our two words together.
    """
    answer = verdict(value, "1.0")
    assert (answer["verdict"], answer["band"]) == (word, band)
    assert answer["probability_of_conformity"] == probability


def test_w18_false_accept() -> None:
    """W18: at y = TL - U with k = 2 the probability of false acceptance is 0.02275, under the
    2.5 % that ILAC-G8 speaks of; a U from k = 1.96 would give 0.0250.
    """
    answer = verdict("14", "1")
    assert answer["band"] == "clear"
    assert 1 - Fraction(answer["probability_of_conformity"]) == Fraction("0.02275")
    smaller = Fraction(2) / Fraction("1.96")
    accepted = probability_of_conformity(Fraction(14), None, Fraction(15), smaller)
    assert f"{1 - float(accepted):.4f}" == "0.0250"


@pytest.mark.parametrize(
    ("value", "u", "bounds", "expected", "printed"),
    [
        ("509.7", "8.6", (Fraction(490), None), "0.98901", 0.99),
        ("-5.47", "0.05", (None, Fraction("-5.40")), "0.91924", 0.92),
    ],
)
def test_jcgm_106_examples(
    value: str,
    u: str,
    bounds: tuple[Fraction | None, Fraction | None],
    expected: str,
    printed: float,
) -> None:
    """The guide's own examples, from memory: a rupture strength over a lower limit and a Zener
    voltage under an upper one.
    """
    ours = probability_of_conformity(Fraction(value), *bounds, 2 * Fraction(u))
    assert ours == expected
    assert round(float(ours), 2) == printed


@pytest.mark.parametrize("value", ["3", "5.9", "6", "6.7", "15", "23.9", "24", "25.5", "40"])
@pytest.mark.parametrize("uncertainty", ["0.01", "0.5", "3", "9", "40"])
@pytest.mark.parametrize("bounds", [("6", "24"), (None, "24"), ("6", None)])
def test_probability_is_scipys(
    value: str, uncertainty: str, bounds: tuple[str | None, str | None]
) -> None:
    """One-sided and two-sided probabilities are those of SciPy's normal distribution."""
    low, high = (None if bound is None else Fraction(bound) for bound in bounds)
    ours = probability_of_conformity(Fraction(value), low, high, Fraction(uncertainty))
    truth = norm(float(value), float(uncertainty) / 2)
    below_low = 0.0 if low is None else truth.cdf(float(low))
    below_high = 1.0 if high is None else truth.cdf(float(high))
    assert float(ours) == pytest.approx(below_high - below_low, abs=6e-6)
