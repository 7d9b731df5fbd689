"""Shape checks shared by everything that reads findings; every mistake is kept, none guessed at."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from rules.errors import InputError, Problem, escaped

MAX_ITEMS = 1000  # of one list in one visit; more is a mistake or an attack
MAX_TEXT = 2000  # characters of a remark or a reason
_TEXT = "a text is expected here"
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_Word = TypeVar("_Word", bound=StrEnum)


class Problems:
    """The mistakes met so far."""

    def __init__(self) -> None:
        """Start without any."""
        self.found: list[Problem] = []

    def add(self, pointer: str, code: str, message: str) -> None:
        """Keep one mistake and go on reading."""
        self.found.append(Problem(pointer, code, message))

    def take(self, error: InputError) -> None:
        """Keep what a value object refused."""
        self.found.extend(error.problems)


def mapping(raw: object, known: Collection[str], at: str, problems: Problems) -> dict[str, object]:
    """The fields of an object; refuses what is none and every field not known here."""
    if type(raw) is not dict and not isinstance(raw, Mapping):
        problems.add(at, "not_an_object", "an object is expected here")
        return {}
    for key in raw:
        if key not in known:
            message = f"no such field; known here: {', '.join(sorted(known))}"
            problems.add(f"{at}/{escaped(key)}", "unknown_field", message)
    return dict(raw)


def items(raw: object, at: str, problems: Problems) -> list[object]:
    """A list, of at most MAX_ITEMS; a missing one is empty."""
    if raw is None:
        return []
    if not isinstance(raw, list | tuple):
        problems.add(at, "not_a_list", "a list is expected here")
        return []
    if len(raw) > MAX_ITEMS:
        problems.add(at, "too_many", f"at most {MAX_ITEMS} items are read")
        return []
    return list(raw)


def word(raw: object, among: type[_Word], at: str, problems: Problems) -> _Word | None:
    """One word of a fixed list."""
    if isinstance(raw, str) and raw in among._value2member_map_:
        return among(raw)
    known = ", ".join(among)
    problems.add(at, "required" if raw is None else "unknown_word", f"one of: {known}")
    return None


def text(
    raw: object, at: str, problems: Problems, *, required: bool = False, asks: str = _TEXT
) -> str:
    """A text of at most MAX_TEXT characters; where required, not blank: `asks` says for what."""
    if raw is None and not required:
        return ""
    if not isinstance(raw, str) or (required and not raw.strip()):
        problems.add(at, "required" if required else "not_a_text", asks if required else _TEXT)
        return ""
    if len(raw) > MAX_TEXT:
        problems.add(at, "too_long", f"at most {MAX_TEXT} characters are read")
    return raw


def civil_date(raw: object, at: str, problems: Problems) -> date | None:
    """A civil date: a `date`, or a text such as 2026-03-01."""
    if type(raw) is date:
        return raw
    if isinstance(raw, str) and _DATE.fullmatch(raw):
        try:
            return date.fromisoformat(raw)
        except ValueError:
            pass  # 2026-02-30 has the shape of a date and is none
    problems.add(at, "not_a_date", "a date such as 2026-03-01 is expected here")
    return None


def sent(fields: Mapping[str, object]) -> dict[str, object]:
    """A copy of an object for the answer; see `as_sent`."""
    return {k: v if type(v) is str else as_sent(v) for k, v in fields.items()}


def as_sent(raw: object) -> object:
    """A copy for the answer: exact decimals and dates become the text they were written as."""
    if isinstance(raw, Mapping):
        return sent(raw)
    if isinstance(raw, list | tuple):
        return [as_sent(value) for value in raw]
    if isinstance(raw, Decimal | date):
        return str(raw)
    return raw
