"""Every way this library refuses an input. All are ValueErrors and name the place."""

from __future__ import annotations

from dataclasses import dataclass


class RuleError(ValueError):
    """Root of the library's refusals."""


def escaped(key: object) -> str:
    """A key as one part of a JSON Pointer (RFC 6901), cut where it is long."""
    return str(key)[:80].replace("~", "~0").replace("/", "~1")


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake: `pointer` is a JSON Pointer into the input, `message` says why."""

    pointer: str
    code: str
    message: str


class InputError(RuleError):
    """Facts, findings, a history or a trace that cannot be accepted.

    Carries every problem found, at least one.
    """

    def __init__(self, problems: list[Problem]) -> None:
        """Keep the problems; the text of the error is all of them, one a line."""
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{p.pointer or '/'}: {p.message}" for p in problems))

    @classmethod
    def at(cls, pointer: str, code: str, message: str) -> InputError:
        """Refuse for one reason."""
        return cls([Problem(pointer, code, message)])


class DataError(RuleError):
    """A rules data file or an override that is wrong: file, key and reason of every mistake.

    `problems[n].pointer` is a JSON Pointer into the TOML document.
    """

    def __init__(self, file: str, problems: list[Problem]) -> None:
        """Keep the file's name and every mistake in it."""
        self.file = file
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{file}: {p.pointer or '/'}: {p.message}" for p in problems))


class UnknownNameError(RuleError):
    """A jurisdiction, publication, requirement or schema that does not exist."""
