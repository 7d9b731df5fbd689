"""What people do about a deficiency: they open it, mend it, hand it on, or withdraw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F

from doors.clock import civil_date
from doors.errors import AlreadyExistsError, RefusedError
from doors.models import Opening
from doors.selectors.openings import lock_opening, opening_by_id
from doors.selectors.organizations import acting_party
from doors.selectors.sight import as_custodian, may_work, sight_of
from doors.selectors.visible import named_at, visible
from doors.services.blobs import PICTURES, named_blob
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import current
from inspections.models import Deficiency, Repair
from inspections.selectors.deficiencies import STANDING
from inspections.selectors.requirements import applicable
from inspections.selectors.retests import subjects_asked
from inspections.services.courses import (
    Followed,
    move_deficiency,
    open_deficiency,
    settle_courses,
)
from inspections.services.duties import settle_duties
from inspections.services.happenings import of_deficiency, tell
from inspections.services.moments import refuse_future
from inspections.states import DEFICIENCY, move
from rules.practice.parts import known_parts

WORKING = ("record", "repair", "manage")


@transaction.atomic
def report_deficiency(
    *,
    opening_id: UUID,
    title: str,
    words: str,
    protects: str,
    found_at: datetime,
    found_by_person: str,
    subject: str = "",
    photos: Sequence[str] = (),
) -> Deficiency:
    """Open what a person saw at a door where the acting organization works.

    `subject` is what a requirement of this opening looks at; without one, what was seen is a
    matter of its own, and a retest proves it by naming it.
    """
    lock_opening(opening_id)
    with named_at("/opening"):
        opening = opening_by_id(opening_id)
    sight = sight_of(opening.site_id, *WORKING)
    refuse_future(found_at, "/found_at", "Nothing is found in the future.")
    applying = applicable(opening, civil_date(found_at, opening.site.time_zone))
    asked = subjects_asked(applying.requirements).get(subject, [])
    if subject and not asked:
        detail = "No requirement of this opening looks at that; leave it out if none does."
        raise RefusedError.at("/subject", detail)
    deficiency = Deficiency(id=uuid4(), site_id=opening.site_id, opening=opening)
    deficiency.subject = subject or f"seen:{deficiency.id}"
    deficiency.requirements, deficiency.protects = asked, protects
    deficiency.title, deficiency.words = title, words
    deficiency.opened_at, deficiency.found_by_person = found_at, found_by_person
    _refuse_standing(opening, deficiency.subject)
    deficiency.author = acting_party()
    deficiency.author_name = deficiency.author.name
    deficiency.photos = _pictures(photos)
    deficiency.recurs = _earlier(opening, deficiency.subject, found_at)
    followed = Followed()
    with as_custodian(opening.site_id):
        open_deficiency(deficiency, applying.requirements, followed)
    _leave(followed, opening.site_id, sight.custodian_id)
    return deficiency


def _refuse_standing(opening: Opening, subject: str) -> None:
    rows = Deficiency.objects.filter(opening=opening, subject=subject, state__in=STANDING)
    standing = rows.first()
    if standing is not None:
        detail = f"This stands open at this opening already, as {standing.id}."
        raise AlreadyExistsError.at("/subject", detail)


def _earlier(opening: Opening, subject: str, before: datetime) -> Deficiency | None:
    rows = Deficiency.objects.filter(opening=opening, subject=subject, ended_at__lte=before)
    told = rows.exclude(withdrawn_for=Deficiency.WithdrawnFor.CORRECTION)
    return told.order_by("ended_at").last()


def _pictures(digests: Sequence[str]) -> list[str]:
    """Pictures that the acting organization has sent, by their digests."""
    found = enumerate(digests)
    return [named_blob(sha256, tuple(PICTURES), f"/photos/{n}").sha256 for n, sha256 in found]


def _leave(followed: Followed, site_id: UUID, custodian_id: UUID) -> None:
    """Tell machines of each state come to, and write the ledger's lines last."""
    told = [of_deficiency(each) for each in followed.moved]
    tell(happenings=told, site_id=site_id, custodian_id=custodian_id)
    write_ledger(custodian_id=custodian_id, lines=followed.lines)


@transaction.atomic
def withdraw_deficiency(*, deficiency_id: UUID, reason: str) -> Deficiency:
    """Withdraw what should not have been opened: by who opened it, or who manages the site. It
    stays on record with the reason, and a later visit that fails opens another one.
    """
    deficiency, custodian_id = workable_deficiency(deficiency_id, *WORKING)
    if deficiency.author_id != current().author:
        sight_of(deficiency.site_id, "manage")
    withdraw(deficiency, reason=reason, why=Deficiency.WithdrawnFor.PERSON)
    followed = Followed()
    followed.enter(deficiency, "deficiency_withdrawn", reason=reason)
    _leave(followed, deficiency.site_id, custodian_id)
    return deficiency


