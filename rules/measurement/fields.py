"""The fields of a trace that are no samples, each checked and refused by its pointer."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fractions import Fraction
from typing import TypeVar

from rules.errors import InputError
from rules.fields import Problems, mapping
from rules.quantities import Dimension, Quantity, Unit, exact, quantity, unit

COMMON = frozenset(("kind", "id"))
_Given = TypeVar("_Given")


class Fields:
    """One trace as sent. Reading a field answers None where it is not given."""

    def __init__(self, trace: Mapping[str, object], known: Collection[str]) -> None:
        """Refuse every field that this kind of trace does not have."""
        problems = Problems()
        self._sent = mapping(trace, COMMON.union(known), "", problems)
        if problems.found:
            raise InputError(problems.found)

    def raw(self, key: str) -> object:
        """The value as sent."""
        return self._sent.get(key)

    def has(self, key: str) -> bool:
        """Whether the field is given."""
        return self._sent.get(key) is not None

    def number(self, key: str, *, above: int | None = None) -> Fraction | None:
        """A number, exactly as written; not negative, or above a bound."""
        if not self.has(key):
            return None
        return in_range(exact(self._sent[key], f"/{key}"), f"/{key}", above)

    def needed_number(self, key: str, *, above: int | None = None) -> Fraction:
        """The same, where it must be given."""
        return needed(self.number(key, above=above), f"/{key}")

    def measure(
        self, key: str, dimension: Dimension, *, above: int | None = None
    ) -> Quantity | None:
        """A value with its unit, of that dimension; not negative, or above a bound."""
        if not self.has(key):
            return None
        return read_measure(self._sent[key], f"/{key}", dimension, above=above)

    def needed_measure(
        self, key: str, dimension: Dimension, *, above: int | None = None
    ) -> Quantity:
        """The same, where it must be given."""
        return needed(self.measure(key, dimension, above=above), f"/{key}")

    def unit(self, key: str, dimension: Dimension) -> Unit:
        """A unit of that dimension."""
        return unit_of(self._sent.get(key), f"/{key}", dimension)

    def word(self, key: str, among: tuple[str, ...]) -> str:
        """One of the words; the first where it is not given."""
        value = self._sent.get(key, among[0])
        if value not in among:
            raise InputError.at(f"/{key}", "unknown_word", f"one of: {', '.join(among)}")
        return str(value)

    def flag(self, key: str) -> bool:
        """True or false; false where it is not given."""
        value = self._sent.get(key, False)
        if not isinstance(value, bool):
            raise InputError.at(f"/{key}", "not_a_flag", "true or false is expected here")
        return value

    def items(self, key: str, most: int) -> list[object]:
        """A list of at least one item and at most that many."""
        value = self._sent.get(key)
        if not isinstance(value, list | tuple) or not value:
            code = "required" if value is None else "not_a_list"
            raise InputError.at(f"/{key}", code, "a list of at least one item is needed here")
        if len(value) > most:
            raise InputError.at(f"/{key}", "too_many", f"at most {most} items are read")
        return list(value)


def needed(value: _Given | None, pointer: str) -> _Given:
    """The value, which must be there."""
    if value is None:
        raise InputError.at(pointer, "required", "this is needed here")
    return value


def in_range(value: Fraction, pointer: str, above: int | None) -> Fraction:
    """The value, refused where it is negative, or not above the bound."""
    if value < 0 or (above is not None and value <= above):
        least = "not negative" if above is None else f"above {above}"
        raise InputError.at(pointer, "out_of_range", f"this is {least}")
    return value


def unit_of(symbol: object, pointer: str, dimension: Dimension) -> Unit:
    """The unit of that symbol, refused where it measures something else."""
    found = unit(symbol, pointer)
    if found.dimension is not dimension:
        raise InputError.at(pointer, "wrong_dimension", f"a unit of {dimension} is needed here")
    return found


def read_measure(
    raw: object, pointer: str, dimension: Dimension, *, above: int | None = None
) -> Quantity:
    """A value with its unit, `{"value": "20", "unit": "ft"}`, of that dimension."""
    if not isinstance(raw, Mapping):
        message = 'a measure is written {"value": …, "unit": …}'
        raise InputError.at(pointer, "not_an_object", message)
    problems = Problems()
    fields = mapping(raw, ("value", "unit"), pointer, problems)
    if problems.found:
        raise InputError(problems.found)
    found = quantity(fields.get("value"), fields.get("unit"), pointer)
    if found.unit.dimension is not dimension:
        message = f"a unit of {dimension} is needed here"
        raise InputError.at(f"{pointer}/unit", "wrong_dimension", message)
    in_range(found.value, f"{pointer}/value", above)
    return found
