"""The short test of one door, as somebody without an account is asked it at the door."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import rules
from doors.clock import civil_date
from doors.models import Opening
from doors.tenancy import current
from inspections.models import Activity
from inspections.selectors.requirements import applicable


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: a check that is looked at, or a sequence that is run and watched. `name` is
    the rules library's, `part` one of checks and sequences.
    """

    part: str
    name: str
    questions: list[str]
    cautions: list[str] = field(default_factory=list)
    steps: list[tuple[str, str]] = field(default_factory=list)

    @property
    def key(self) -> str:
        """Its name among the fields of a form."""
        return f"{self.part}:{self.name}"


@dataclass(frozen=True, slots=True)
class DoorTest:
    """What to heed, by moment, and what to answer, in the order in which it is done."""

    cautions: dict[str, list[str]]
    asked: list[Asked]


def door_test(opening: Opening) -> DoorTest:
    """The operation test of this door today, as the rules library plans it."""
    today = civil_date(current().now, opening.site.time_zone)
    requirements = applicable(opening, today).requirements
    plan = rules.visit_plan(requirements, activity=Activity.OPERATION_TEST)
    heeded: dict[str, list[str]] = {"before": [], "while": [], "after": []}
    for caution in plan["cautions"]:
        heeded[caution["moment"]].append(caution["words"])
    checks = [_check(check) for group in plan["look_at"] for check in group["checks"]]
    return DoorTest(heeded, [*checks, *map(_sequence, plan["sequences"])])


def _check(check: dict[str, Any]) -> Asked:
    return Asked("checks", check["check"], check["asks"])


def _sequence(sequence: dict[str, Any]) -> Asked:
    steps = [(step["step"], step["expect"]) for step in sequence["steps"]]
    return Asked("sequences", sequence["sequence"], sequence["do"], sequence["cautions"], steps)
