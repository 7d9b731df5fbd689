"""A strict reader of one table of a data file: every mistake is kept with its JSON Pointer."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

from rules.errors import InputError, Problem, escaped
from rules.facts import read_day
from rules.intervals import parse_period
from rules.quantities import Quantity, parse_quantity

Word = TypeVar("Word", bound=StrEnum)
Read = TypeVar("Read")

_LONGEST_TEXT = 2_000  # characters
_LONGEST_SLUG = 80  # with the code of a place before it, a requirement's id stays under 160
_LONGEST_MONTHS = 1_200
_FIRST_DAY, _LAST_DAY = date(1800, 1, 1), date(2999, 12, 31)  # the day before and after exist
# Control characters other than the end of a line, surrogates, and marks that turn text about.
_UNPRINTABLE = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069]")
_SLUG = re.compile(r"[a-z0-9]+(?:[-_.][a-z0-9]+)*(?:/[a-z0-9]+(?:[-_.][a-z0-9]+)*)*")
# What draws nothing, turns text about, or looks like a space and is none.
_UNSEEN = (
    r"\x00-\x1f\x7f-\xa0\xad\u034f\u061c\u115f\u1160\u1680\u17b4\u17b5\u180e\u2000-\u200f"
    r"\u2028-\u202f\u205f-\u206f\u2800\u3000\u3164\ud800-\udfff\ufeff\uffa0\ufff0-\ufffb"
    "\U000e0000-\U000e0fff"
)
_LABEL = re.compile(f"[^ {_UNSEEN}](?:[^{_UNSEEN}]{{0,98}}[^ {_UNSEEN}])?")
_DURATION = re.compile(
    r"P(?=\d|T\d)(?:\d{1,4}Y)?(?:\d{1,4}M)?(?:\d{1,4}W)?(?:\d{1,4}D)?(?:T\d{1,4}H)?", re.ASCII
)


class Table:
    """Reads keys once, in any order; `close` reports the keys that nobody asked for.

    A wrong value is reported and answered as if the key were absent, so that reading goes on and
    every mistake of a file is found in one pass.
    """

    def __init__(self, data: Mapping[str, Any], pointer: str, problems: list[Problem]) -> None:
        self._data = data
        self._asked: set[str] = set()
        self.pointer = pointer
        self.problems = problems

    def refuse(self, key: str, code: str, message: str) -> None:
        """Keep one mistake, at this table or at one of its keys."""
        where = f"{self.pointer}/{escaped(key)}" if key else self.pointer
        self.problems.append(Problem(where, code, message))

    def has(self, key: str) -> bool:
        """Whether the key is written."""
        return key in self._data

    def names(self) -> Iterator[str]:
        """Every key as written."""
        return iter(self._data)

    def raw(self, key: str) -> Any:  # noqa: ANN401 - a TOML value of any type
        """The value as written, for a reader of its own; None where absent."""
        self._asked.add(key)
        return self._data.get(key)

    def close(self) -> None:
        """Refuse every key that was never asked for."""
        for key in sorted(set(self._data) - self._asked):
            self.refuse(key, "unknown_key", "no such key here")

    def _read(self, key: str, kind: type, wanted: str, *, required: bool) -> Any:  # noqa: ANN401
        value = self.raw(key)
        if value is None:
            if required:
                self.refuse(key, "missing", f"{wanted} is needed here")
            return None
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            self.refuse(key, "wrong_type", f"this is {wanted}")
            return None
        return value

    def text(self, key: str, *, required: bool = False) -> str:
        """A text, stripped; not empty where required."""
        value = self._read(key, str, "a text", required=required)
        if required and value is not None and not value.strip():
            self.refuse(key, "missing", "a text that is not empty is needed here")
        if value and (len(value) > _LONGEST_TEXT or _UNPRINTABLE.search(value)):
            message = f"at most {_LONGEST_TEXT} characters, none of them a control character"
            self.refuse(key, "bad_text", message)
            return ""
        return (value or "").strip()

    def targets(self, key: str) -> tuple[str, ...]:
        """A list of identifiers of requirements or groups of them, or `*` for all."""
        found = self.texts(key, required=self.has(key))
        if not all(name == "*" or _SLUG.fullmatch(name) for name in found):
            message = "names of requirements or of groups of them, or * for all"
            self.refuse(key, "bad_identifier", message)
        return found

    def slug(self, key: str) -> str:
        """A required identifier: lower-case words joined by - _ . and parts joined by /."""
        value = self.text(key, required=True)
        if value and (len(value) > _LONGEST_SLUG or not _SLUG.fullmatch(value)):
            message = f"lower-case letters, digits, - _ . and / only, at most {_LONGEST_SLUG}"
            self.refuse(key, "bad_identifier", message)
            return ""
        return value

    def label(self, key: str) -> str:
        """A required name as an authority writes it: one line of 1 to 100 characters to be seen."""
        value = self._read(key, str, "a text", required=True)
        if value is not None and not _LABEL.fullmatch(value):
            message = (
                "1 to 100 characters that can be seen, in one line, without a space at its ends"
            )
            self.refuse(key, "bad_identifier", message)
            return ""
        return value or ""

    def flag(self, key: str) -> bool:
        """True or false; false where absent."""
        return bool(self._read(key, bool, "true or false", required=False))

    def count(self, key: str, default: int) -> int:
        """A whole number above zero."""
        value = self._read(key, int, "a whole number", required=False)
        if value is not None and value < 1:
            self.refuse(key, "out_of_range", "a whole number above zero is needed")
        return default if value is None or value < 1 else int(value)

    def day(self, key: str, *, required: bool = False) -> date | None:
        """A civil date, as TOML writes it or as text."""
        value = self.raw(key)
        if value is None:
            if required:
                self.refuse(key, "missing", "a date is needed here")
            return None
        day = self._trying(read_day, value, key)
        if day is not None and not _FIRST_DAY <= day <= _LAST_DAY:
            self.refuse(key, "out_of_range", f"a rule's days lie from {_FIRST_DAY} to {_LAST_DAY}")
            return None
        return day

    def word(self, key: str, words: type[Word], default: Word | None = None) -> Word | None:
        """One word of a list; required where no default is given."""
        value = self.text(key, required=default is None)
        if not value:
            return default
        if value not in set(words):
            self.refuse(key, "unknown_word", "one of " + ", ".join(words))
            return default
        return words(value)

    def words(self, key: str, words: type[Word]) -> frozenset[Word]:
        """Several words of a list."""
        known = set(words)
        found = self.texts(key)
        for value in found:
            if value not in known:
                self.refuse(key, "unknown_word", f"{value!r} is not one of " + ", ".join(words))
        return frozenset(words(value) for value in found if value in known)

    def texts(self, key: str, *, required: bool = False) -> tuple[str, ...]:
        """A list of texts."""
        value = self._read(key, list, "a list of texts", required=required)
        if value is None:
            return ()
        if not all(isinstance(item, str) and item.strip() for item in value):
            self.refuse(key, "wrong_type", "every item of the list is a text")
            return ()
        if required and not value:
            self.refuse(key, "missing", "at least one item is needed")
        return tuple(value)

    def measure(self, key: str) -> Quantity | None:
        """A value with its unit as published: `15 lbf`."""
        value = self.text(key)
        if not value:
            return None
        return self._trying(parse_quantity, value, key)

    def duration(self, key: str, *, required: bool = False) -> str:
        """An ISO 8601 duration of years, months, weeks, days or hours."""
        value = self.text(key, required=required)
        if value and not _DURATION.fullmatch(value):
            self.refuse(key, "not_a_duration", "an ISO 8601 duration such as P3M or PT4H")
            return ""
        return value

    def period(self, key: str, *, required: bool = False) -> str:
        """A duration that a calendar can count: whole days or more, and no more than a century."""
        value = self.duration(key, required=required)
        period = self._trying(parse_period, value, key) if value else None
        if period is None:
            return ""
        if period.months > _LONGEST_MONTHS or period.days > _LONGEST_MONTHS * 31:
            self.refuse(key, "out_of_range", "no interval is longer than a century")
            return ""
        return value

    def table(self, key: str, *, required: bool = False) -> Table | None:
        """A table under this one."""
        value = self._read(key, dict, "a table", required=required)
        if value is None:
            return None
        return Table(value, f"{self.pointer}/{escaped(key)}", self.problems)

    def tables(self, key: str) -> list[Table]:
        """An array of tables; none where absent."""
        value = self._read(key, list, "an array of tables", required=False) or []
        found = []
        for place, item in enumerate(value):
            if isinstance(item, dict):
                found.append(Table(item, f"{self.pointer}/{escaped(key)}/{place}", self.problems))
            else:
                self.refuse(key, "wrong_type", f"item {place} is not a table")
        return found

    def _trying(self, read: Callable[[Any, str], Read], value: object, key: str) -> Read | None:
        try:
            return read(value, f"{self.pointer}/{key}")
        except InputError as refused:
            self.problems.extend(refused.problems)
            return None
