"""Exact quantities: a decimal text and a unit, compared as rational numbers.

Factors: 1 in = 25.4 mm and 1 ft = 0.3048 m by definition; 1 lb = 0.45359237 kg and
g_n = 9.80665 m/s2 by definition, so 1 lbf = 4.4482216152605 N exactly.
No float takes part in a comparison.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from rules.errors import InputError

MAX_DIGITS = 30  # more than any gauge shows; keeps a hostile number from costing time
_DECIMAL = re.compile(r"-?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_MAX_EXPONENT = 30
_ORDINARY = re.compile(r"\d{1,12}(?:\.\d{1,12})?", re.ASCII)  # nearly every reading, read at once


class Dimension(StrEnum):
    """What a unit measures."""

    FORCE = "force"
    SPEED = "speed"
    LENGTH = "length"
    TIME = "time"
    VOLTAGE = "voltage"
    TORQUE = "torque"
    ENERGY = "energy"
    CHARGE = "charge"
    CURRENT = "current"
    ANGLE = "angle"
    MASS = "mass"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit symbol with its exact factor to the coherent SI unit of its dimension."""

    symbol: str
    dimension: Dimension
    factor: Fraction


_INCH = Fraction(254, 10000)
_FOOT = Fraction(3048, 10000)
_KGF = Fraction(980665, 100000)
_LBF = Fraction(45359237, 100000000) * _KGF


def _table(*rows: tuple[str, Dimension, Fraction | int]) -> dict[str, Unit]:
    return {symbol: Unit(symbol, dimension, Fraction(factor)) for symbol, dimension, factor in rows}


UNITS: dict[str, Unit] = _table(
    ("N", Dimension.FORCE, 1),
    ("lbf", Dimension.FORCE, _LBF),
    ("kgf", Dimension.FORCE, _KGF),
    ("ozf", Dimension.FORCE, _LBF / 16),
    ("m/s", Dimension.SPEED, 1),
    ("mm/s", Dimension.SPEED, Fraction(1, 1000)),
    ("in/s", Dimension.SPEED, _INCH),
    ("ft/s", Dimension.SPEED, _FOOT),
    ("m", Dimension.LENGTH, 1),
    ("cm", Dimension.LENGTH, Fraction(1, 100)),
    ("mm", Dimension.LENGTH, Fraction(1, 1000)),
    ("in", Dimension.LENGTH, _INCH),
    ("ft", Dimension.LENGTH, _FOOT),
    ("s", Dimension.TIME, 1),
    ("min", Dimension.TIME, 60),
    ("h", Dimension.TIME, 3600),
    ("V", Dimension.VOLTAGE, 1),
    ("N*m", Dimension.TORQUE, 1),
    ("lbf*ft", Dimension.TORQUE, _LBF * _FOOT),
    ("lbf*in", Dimension.TORQUE, _LBF * _INCH),
    ("J", Dimension.ENERGY, 1),
    ("Ah", Dimension.CHARGE, 3600),
    ("A", Dimension.CURRENT, 1),
    ("deg", Dimension.ANGLE, 1),
    ("kg", Dimension.MASS, 1),
    ("lb", Dimension.MASS, Fraction(45359237, 100000000)),
    ("cycles", Dimension.COUNT, 1),
    ("people", Dimension.COUNT, 1),
    ("1", Dimension.COUNT, 1),
)
# A kinetic energy is published in lbf*ft as often as a torque is; the quantity decides which.
_SAME_SIZE = {Dimension.TORQUE, Dimension.ENERGY}


def unit(symbol: object, pointer: str = "/unit") -> Unit:
    """The unit of that symbol; refuses a missing or unknown one, naming the place."""
    if not isinstance(symbol, str) or symbol not in UNITS:
        raise InputError.at(pointer, "unknown_unit", f"{_no_unit(symbol)}; known: {_KNOWN_UNITS}")
    return UNITS[symbol]


_KNOWN_UNITS = ", ".join(UNITS)


def _no_unit(symbol: object) -> str:
    if symbol is None or symbol == "":
        return "a unit is needed here"
    if not isinstance(symbol, str):
        return "a unit is a text"
    shown = symbol if len(symbol) <= MAX_DIGITS else f"{symbol[:MAX_DIGITS]}…"
    return f"there is no unit {shown!r}"


