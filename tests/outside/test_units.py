"""Unit factors against published definitions and other people's code.

W1, W2, W3: the definitions of inch, foot, pound and standard gravity (1 in = 25.4 mm,
1 lb = 0.45359237 kg, g_n = 9.80665 m/s2) as BIPM and NIST SP 811 state them; W3's printed values
are those of ANSI/BHMA A156.19-1997, clauses 4.5 and 4.6, in excerpts. Factors: the constants of
SciPy (CODATA and NIST) and the registry of Pint.
"""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from scipy import constants

from rules.quantities import UNITS, Quantity, quantity, rounded


def to(value: str, unit: str, other: str) -> Fraction:
    """A value in another unit."""
    return quantity(value, unit).in_unit(UNITS[other])


@pytest.mark.parametrize(
    ("pounds", "newtons"),
    [
        ("5", "22.2411080763"),
        ("15", "66.7233242289"),
        ("30", "133.4466484578"),
        ("50", "222.4110807630"),
        ("250", "1112.0554038151"),
    ],
)
def test_w1_pounds_force(pounds: str, newtons: str) -> None:
    """W1: pounds-force in newtons, to the ten decimals given."""
    assert Decimal(rounded(to(pounds, "lbf", "N"), 10)) == Decimal(newtons)


@pytest.mark.parametrize(("inches", "metres"), [("6", "0.1524"), ("24", "0.6096")])
def test_w2_inches_a_second(inches: str, metres: str) -> None:
    """W2: inches a second in metres a second, exactly."""
    assert to(inches, "in/s", "m/s") == Fraction(metres)


def test_w3_torque_and_energy() -> None:
    """W3: 40 lbf-in prints 4.5 N.m and 1.25 lbf-ft prints 1.69 J: near, never equal."""
    torque, energy = to("40", "lbf*in", "N*m"), to("1.25", "lbf*ft", "J")
    assert rounded(torque, 4) == "4.5194"
    assert rounded(energy, 5) == "1.69477"
    assert rounded(torque, 1) == "4.5"
    assert rounded(energy, 2) == "1.69"
    assert torque != Fraction("4.5")
    assert energy != Fraction("1.69")


def test_exact_pound_force() -> None:
    """1 lbf = 4.4482216152605 N exactly, as the definitions multiply out."""
    assert UNITS["lbf"].factor == Fraction("4.4482216152605")


SCIPY = {
    "lbf": constants.lbf,
    "kgf": constants.kgf,
    "ozf": constants.lbf / 16,
    "in": constants.inch,
    "ft": constants.foot,
    "in/s": constants.inch,
    "ft/s": constants.foot,
    "lb": constants.lb,
    "min": constants.minute,
    "h": constants.hour,
    "lbf*ft": constants.lbf * constants.foot,
    "lbf*in": constants.lbf * constants.inch,
    "mm": constants.milli,
    "cm": constants.centi,
    "mm/s": constants.milli,
    "Ah": constants.hour,
}
PINT = {
    "N": "newton",
    "lbf": "force_pound",
    "kgf": "force_kilogram",
    "ozf": "force_ounce",
    "m/s": "meter/second",
    "mm/s": "millimeter/second",
    "in/s": "inch/second",
    "ft/s": "foot/second",
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "in": "inch",
    "ft": "foot",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "V": "volt",
    "N*m": "newton*meter",
    "lbf*ft": "force_pound*foot",
    "lbf*in": "force_pound*inch",
    "J": "joule",
    "Ah": "ampere*hour",
    "A": "ampere",
    "kg": "kilogram",
    "lb": "pound",
}


@pytest.mark.parametrize("symbol", SCIPY)
def test_factor_is_scipys(symbol: str) -> None:
    """The exact factor is the float that SciPy has, to the last digits a float keeps."""
    assert float(UNITS[symbol].factor) == pytest.approx(SCIPY[symbol], rel=1e-15)


@pytest.mark.parametrize("symbol", PINT)
def test_factor_is_pints(symbol: str) -> None:
    """The exact factor is Pint's, in the same dimension."""
    theirs = pint.UnitRegistry().Quantity(1, PINT[symbol]).to_base_units()
    assert float(UNITS[symbol].factor) == pytest.approx(theirs.magnitude, rel=1e-14)


def test_every_physical_unit_is_checked() -> None:
    """Only counts, ratios and degrees, whose factor is 1 by our own choice, have no second
    opinion.
    """
    assert UNITS.keys() - PINT.keys() == {"deg", "cycles", "people", "1"}


@pytest.mark.parametrize(
    ("published", "printed"),
    [
        ("250 lbf", "1100 N"),
        ("50 lbf", "220 N"),
        ("50 lbf", "222 N"),
        ("15 lbf", "67 N"),
        ("15 lbf", "66 N"),
        ("8.5 lbf", "38 N"),
        ("32 in", "813 mm"),
        ("32 in", "815 mm"),
    ],
)
def test_printed_si_is_not_the_limit(published: str, printed: str) -> None:
    """What publishers print beside a limit is rounded, now up, now down, and differs between
    publishers and even between chapters of one code (conflicts 9 and 12): it never equals the
    published value.
    """
    ours, theirs = (_parse(text) for text in (published, printed))
    assert ours.si != theirs.si
    assert abs(ours.si / theirs.si - 1) < Fraction(2, 100)


def _parse(text: str) -> Quantity:
    value, unit = text.split(" ")
    return quantity(value, unit)
