"""What stands in the cells of a table: each column read by what it is, nothing guessed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from doors.names import fault_in_name, fault_in_prose, normal
from rules.errors import InputError
from rules.facts import Fact, FactKind, read_fact
from rules.quantities import parse_quantity

_WRONG = {
    "control_character": "Control characters cannot stand here.",
    "direction_control": "Characters that change the direction of writing cannot stand here.",
    "invisible_character": "Characters that cannot be seen cannot stand here.",
    "outer_space": "No space may stand at either end.",
}
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}
_WHOLE = re.compile(r"0|[1-9][0-9]{0,8}", re.ASCII)
_PARTS = re.compile(r"([0-9]{1,4})[./-]([0-9]{1,2})[./-]([0-9]{1,4})", re.ASCII)
DATE_ORDERS = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}
_YEARS = range(1800, 2201)


class CellError(ValueError):
    """What is wrong with one cell, as a code and a sentence."""

    def __init__(self, code: str, detail: str) -> None:
        """Keep both."""
        self.code, self.detail = code, detail
        super().__init__(detail)


@dataclass(frozen=True, slots=True)
class Reading:
    """How the cells of this table are to be read; `date_order` is one of DATE_ORDERS or None."""

    date_order: str | None = None


Read = Callable[[str, Reading], Any]


@dataclass(frozen=True, slots=True)
class Column:
    """A field of ours that a table may give: how it is read, what it is, and an example."""

    name: str
    read: Read
    sense: str
    example: str = ""
    required: bool = False


def line(longest: int) -> Read:
    """A reader of one line of text."""
    return _text(longest, fault_in_name)


def prose(longest: int) -> Read:
    """A reader of free text."""
    return _text(longest, fault_in_prose)


def _text(longest: int, fault_in: Callable[[str], str | None]) -> Read:
    def read(cell: str, _: Reading) -> str:
        text = normal(cell)
        if len(text) > longest:
            raise CellError("too_long", f"At most {longest} characters.")
        if code := fault_in(text):
            raise CellError(code, _WRONG[code])
        return text

    return read


def word(*among: str) -> Read:
    """A reader of one of several words, exactly as they are; a look-alike is not guessed."""

    def read(cell: str, _: Reading) -> str:
        if cell not in among:
            raise CellError("unknown_value", f"{cell[:60]!r} is none of {', '.join(among)}.")
        return cell

    return read


def flag(cell: str, _: Reading) -> bool:
    """Read true, yes, false or no."""
    found = _FLAGS.get(cell.lower())
    if found is None:
        raise CellError("not_a_flag", "true, yes, false or no.")
    return found


def whole(lowest: int, highest: int) -> Read:
    """A reader of a whole number."""

    def read(cell: str, _: Reading) -> int:
        if not _WHOLE.fullmatch(cell) or not lowest <= int(cell) <= highest:
            raise CellError("not_whole", f"A whole number from {lowest} to {highest}.")
        return int(cell)

    return read


def day(cell: str, reading: Reading) -> date:
    """Read a civil date: YYYY-MM-DD, or in the order that the sender says the table has."""
    parts = _PARTS.fullmatch(cell)
    if parts is None:
        raise CellError("not_a_date", "A civil date, as 2026-03-01.")
    iso = re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", cell, re.ASCII)
    order = "ymd" if iso else reading.date_order
    if order is None:
        detail = f"{cell} can be read in more than one order: say which `date_order` it has."
        raise CellError("ambiguous_date", detail)
    year, month, at = (int(parts.groups()[place]) for place in DATE_ORDERS[order])
    try:
        found = date(year, month, at)
    except ValueError as error:
        raise CellError("not_a_date", f"{cell} is no day of the calendar.") from error
    if found.year not in _YEARS:
        raise CellError("not_a_date", f"Years are {_YEARS[0]} to {_YEARS[-1]}, with four digits.")
    return found


def amount(cell: str, _: Reading) -> dict[str, str]:
    """Read a value with its unit, as `36 in`."""
    try:
        parse_quantity(cell, "")
    except InputError as error:
        raise CellError(error.problems[0].code, error.problems[0].message) from error
    value, _space, unit = cell.partition(" ")
    return {"value": value, "unit": unit.strip()}


def of_fact(fact: Fact) -> Column:
    """The column of a fact, read as the rules library reads the fact."""

    def read(cell: str, reading: Reading) -> Any:  # noqa: ANN401 (a fact is what it is)
        value = _BY_KIND.get(fact.kind, line(LONGEST_FACT))(cell, reading)
        given = value.isoformat() if isinstance(value, date) else value
        try:
            read_fact(fact, given, "")
        except InputError as error:
            raise CellError(error.problems[0].code, error.problems[0].message) from error
        return given

    among = f" ({', '.join(fact.words)})" if fact.words else ""
    return Column(fact.name, read, f"{fact.sense}{among}")


LONGEST_FACT = 100
_BY_KIND: Mapping[FactKind, Read] = {
    FactKind.FLAG: flag,
    FactKind.COUNT: whole(0, 1_000_000),
    FactKind.DAY: day,
    FactKind.MEASURE: amount,
}