def comparable(one: Unit, other: Unit) -> bool:
    """Whether two units measure the same thing."""
    dimensions = {one.dimension, other.dimension}
    return len(dimensions) == 1 or dimensions == _SAME_SIZE


@dataclass(frozen=True, slots=True)
class Quantity:
    """An exact value with its unit and the text it was written as."""

    value: Fraction
    unit: Unit
    text: str

    def in_unit(self, other: Unit) -> Fraction:
        """The exact value in another unit of the same dimension."""
        if not comparable(self.unit, other):
            raise ValueError(f"{self.unit.symbol} cannot be expressed in {other.symbol}")
        return self.value * self.unit.factor / other.factor

    @property
    def si(self) -> Fraction:
        """The exact value in the coherent SI unit."""
        return self.value * self.unit.factor

    def __str__(self) -> str:
        """As written: `15 lbf`."""
        return with_unit(self.text, self.unit)


def with_unit(text: str, unit: Unit) -> str:
    """A number and its unit as people write them; a bare ratio has none."""
    return text if unit.symbol == "1" else f"{text} {unit.symbol}"


def exact(value: object, pointer: str = "/value") -> Fraction:
    """Read a decimal string, an int or a Decimal exactly as written.

    Refuses floats (they no longer are what was written), booleans, NaN, infinities,
    more than MAX_DIGITS digits, and exponents beyond any measurement.
    """
    return _fraction(decimal_text(value, pointer))


def decimal_text(value: object, pointer: str = "/value") -> str:
    """The decimal text of a value, checked; see `exact` for what is refused."""
    if isinstance(value, str) and _ORDINARY.fullmatch(value):
        return value
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise InputError.at(pointer, "not_a_number", "a number is written as a decimal string")
    if isinstance(value, int) and abs(value) >= 10**MAX_DIGITS:
        raise InputError.at(pointer, "too_long", f"at most {MAX_DIGITS} digits are read")
    text = str(value)
    if sum(c.isdigit() for c in text) > MAX_DIGITS:
        raise InputError.at(pointer, "too_long", f"at most {MAX_DIGITS} digits are read")
    if not _DECIMAL.fullmatch(text):
        raise InputError.at(pointer, "not_a_number", "not a finite decimal number")
    if abs(Decimal(text).adjusted()) > _MAX_EXPONENT:
        raise InputError.at(pointer, "out_of_range", "no measurement has that size")
    return text


def _fraction(text: str) -> Fraction:
    """The value of a checked decimal text."""
    whole, point, part = text.partition(".")
    if whole.isdigit() and (part.isdigit() or not point):
        return Fraction(int(whole + part), 10 ** len(part))
    return Fraction(Decimal(text))


def quantity(value: object, symbol: object, pointer: str = "") -> Quantity:
    """A quantity from its value and unit symbol; `pointer` leads to the object holding both."""
    text = decimal_text(value, f"{pointer}/value")
    return Quantity(_fraction(text), unit(symbol, f"{pointer}/unit"), text)


def parse_quantity(text: str, pointer: str = "") -> Quantity:
    """A quantity from one text as the data files write it: `15 lbf`."""
    value, _, symbol = text.partition(" ")
    return Quantity(exact(value, pointer), unit(symbol.strip(), pointer), value)


def rounded(value: Fraction, places: int = 6) -> str:
    """A fraction for display: at most `places` decimals, no exponent, no trailing zeros."""
    return rounded_ratio(*value.as_integer_ratio(), places)


def decimal_of(value: Fraction | int) -> str:
    """The whole of a number that decimals can write: its denominator divides a power of ten."""
    return rounded(Fraction(value), value.denominator.bit_length())


def rounded_ratio(numerator: int, denominator: int, places: int = 6) -> str:
    """As `rounded`, of two whole numbers, the second above nought."""
    scaled, rest = divmod(abs(numerator) * 10**places, denominator)
    if 2 * rest > denominator or (2 * rest == denominator and scaled % 2):  # half to even
        scaled += 1
    sign, digits = "-" if numerator < 0 and scaled else "", str(scaled).rjust(places + 1, "0")
    point = len(digits) - places
    whole, part = digits[:point], digits[point:].rstrip("0")
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"
