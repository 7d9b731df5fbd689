"""Reading a table that somebody exported: UTF-8, one heading, cells between commas, semicolons or
tabs. Nothing is guessed but the separator, and that only from the heading.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import StringIO

from doors.errors import RefusedError

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
MOST_COLUMNS = 200
MOST_ROWS = 50_000
LONGEST_CELL = 10_000  # characters
_FORMULA = tuple("=+-@\t\r＝＋－＠")  # noqa: RUF001 (a spreadsheet takes the wide forms alike)
GUARD = "'"


class TableError(RefusedError):
    """This is no table that can be read; the message says where and why."""


@dataclass(frozen=True, slots=True)
class Table:
    """The columns of a table by its heading, and its whole text to read rows from."""

    columns: tuple[str, ...]
    separator: str
    text: str

    def rows(self) -> Iterator[tuple[int, Mapping[str, str]]]:
        """Each row by its number, from 1 after the heading, as cells by column; empty lines are
        left out. Raises TableError where it cannot be read on.
        """
        for number, cells in enumerate(_records(self.text, self.separator)):
            if number > MOST_ROWS:
                raise TableError(f"A table holds at most {MOST_ROWS} rows.")
            if number and any(cell.strip() for cell in cells):
                yield number, self._named(number, cells)

    def _named(self, number: int, cells: list[str]) -> dict[str, str]:
        if len(cells) != len(self.columns):
            raise TableError(
                f"Row {number} has {len(cells)} cells, the heading has {len(self.columns)}."
            )
        return {n: unguarded(c) for n, c in zip(self.columns, cells, strict=True)}


def read_table(content: bytes, separator: str | None = None) -> Table:
    """The table that these bytes are; `separator` is one of SEPARATORS, found where absent."""
    text = _decoded(content)
    found = SEPARATORS[separator] if separator else _separator(text)
    heading = next(_records(text, found), [])
    columns = tuple(name.strip() for name in heading)
    if not any(columns):
        raise TableError("There is no heading: its first line names the columns.")
    if len(columns) > MOST_COLUMNS:
        raise TableError(f"A table has at most {MOST_COLUMNS} columns.")
    twice = sorted({name for name in columns if columns.count(name) > 1})
    if twice:
        raise TableError(f"The heading names {', '.join(map(repr, twice))[:200]} more than once.")
    return Table(columns, found, text)


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise TableError("This is UTF-16. Save it as CSV in UTF-8.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        detail = f"Line {line} is not UTF-8. Save it as CSV in UTF-8."
        raise TableError(detail) from error
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        raise TableError(f"Line {line} holds a NUL, which no text does.")
    return text


def _separator(text: str) -> str:
    heading = text.partition("\n")[0]
    counts = {each: heading.count(each) for each in SEPARATORS.values()}
    best = max(counts, key=lambda each: counts[each])
    if sorted(counts.values())[-2:] == [counts[best]] * 2 and counts[best]:
        raise TableError("Say which separator is used: the heading holds several alike.")
    return best


def _records(text: str, separator: str) -> Iterator[list[str]]:
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for cells in reader:
            if any(len(cell) > LONGEST_CELL for cell in cells):
                raise TableError(f"Line {reader.line_num} has a cell that is too long.")
            yield cells
    except csv.Error as error:
        raise TableError(f"Line {reader.line_num} cannot be read: {error}.") from error


def guarded_text(text: str) -> str:
    """A text as a cell that no spreadsheet takes for a formula."""
    return GUARD + text if text.lstrip(GUARD).startswith(_FORMULA) else text


def unguarded(cell: str) -> str:
    """The text of a cell that was guarded so; any other as it is."""
    guarded = cell.startswith(GUARD) and cell.lstrip(GUARD).startswith(_FORMULA)
    return cell[1:] if guarded else cell
