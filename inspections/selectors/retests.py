"""What a retest must show, and who may show it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from inspections.models import Deficiency, Visit
from rules import retest_scope
from rules.model import QualificationSpec, Requirement, RequirementSet
from rules.planning.names import name_of, subject_of


def scope_of(
    requirements: RequirementSet, deficiency: Deficiency, parts: Collection[str]
) -> dict[str, str]:
    """By subject, why a retest must show it: what failed, and every sequence that binds at this
    door and hangs on a part that was repaired.
    """
    seen = deficiency.subject.startswith("seen:")
    subjects = [] if seen else [deficiency.subject]
    entries = retest_scope(requirements, subjects=subjects, parts=sorted(parts))
    scope = {deficiency.subject: f"{deficiency.title}: it failed"}
    for entry in entries:
        if entry["needed"] and entry["subject"] not in scope:
            scope[entry["subject"]] = f"{entry['title']}: {entry['because']}"
    return scope


def subjects_asked(requirements: RequirementSet) -> dict[str, list[str]]:
    """By what is looked at, the ids of the requirements that look at it and bind."""
    asked: dict[str, list[str]] = {}
    for item in requirements.items:
        if name_of(item) and not item.advisory:
            asked.setdefault(subject_of(item), []).append(item.requirement.id)
    return asked


def qualifications_asked(
    requirements: RequirementSet, activity: str
) -> Iterator[tuple[Requirement, str]]:
    """Each requirement that binds on who does this, with what it asks of them."""
    for item in requirements.items:
        requirement, spec = item.requirement, item.requirement.spec
        if not item.binds or requirement.states_a_gap or not isinstance(spec, QualificationSpec):
            continue
        if activity in spec.activities:
            yield requirement, spec.asks


def is_qualified(visit: Visit) -> bool:
    """Whether somebody who took part names a qualification that was valid on the day."""
    on = visit.performed_on.isoformat()
    return any(
        person.get("qualification") and person.get("valid_until", on) >= on
        for person in visit.findings["people"]
    )
