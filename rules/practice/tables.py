"""Reads one table of the custom of the trade, strictly, and says where it is wrong."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from typing import TypeVar

from rules.errors import DataError, Problem
from rules.library import read_toml
from rules.loading.table import Table

Row = TypeVar("Row")


def practice_table(name: str, read: Callable[[Table], Row]) -> Row:
    """What `read` makes of the file of that name; raises DataError with every mistake in it."""
    file = f"{name}.toml"
    text = (files("rules") / "data" / "practice" / file).read_text("utf-8")
    problems: list[Problem] = []
    root = Table(read_toml(text, file), "", problems)
    found = read(root)
    root.close()
    if problems:
        raise DataError(file, problems)
    return found
