"""Files of the command line: read strictly, and refused under their own name."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rules.errors import DataError, InputError, Problem, RuleError, UnknownNameError, escaped
from rules.layers import Layer
from rules.lint import parse_layer
from rules.strict_json import MAX_BYTES, read_json

OPENING = ("jurisdiction", "facts", "listed_instructions")


class FileRefusedError(RuleError):
    """Bad input in one file: its text is a line for each mistake."""

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        """Keep the lines."""
        lines = [f"{file}: {p.pointer or '/'}: {p.message} [{p.code}]" for p in problems]
        super().__init__("\n".join(lines))


@dataclass(frozen=True, slots=True)
class Document:
    """A JSON document with the name of its file."""

    file: str
    data: Any

    @contextmanager
    def refusing(self, prefix: str = "") -> Iterator[None]:
        """Turn what is refused inside into a refusal of this file; `prefix` leads to the whole
        file in the pointers of what is refused.
        """
        try:
            yield
        except InputError as refused:
            own = [replace(p, pointer=p.pointer.removeprefix(prefix)) for p in refused.problems]
            raise FileRefusedError(self.file, own) from refused
        except UnknownNameError as refused:
            problem = Problem("/jurisdiction", "unknown_name", str(refused))
            raise FileRefusedError(self.file, [problem]) from refused

    def listed(self, key: str) -> list[Any]:
        """The list under a key, empty where it is not there."""
        found = self.data.get(key, [])
        if not isinstance(found, list):
            raise InputError.at(f"/{key}", "not_a_list", "a list is expected here")
        return found

    def opening(self) -> dict[str, Any]:
        """What tells of the opening, by the names that the verbs take it under."""
        place, facts = self.data["jurisdiction"], self.data["facts"]
        if not isinstance(place, str):
            raise InputError.at("/jurisdiction", "not_a_text", "the code of a place is a text")
        instructions = self.listed("listed_instructions")
        return {"jurisdiction": place, "facts": facts, "listed_instructions": instructions}

    def rest(self) -> dict[str, Any]:
        """What does not tell of the opening."""
        return {key: value for key, value in self.data.items() if key not in OPENING}

    def only(self, needed: Sequence[str] = (), more: Sequence[str] = ()) -> None:
        """Refuse at once every field that is missing, of the opening or `needed`, and every one
        that is neither of them nor among `more`.
        """
        known = dict.fromkeys((*OPENING, *needed, *more))
        problems = [
            Problem(f"/{key}", "required", f"{key} is required here")
            for key in ("jurisdiction", "facts", *needed)
            if key not in self.data
        ]
        message = f"no such field; known here: {', '.join(known)}"
        strangers = [key for key in self.data if key not in known]
        problems += [Problem(f"/{escaped(k)}", "unknown_field", message) for k in strangers]
        if problems:
            raise InputError(problems)


def every_mistake(*attempts: Callable[[], object]) -> None:
    """Try them all, and refuse with the mistakes of all of them together."""
    problems: list[Problem] = []
    for attempt in attempts:
        try:
            attempt()
        except InputError as refused:
            problems.extend(refused.problems)
    if problems:
        raise InputError(problems)


def read_document(file: str, kind: type = dict) -> Document:
    """The JSON document in a file, an object unless another kind is expected."""
    document = Document(file, None)
    with document.refusing():
        data = read_json(_bytes(file))
        if not isinstance(data, kind):
            expected = "an object" if kind is dict else "a list"
            raise InputError.at("", "wrong_kind", f"{expected} is expected here")
    return Document(file, data)


def read_text(file: str) -> str:
    """The UTF-8 text in a file."""
    try:
        return _bytes(file).decode()
    except UnicodeDecodeError as refused:
        problem = Problem("", "not_utf8", f"not UTF-8 at byte {refused.start}")
        raise FileRefusedError(file, [problem]) from refused


def read_layer_files(files: Sequence[str]) -> list[Layer]:
    """The layers that TOML files write, each upon the ones before it."""
    layers: list[Layer] = []
    for file in files:
        try:
            layers.append(parse_layer(read_text(file), name=file, above=layers))
        except DataError as refused:
            raise FileRefusedError(file, refused.problems) from refused
    return layers


def _bytes(file: str) -> bytes:
    """What a file holds, and one byte more than is read where it is larger."""
    try:
        if file == "-":
            return sys.stdin.buffer.read(MAX_BYTES + 1)
        with Path(file).open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except (OSError, ValueError) as refused:
        why = refused.strerror if isinstance(refused, OSError) else "no such name"
        raise FileRefusedError(file, [Problem("", "unreadable", str(why))]) from refused
