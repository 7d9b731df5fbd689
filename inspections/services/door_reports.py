"""Taking in what somebody tells at a door: kept once, a deficiency opened, owner and firm told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from doors.errors import AlreadyExistsError, RefusedError
from doors.models import Opening, Sight
from doors.selectors.openings import lock_opening, opening_by_id
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.models import Deficiency, DoorReport, Stage
from inspections.selectors.deficiencies import STANDING
from inspections.selectors.signs import meaning_of
from inspections.services.deficiencies import report_deficiency
from inspections.services.owings import owe, owe_own

PROTECTS = "closing"  # what a fire door is there for; a retest says what is really wrong
_HEARD = {
    "steady": "a steady sound",
    "repeated": "a repeated sound",
    "silent": "no sound",
    "not_known": "sound not known",
}
_STANDS = {
    "open": "standing open",
    "closed": "standing closed",
    "part_way": "standing part way",
    "not_known": "standing not known",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What somebody tells: `said` in the rules library's words, the rest in their own."""

    said: Mapping[str, str]
    told_by: str
    words: str = ""


@transaction.atomic
def report_from_door(*, opening_id: UUID, code_id: UUID, nonce: str, told: Told) -> DoorReport:
    """Keep a report of the acting owner's door, open a deficiency, and owe the owner's people and
    each firm with leave to record or repair there a notice of it.

    The same `nonce` again answers the report that was kept. What stands open already about the
    same thing is not opened twice.
    """
    lock_opening(opening_id)
    kept = DoorReport.objects.filter(opening_id=opening_id, nonce=nonce).first()
    if kept is not None:
        return kept
    opening = opening_by_id(opening_id)
    custodian_id = sight_of(opening.site_id, "manage").custodian_id
    report = DoorReport.objects.create(
        site_id=opening.site_id,
        opening=opening,
        code_id=code_id,
        nonce=nonce,
        said=dict(told.said),
        told_by=told.told_by,
        words=told.words,
        told_at=current().now,
        deficiency=_deficiency(opening, told),
    )
    _owe(report, opening)
    content = {"opening": str(opening.id), "said": report.said}
    line = LedgerLine("door_reported", report.id, opening.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return report


def described(said: Mapping[str, str]) -> str:
    """What was heard and seen, in words for the record."""
    mains = {"on": ", mains on", "off": ", mains off"}.get(said["mains"], "")
    alarm = {"yes": ", building in alarm", "no": ", no alarm in the building"}
    return f"{_HEARD[said['heard']]}, {_STANDS[said['door']]}{mains}{alarm.get(said['alarm'], '')}"


def _deficiency(opening: Opening, told: Told) -> Deficiency:
    """The one that this opens; or the one that stands about the same thing."""
    subjects = {m["subject"] for m in meaning_of(opening, told.said, "en")["meanings"]} - {None}
    subject = subjects.pop() if len(subjects) == 1 else ""
    standing = _standing(opening, subject, told.said)
    if standing is not None:
        return standing
    told_as: dict[str, Any] = {
        "opening_id": opening.id,
        "title": f"Reported at the door: {described(told.said)}",
        "words": told.words or "Nothing else was said.",
        "protects": PROTECTS,
        "found_at": current().now,
        "found_by_person": told.told_by,
    }
    try:
        with transaction.atomic():
            return report_deficiency(**told_as, subject=subject)
    except (AlreadyExistsError, RefusedError):  # no requirement of this very door looks at that
        return report_deficiency(**told_as)


def _standing(opening: Opening, subject: str, said: Mapping[str, str]) -> Deficiency | None:
    rows = Deficiency.objects.filter(opening=opening, state__in=STANDING)
    if subject:
        return rows.filter(subject=subject).first()
    alike = DoorReport.objects.filter(
        opening=opening, said__heard=said["heard"], said__door=said["door"]
    )
    return rows.filter(id__in=alike.values("deficiency_id")).first()


def _owe(report: DoorReport, opening: Opening) -> None:
    words = {
        "site": opening.site.name,
        "opening": opening.tag,
        "location": opening.location,
        "said": described(report.said),
        "words": report.words,
        "told_by": report.told_by,
        "told_at": report.told_at.isoformat(timespec="minutes"),
    }
    owe(site=opening.site, stage=Stage.DOOR_REPORTED, thing=report.id, words=words)
    # One thing is owed once by its version: each firm that is told has one of its own.
    for version, firm_id in enumerate(_firms(opening.site_id), 2):
        with acting_for(firm_id, write=True):
            owe_own(stage=Stage.DOOR_REPORTED, thing=report.id, thing_version=version, words=words)


def _firms(site_id: UUID) -> list[UUID]:
    """Who has leave to record or repair at a site now, beside its owner."""
    with looking_up(Purpose.CUSTODY) as context:
        running = Q(ends_at=None) | Q(ends_at__gt=context.now)
        works = Q(may_record=True) | Q(may_repair=True)
        rows = Sight.objects.filter(running, works, site_id=site_id, begins_at__lte=context.now)
        firms = rows.filter(grant__isnull=False).values_list("organization_id", flat=True)
        return sorted(set(firms))
