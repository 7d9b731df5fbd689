"""From what was found to what can be said of it, requirement by requirement."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from rules.errors import InputError, Problem
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
    resolved, which cannot lie before the day on which the door was installed. The answer is ready
    for JSON. Exact: no float decides anything.
    Raises InputError with every mistake and its pointer.
    """
    found = read_findings(findings, requirements.on)
    if found.on != requirements.on:
        message = f"the requirements are those of {requirements.on}"
        raise InputError.at("/on", "other_day", message)
    problems = [*_before_the_door(requirements), *unknown_names(found, compiled(requirements))]
    if problems:
        raise InputError(problems)
    return answer(requirements, found)


def _before_the_door(requirements: RequirementSet) -> Iterator[Problem]:
    """Nobody can have tested a door that was not there: the visit's day or the fact is wrong."""
    installed = requirements.facts.get("installed_on")
    if isinstance(installed, date) and requirements.on < installed:
        message = (
            f"the visit of {requirements.on} lies before installed_on, {installed}: one of the two "
            "days is wrong, or the visit was to another door that stood there"
        )
        yield Problem("/on", "before_installation", message)
