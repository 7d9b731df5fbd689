"""Recording the short test that somebody made at a door, in the owner's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from doors.clock import Instant
from doors.selectors.openings import opening_by_id
from doors.tenancy import acting_organization, current
from inspections.models import Activity, Visit
from inspections.selectors.door_tests import Asked
from inspections.services.visits import record_visit

ROLE = "building maintenance"
_SAID = {"yes": "conforms", "no": "does_not_conform", "not_tested": "not_tested"}


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said to one question: yes, no or not_tested, with the reason for the last."""

    asked: Asked
    said: str
    reason: str = ""


@transaction.atomic
def record_door_test(
    *, opening_id: UUID, nonce: str, answers: list[Answer], told_by: str, remarks: str = ""
) -> Visit:
    """Record the operation test that `told_by` made just now, as a visit of the acting owner.

    The same `nonce` again answers the visit that was recorded, whatever else is said.
    """
    reference = f"door {nonce}"
    recorded = Visit.objects.filter(author_id=acting_organization(), client_ref=reference).first()
    if recorded is not None:
        return recorded
    opening = opening_by_id(opening_id)
    now = current().now.astimezone(ZoneInfo(opening.site.time_zone)).replace(microsecond=0)
    findings: dict[str, Any] = {
        "attestation": {"name": told_by, "at": now.isoformat()},
        "people": [{"name": told_by, "role": ROLE}],
        "checks": [_check(each) for each in answers if each.asked.part == "checks"],
        "sequences": [_sequence(each) for each in answers if each.asked.part == "sequences"],
    }
    if remarks:
        findings["remarks"] = remarks
    return record_visit(
        opening_id=opening_id,
        client_ref=reference,
        activity=Activity.OPERATION_TEST,
        performed_at=Instant(now, now.isoformat()),
        attested_by=told_by,
        findings=findings,
    )


def _check(answer: Answer) -> dict[str, Any]:
    return {"check": answer.asked.name, **_result(answer)}


def _sequence(answer: Answer) -> dict[str, Any]:
    """Who says yes has seen each step; who says no has not said which."""
    found: dict[str, Any] = {"sequence": answer.asked.name, **_result(answer)}
    if answer.said == "yes":
        found["steps"] = [{"step": step, "seen": True} for step, _ in answer.asked.steps]
    return found


def _result(answer: Answer) -> Mapping[str, str]:
    said = {"result": _SAID[answer.said]}
    return said | ({"reason": answer.reason} if answer.reason else {})
