"""Exact quantities: nothing is compared as a float, nothing odd is read as a number."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.errors import InputError
from rules.measurands import MEASURANDS
from rules.quantities import UNITS, comparable, exact, parse_quantity, quantity, rounded, unit

FINITE = st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9)


@given(FINITE.map(lambda value: round(value, 6)))
def test_decimal_text_is_read_exactly(value: Decimal) -> None:
    """What is written is the value, to the last digit."""
    assert exact(str(value)) == Fraction(value)


@given(FINITE.map(lambda value: round(value, 3)), st.sampled_from(sorted(UNITS)))
def test_there_and_back_is_exact(value: Decimal, symbol: str) -> None:
    """Conversion to any unit of the same dimension and back loses nothing."""
    measure = quantity(str(value), symbol)
    for other in UNITS.values():
        if comparable(measure.unit, other):
            there = measure.in_unit(other)
            assert there * other.factor / measure.unit.factor == measure.value


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("NaN", "not_a_number"),
        ("Infinity", "not_a_number"),
        ("-inf", "not_a_number"),
        ("1e999", "out_of_range"),
        ("1e40", "out_of_range"),
        ("1,5", "not_a_number"),
        ("", "not_a_number"),
        (" 1", "not_a_number"),
        ("1_000", "not_a_number"),
        ("0x10", "not_a_number"),
        ("\u0661", "not_a_number"),
        ("1\x00", "not_a_number"),
        ("9" * 5000, "too_long"),
        pytest.param(10**5000, "too_long", id="5001 digits"),
        (1.5, "not_a_number"),
        (True, "not_a_number"),
        (None, "not_a_number"),
        ([], "not_a_number"),
        (Decimal("NaN"), "not_a_number"),
    ],
)
def test_what_is_no_measurement_is_refused(value: object, code: str) -> None:
    """Anything but a finite decimal of sane length is refused with its place."""
    with pytest.raises(InputError) as refused:
        exact(value, "/readings/0/value")
    (problem,) = refused.value.problems
    assert (problem.pointer, problem.code) == ("/readings/0/value", code)


@pytest.mark.parametrize("symbol", ["lb f", "LBF", "", None, 7, "x" * 500])
def test_unknown_unit_is_refused(symbol: object) -> None:
    """A unit is one of the list, as written there."""
    with pytest.raises(InputError, match="known"):
        unit(symbol)


def test_force_and_length_do_not_compare() -> None:
    """A quantity cannot be expressed in a unit of another dimension."""
    with pytest.raises(ValueError, match="cannot be expressed"):
        parse_quantity("15 lbf").in_unit(UNITS["in"])


def test_torque_and_energy_share_their_unit() -> None:
    """A kinetic energy is published in lbf*ft, and the quantity decides which it is."""
    assert MEASURANDS["kinetic_energy"].takes(UNITS["lbf*ft"])
    assert not MEASURANDS["kinetic_energy"].takes(UNITS["N"])


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (Fraction(1, 3), 6, "0.333333"),
        (Fraction(-1, 3), 2, "-0.33"),
        (Fraction(15), 6, "15"),
        (Fraction(5, 2), 0, "2"),
        (Fraction(1, 10**9), 6, "0"),
        (Fraction(-5, 100), 2, "-0.05"),
    ],
)
def test_rounding_is_for_display(value: Fraction, places: int, text: str) -> None:
    """Half to even, no exponent, no trailing zeros, the sign kept."""
    assert rounded(value, places) == text


def test_names_and_meanings_are_one_list() -> None:
    """Every measured quantity has a name, a dimension that some unit has, and words."""
    dimensions = {entry.dimension for entry in UNITS.values()}
    for name, measurand in MEASURANDS.items():
        assert measurand.name == name
        assert measurand.dimension in dimensions
        assert measurand.meaning
