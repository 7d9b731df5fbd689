"""How urgent a deficiency is and by when it is put right, and who says so.

The custodian's policy gives the class and, where it wants, a time; the requirements of the place
may give a time of their own. Both are shown, and the earlier day governs. No number is built in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from doors.clock import civil_date
from doors.tenancy import acting_organization
from inspections.models import Deficiency, DeficiencyPolicy
from rules.intervals import add, parse_period
from rules.model import ImpairmentSpec, RequirementSet

SYSTEM = "fire door"  # of the requirements on an impairment, those that speak of the door itself
_DURATION = re.compile(r"(P[0-9YMWD]*)(?:T([1-9][0-9]{0,4})H)?", re.ASCII)


@dataclass(slots=True)
class Deadline:
    """The class, the site's day by which it is to be put right, and each source of either."""

    urgency: str = ""
    due_on: date | None = None
    sources: list[dict[str, Any]] = field(default_factory=list)


def policy_document() -> tuple[int, Mapping[str, Any]]:
    """The version of the acting organization's policy and what it says; 0 where it has none."""
    policy = DeficiencyPolicy.objects.filter(organization_id=acting_organization()).first()
    return (policy.version, policy.document) if policy else (0, {})


def deadline_of(deficiency: Deficiency, requirements: RequirementSet) -> Deadline:
    """The deadline of one that opens now, under what applies to its opening on that day. Runs as
    the custodian, whose policy it is.
    """
    found = Deadline()
    if (own := _by_policy(deficiency)) is not None:
        found.urgency = own["class"]
        found.sources.append(own)
    found.sources += _by_place(deficiency, requirements)
    days = [source["due_on"] for source in found.sources if source["due_on"]]
    if days:
        found.due_on = date.fromisoformat(min(days))
        for source in found.sources:
            source["governs"] = source["due_on"] == min(days)
    return found


def day_after(at: datetime, within: str, time_zone: str) -> date:
    """The site's day on which a time that began at `at` has passed: calendar periods are counted
    on the calendar of the site, hours by the clock. Raises ValueError for what is no duration.
    """
    periods, hours = _parts(within)
    day = civil_date(at + timedelta(hours=hours), time_zone)
    return add(day, parse_period(periods)) if periods else day


def hours_of(within: str) -> int:
    """The hours of a time that is written in hours and days alone."""
    periods, hours = _parts(within)
    return hours + (24 * parse_period(periods).days if periods else 0)


def _parts(within: str) -> tuple[str, int]:
    found = _DURATION.fullmatch(within)
    if found is None or within == "P":
        raise ValueError(within)
    return "" if found[1] == "P" else found[1], int(found[2] or 0)


def _by_policy(deficiency: Deficiency) -> dict[str, Any] | None:
    """What the first rule that speaks of it says."""
    version, document = policy_document()
    for rule in document.get("rules", []):
        if not _speaks_of(rule, deficiency):
            continue
        (class_,) = [c for c in document["classes"] if c["name"] == rule["class"]]
        within = class_.get("within")
        zone = deficiency.opening.site.time_zone
        due = day_after(deficiency.opened_at, within, zone).isoformat() if within else None
        return {
            "source": "organization",
            "policy_version": version,
            "class": class_["name"],
            "words": class_.get("words", ""),
            "within": within,
            "due_on": due,
            "governs": False,
        }
    return None


def _speaks_of(rule: Mapping[str, Any], deficiency: Deficiency) -> bool:
    said = {
        "protects": deficiency.protects,
        "subject": deficiency.subject,
        "door_type": deficiency.opening.door_type,
    }
    return all(rule.get(name, value) == value for name, value in said.items())


def _by_place(deficiency: Deficiency, requirements: RequirementSet) -> Iterator[dict[str, Any]]:
    """What binds at the place of an impaired fire door, for what this deficiency takes away."""
    at, zone = deficiency.opened_at, deficiency.opening.site.time_zone
    for item in requirements.items:
        spec, requirement = item.requirement.spec, item.requirement
        if not item.binds or not isinstance(spec, ImpairmentSpec) or spec.system != SYSTEM:
            continue
        if requirement.protects != deficiency.protects:
            continue
        cited = item.adopted_by or requirement.citation
        due = day_after(at, spec.within, zone).isoformat() if spec.within else None
        yield {
            "source": "jurisdiction",
            "layer": item.layer,
            "requirement": requirement.id,
            "words": spec.response,
            "citation": f"{cited.publication} {cited.edition}, {cited.clause}",
            "within": spec.within or None,
            "due_on": due,
            "governs": False,
        }
