"""Recording a visit: stored, judged, and everything that follows from it, in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction

import rules
from doors.clock import Instant, civil_date
from doors.errors import (
    AlreadyExistsError,
    FieldProblem,
    RefusedError,
    ServiceError,
    WrongStateError,
)
from doors.models import Opening, Organization
from doors.selectors.openings import locked_opening
from doors.selectors.organizations import acting_party
from doors.selectors.sight import as_custodian, leave_to_record
from doors.selectors.visible import named_at
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.tenancy import acting_organization, current
from inspections.models import EventType, Stage, Verdict, Visit
from inspections.selectors.citations import written_in
from inspections.selectors.device_clocks import UNKNOWN, DeviceClock
from inspections.selectors.findings import Judged, judged_findings
from inspections.selectors.requirements import Applicable, applicable
from inspections.selectors.traces import sent_of
from inspections.selectors.visits import visit_by_id
from inspections.selectors.warnings import warnings_of
from inspections.services.amendments import note_amendments
from inspections.services.attendance import refuse_other_device, refuse_other_times
from inspections.services.clashes import body_of, clashes, way_to_correct
from inspections.services.courses import Followed, follow_visit
from inspections.services.differences import difference_of
from inspections.services.duties import settle_locked_duties
from inspections.services.happenings import Happening, of_deficiency, tell
from inspections.services.owings import owe
from inspections.services.readings import keep_readings
from inspections.services.traces import keep_traces, without_traces
from inspections.services.untested import settle_untested


def record_visit(
    *,
    opening_id: UUID,
    client_ref: str,
    activity: str,
    performed_at: Instant,
    attested_by: str,
    findings: Mapping[str, Any],
    supersedes: UUID | None = None,
    reason: str = "",
    clock: DeviceClock = UNKNOWN,
    id: UUID | None = None,  # noqa: A002 - a client may bring its own random id
) -> Visit:
    """Store and judge one attendance; move duties, deficiencies, what is owed, and the ledger.

    `findings`, the rest of what was sent, is kept as it is and judged by the facts and rules of
    the visit's day. The device's `clock` is noted and corrects nothing.
    """
    with named_at("/opening"):
        leave = leave_to_record(opening_id, performed_at.at)
    refuse_other_times(findings, performed_at, clock)
    if attested_by not in {person["name"] for person in findings["people"]}:
        detail = "Who attests to a visit is one of its people."
        raise RefusedError.at("/attestation/name", detail)
    visit = Visit(id=id or uuid4(), client_ref=client_ref, activity=activity, reason=reason)
    visit.performed_at, visit.performed_at_text = performed_at.at, performed_at.as_sent
    visit.attested_by, visit.supersedes_id, visit.late = attested_by, supersedes, leave.late
    visit.clock_skew_s = clock.skew_s
    try:
        with transaction.atomic(), leave.taken() as custodian_id:
            _record(visit, opening_id, findings, custodian_id)
    except _StandsAlreadyError as error:
        raise _what_stands(visit, findings) from error
    return visit


class _StandsAlreadyError(Exception):
    """The row of a visit could not be kept beside another; raised out of the transaction."""


def _record(
    visit: Visit, opening_id: UUID, findings: Mapping[str, Any], custodian_id: UUID
) -> None:
    """Judge the visit by the facts and rules of its day, keep it, and let all that follows."""
    opening = locked_opening(opening_id)
    refuse_other_device(opening, findings.get("initiating_device"))
    visit.supersedes = _corrected(opening, visit.supersedes_id, visit.reason)
    applying = applicable(opening, civil_date(visit.performed_at, opening.site.time_zone))
    _refuse_gone(opening, applying.on)
    judged = judged_findings(opening, applying, visit.activity, findings)
    _fill(visit, opening, applying, judged, findings)
    _insert(visit)
    keep_traces(visit=visit, traces=findings.get("traces") or [])
    keep_readings(visit=visit, measured=judged.measured)
    followed = follow_visit(visit, opening, applying.requirements, custodian_id)
    with as_custodian(opening.site_id, custodian_id):
        settle_locked_duties(opening=opening, applying=applying)
        settle_untested(opening=opening, visit=visit)
    _owe(visit, opening, custodian_id, followed)
    _tell(visit, custodian_id, followed)
    followed.lines += note_amendments(visit)
    _enter(visit, custodian_id, followed)


def _refuse_gone(opening: Opening, on: date) -> None:
    """What was removed is there no more from that day on; what was found before may come late."""
    if opening.removed_on is not None and on >= opening.removed_on:
        day = opening.removed_on.isoformat()
        detail = f"This opening was removed on {day}: no visit is of that day or later."
        raise RefusedError.at("/performed_at", detail)


def recorded_already(
    *,
    opening_id: UUID,
    client_ref: str,
    performed_at: Instant,
    findings: Mapping[str, Any],
    **sent: Any,
) -> Visit | None:
    """Return the acting organization's visit of this reference, where the same was sent for it."""
    own = Visit.objects.filter(author_id=acting_organization(), client_ref=client_ref).first()
    if own is None:
        return None
    same = (
        own.opening_id == opening_id
        and own.performed_at_text == performed_at.as_sent
        and own.content_sha256 == canonical_digest(dict(findings))
        and own.activity == sent["activity"]
        and own.supersedes_id == sent["supersedes"]
        and own.reason == sent["reason"]
    )
    return own if same else None