def withdraw(deficiency: Deficiency, *, reason: str, why: str) -> Deficiency:
    """End a standing deficiency that no retest will prove; the ledger line is the caller's."""
    now = current().now
    deficiency.ended_at, deficiency.moved_at, deficiency.reason = now, now, reason
    deficiency.withdrawn_for, deficiency.retest_missing = why, []
    move_deficiency(deficiency, "withdrawn", move_by=DEFICIENCY)
    return deficiency


@transaction.atomic
def assign_deficiency(
    *,
    deficiency_id: UUID,
    organization_id: UUID | None = None,
    person: str = "",
    until: date | None = None,
) -> Deficiency:
    """Hand a deficiency to an organization that works at its site, or to a person, or to a person
    there; the latest assignment holds, and the ledger keeps the earlier ones.
    """
    deficiency, custodian_id = workable_deficiency(deficiency_id, *WORKING)
    if organization_id is None and not person:
        raise RefusedError.at("/organization", "Name an organization, a person, or both.")
    name = ""
    if organization_id is not None:
        found = may_work(organization_id, deficiency.site_id, ("repair", "record", "manage"))
        if found is None:
            detail = "This organization may not work at this site."
            raise RefusedError.at("/organization", detail)
        name = found
    deficiency.assigned_to_id, deficiency.assigned_to_name = organization_id, name
    deficiency.assigned_person, deficiency.assigned_until = person, until
    deficiency.assigned_by = acting_party().name
    deficiency.version = F("version") + 1
    deficiency.save(update_fields=_ASSIGNED)
    deficiency.refresh_from_db(fields=["version"])
    content = {
        "organization": str(organization_id) if organization_id else None,
        "person": person,
        "until": until.isoformat() if until else None,
    }
    line = LedgerLine("deficiency_assigned", deficiency.id, deficiency.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return deficiency


_ASSIGNED = (
    "assigned_to",
    "assigned_to_name",
    "assigned_person",
    "assigned_by",
    "assigned_until",
    "version",
)


@transaction.atomic
def record_repair(
    *,
    deficiency_id: UUID,
    done_at: datetime,
    done_by: str,
    words: str,
    licence: str = "",
    parts: Sequence[Mapping[str, str]] = (),
    photos: Sequence[str] = (),
) -> Repair:
    """Record what was done. The deficiency is then repaired, and proven by nothing yet."""
    deficiency, custodian_id = workable_deficiency(deficiency_id, "repair", "manage")
    refuse_future(done_at, "/done_at", "A repair cannot be done in the future.")
    if done_at < deficiency.opened_at:
        raise RefusedError.at("/done_at", "A repair follows the finding it mends.")
    _refuse_unknown_parts(parts)
    repair = Repair.objects.create(
        **written_of(deficiency),
        done_at=done_at,
        done_by=done_by,
        licence=licence,
        words=words,
        parts=[dict(part) for part in parts],
        photos=_pictures(photos),
    )
    followed = Followed()
    content = {
        "deficiency": str(deficiency.id),
        "done_at": done_at.isoformat(),
        "parts": sorted({p["part"] for p in parts if p.get("part")}),
    }
    line = LedgerLine("repair_recorded", repair.id, deficiency.site_id, content)
    with as_custodian(deficiency.site_id):
        settle_courses(deficiency.opening, [deficiency], followed)
    settle_duties(opening=deficiency.opening)
    # The repair's own line says that it is repaired; what else came of it has a line of its own.
    followed.lines = [each for each in followed.lines if each.kind != "deficiency_repaired"]
    followed.lines.insert(0, line)
    _leave(followed, deficiency.site_id, custodian_id)
    return repair


def _refuse_unknown_parts(parts: Sequence[Mapping[str, str]]) -> None:
    for index, part in enumerate(parts):
        word = part.get("part")
        if word and word not in known_parts().parts:
            among = ", ".join(known_parts().parts)
            detail = f"No retest depends on such a part; write it as words. Known are {among}."
            raise RefusedError.at(f"/parts/{index}/part", detail)
        if not word and not part.get("words"):
            raise RefusedError.at(f"/parts/{index}", "Name the part, or describe it in words.")


def written_of(deficiency: Deficiency) -> dict[str, Any]:
    """What every row about a deficiency carries: where it belongs, who wrote it and when."""
    author = acting_party()
    return {
        "site_id": deficiency.site_id,
        "author": author,
        "author_name": author.name,
        "deficiency": deficiency,
        "recorded_at": current().now,
    }


def workable_deficiency(deficiency_id: UUID, *any_of: str) -> tuple[Deficiency, UUID]:
    """The deficiency, if it stands and one of these actions is allowed at its site. Its opening
    is locked first, as by a visit, so that the two never wait for each other.
    """
    rows = Deficiency.objects.filter(id=deficiency_id)
    for opening_id in rows.values_list("opening_id", flat=True):
        lock_opening(opening_id)
    deficiency = visible(rows.select_related("opening__site"))
    sight = sight_of(deficiency.site_id, *any_of)
    move(DEFICIENCY, deficiency.state, "withdrawn")  # refuses what has ended
    return deficiency, sight.custodian_id
