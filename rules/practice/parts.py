"""The parts of a door, and what hangs on each of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from rules.loading.table import Table
from rules.practice.tables import practice_table
from rules.vocabulary import DoorType

EVERY_SEQUENCE = "sequence:*"
SORTS = ("sequence", "quantity", "check")


@dataclass(frozen=True, slots=True)
class Part:
    """A part by its word; `hanging` are the subjects (`sequence:obstruction`) that are tried again
    once it was repaired, `sequence:*` for every sequence of the door.
    """

    part: str
    words: str
    doors: tuple[DoorType, ...]
    hanging: tuple[str, ...]
    because: str


@dataclass(frozen=True, slots=True)
class Failure:
    """What is usually tried again beside a thing that failed, whatever was repaired."""

    beside: tuple[str, ...]
    because: str


@dataclass(frozen=True, slots=True)
class Parts:
    """The vocabulary by its words, and the failures by what failed."""

    parts: dict[str, Part]
    failures: dict[str, Failure]


@cache
def known_parts() -> Parts:
    """The packaged vocabulary. Raises DataError where its file is wrong."""
    return practice_table("parts", _read)


def parts(door_type: str = "") -> list[dict[str, Any]]:
    """Every part by its word, in plain words, with the doors that have it; those of one door type
    where one is named.
    """
    return [
        {"part": one.part, "words": one.words, "doors": [door.value for door in one.doors]}
        for one in known_parts().parts.values()
        if not door_type or door_type in one.doors
    ]


def _read(root: Table) -> Parts:
    read = [_part(row) for row in root.tables("part")]
    failures = dict(_failure(row) for row in root.tables("failure"))
    return Parts({one.part: one for one in read}, failures)


def _part(row: Table) -> Part:
    every = row.flag("every_sequence")
    hanging = [EVERY_SEQUENCE] if every else list(_subjects("sequence", row.texts("sequences")))
    hanging += _subjects("quantity", row.texts("quantities"))
    hanging += _subjects("check", row.texts("checks"))
    doors = row.words("doors", DoorType)
    found = Part(
        row.text("part", required=True),
        row.text("words", required=True),
        tuple(door for door in DoorType if door in doors),
        tuple(hanging),
        row.text("because", required=True),
    )
    row.close()
    return found


def _subjects(sort: str, names: Iterable[str]) -> Iterable[str]:
    return (f"{sort}:{name}" for name in names)


def _failure(row: Table) -> tuple[str, Failure]:
    subject = row.text("subject", required=True)
    found = Failure(row.texts("with", required=True), row.text("because", required=True))
    row.close()
    return subject, found
