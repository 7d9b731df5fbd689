"""The JSON Schemas (draft 2020-12) that the package ships for everything it takes and gives."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from rules.errors import UnknownNameError

_FOLDER = files("rules") / "schemas"
NAMES = (
    *("facts", "findings", "history", "trace", "override", "compared"),  # what is taken
    *("requirements", "verdicts", "duties", "measurement", "lint", "comparison"),  # what is given
    *("plan", "retest", "signs"),
)


def schema(name: str) -> dict[str, Any]:
    """The schema of that name, one of NAMES; raises UnknownNameError for another."""
    if name not in NAMES:
        raise UnknownNameError(f"no schema is named {name!r}; there are: {', '.join(NAMES)}")
    document: dict[str, Any] = json.loads((_FOLDER / f"{name}.json").read_text("utf-8"))
    return document
