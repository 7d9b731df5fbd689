"""From what was found to what can be said of it, requirement by requirement."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rules.errors import InputError
from rules.judging.answer import answer
from rules.judging.compiling import compiled
from rules.judging.findings import read_findings
from rules.judging.names import unknown_names
from rules.model import RequirementSet

__all__ = ["judge"]


def judge(requirements: RequirementSet, findings: Mapping[str, object]) -> dict[str, Any]:
    """Judge what was found on a visit against everything that applies to the opening.

    `findings` has `activity`, and as found `readings`, `checks` and `sequences`, or `no_access`
    with the reason; optionally `decision_rule`, and `on`, the day for which the requirements were
    resolved. The answer is ready for JSON. Exact: no float decides anything.
    Raises InputError with every mistake and its pointer.
    """
    found = read_findings(findings, requirements.on)
    if found.on != requirements.on:
        message = f"the requirements are those of {requirements.on}"
        raise InputError.at("/on", "other_day", message)
    problems = unknown_names(found, compiled(requirements))
    if problems:
        raise InputError(problems)
    return answer(requirements, found)
