"""What a trace tells, with what is wrong with it named by its place in what was sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import rules
from rules.errors import InputError


def measured(trace: Mapping[str, Any], at: str) -> dict[str, Any]:
    """The library's answer to a trace; `at` is the JSON Pointer of where it stands.

    Raises InputError with every mistake.
    """
    try:
        return rules.measure(trace)
    except InputError as refused:
        raise InputError(
            [replace(p, pointer=f"{at}{p.pointer}") for p in refused.problems]
        ) from refused