def _corrected(opening: Opening, supersedes: UUID | None, reason: str) -> Visit | None:
    if supersedes is None:
        if reason.strip():
            raise RefusedError.at("/supersedes", "Say which visit is corrected for that reason.")
        return None
    with named_at("/supersedes"):
        earlier = visit_by_id(supersedes)
    if earlier.opening_id != opening.id or earlier.author_id != current().author:
        raise RefusedError.at("/supersedes", "Only your own visit to the same opening.")
    if not reason.strip():
        raise RefusedError.at("/reason", "Say why the earlier visit is corrected.")
    return earlier


def _fill(
    visit: Visit,
    opening: Opening,
    applying: Applicable,
    judged: Judged,
    findings: Mapping[str, Any],
) -> None:
    author = acting_party()
    visit.site_id, visit.opening = opening.site_id, opening
    visit.author, visit.author_name = author, author.name
    visit.performed_on, visit.received_at = applying.on, current().now
    visit.findings = without_traces(findings)
    visit.basis = applying.basis() | {"author": _party(author), "past": judged.past}
    judgement = visit.judgement = judged.judgement
    visit.verdict = judgement["summary"]["verdict"]
    visit.complete = judgement["summary"]["complete"]
    visit.content_sha256 = canonical_digest(dict(findings))
    visit.requirements_digest = applying.requirements.digest
    visit.library_version = rules.__version__
    visit.difference = difference_of(findings.get("judged_with"), applying, judgement)
    visit.warnings = warnings_of(visit, opening, applying, findings)


def _party(author: Organization) -> dict[str, Any]:
    """Who made the visit, as a record must name it: with its address as it was then."""
    return {
        "name": author.name,
        "capability": "inspector" if "inspector" in author.capabilities else "owner",
        "address": author.address,
    }


def _insert(visit: Visit) -> None:
    try:
        visit.save(force_insert=True)
    except IntegrityError as error:
        raise _StandsAlreadyError from error


def _what_stands(visit: Visit, findings: Mapping[str, Any]) -> ServiceError:
    """What already stands, as a plain answer."""
    if visit.supersedes and Visit.objects.filter(supersedes=visit.supersedes).exists():
        detail = "Another visit has corrected that one already; correct the latest."
        return WrongStateError.at("/supersedes", detail)
    own = Visit.objects.filter(author_id=visit.author_id, client_ref=visit.client_ref).first()
    if own is None:
        return AlreadyExistsError.at("/id", "A visit with this id stands.")
    detail = f"This reference stands for another visit. {way_to_correct(own.id)}"
    here = FieldProblem("/client_ref", AlreadyExistsError.code, detail)
    unlike = clashes(body_of(visit, findings), body_of(own, sent_of(own)))
    return AlreadyExistsError(detail, errors=[here, *unlike])


def _owe(visit: Visit, opening: Opening, custodian_id: UUID, followed: Followed) -> None:
    leave = partial(
        owe, site=opening.site, thing=visit.id, author=visit.author, custodian_id=custodian_id
    )
    words = {
        "site": opening.site.name,
        "opening": opening.tag,
        "location": opening.location,
        "performed_on": visit.performed_on.isoformat(),
        "performed_by": visit.author_name,
    }
    if visit.verdict == Verdict.DOES_NOT_CONFORM:
        failed = words | {"failed": _failed(visit)}
        leave(stage=Stage.TEST_FAILED, words=failed)
    if followed.proven:
        proven = words | {"proven": [d.title for d in followed.proven]}
        leave(stage=Stage.REPAIR_PROVEN, words=proven)


def _tell(visit: Visit, custodian_id: UUID, followed: Followed) -> None:
    data = {
        "visit": str(visit.id),
        "opening": str(visit.opening_id),
        "activity": visit.activity,
        "verdict": visit.verdict,
        "path": f"/v1/visits/{visit.id}",
    }
    recorded = Happening(EventType.VISIT_RECORDED, visit.id, data)
    moved = [of_deficiency(deficiency) for deficiency in followed.moved]
    tell(
        happenings=[recorded, *moved],
        site_id=visit.site_id,
        custodian_id=custodian_id,
        author=visit.author,
    )


def _failed(visit: Visit) -> list[str]:
    """Each requirement that failed, with the number, where that is written, and as what."""
    lines = []
    for verdict in visit.judgement["verdicts"]:
        if verdict["verdict"] == "does_not_conform":
            source = written_in(verdict["adopted_by"] or verdict["citation"])
            standing = "" if verdict["adoption"] == "recorded" else "; applied as reference"
            said = f"{verdict['title']}: {verdict['message']}"
            lines.append(f"{said} (Source: {source}{standing})")
    return lines


def _enter(visit: Visit, custodian_id: UUID, followed: Followed) -> None:
    content = {
        "content_sha256": visit.content_sha256,
        "judgement_sha256": canonical_digest(visit.judgement),
        "requirements_digest": visit.requirements_digest,
        "activity": visit.activity,
        "performed_at": visit.performed_at_text,
        "verdict": visit.verdict,
        "late": visit.late,
        "clock_skew_s": visit.clock_skew_s,
        "supersedes": str(visit.supersedes_id) if visit.supersedes_id else None,
    }
    lines = [LedgerLine("visit_recorded", visit.id, visit.site_id, content)]
    write_ledger(custodian_id=custodian_id, lines=[*lines, *followed.lines])
