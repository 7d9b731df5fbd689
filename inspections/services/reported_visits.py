"""Telling of earlier visits: kept apart, never judged, counted only where the owner says so."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.errors import (
    AlreadyExistsError,
    FutureDateError,
    NotAllowedError,
    RefusedError,
    WrongStateError,
)
from doors.models import Job, Opening, Organization, Sight
from doors.selectors.openings import lock_opening, opening_by_id
from doors.selectors.organizations import acting_party
from doors.selectors.visible import named_at
from doors.services.blobs import PICTURES, named_blob
from doors.services.jobs import ask_for_job
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.openings import opening_in_care, today_at
from doors.tenancy import acting_organization, current
from inspections.models import ReportedVisit
from inspections.selectors.reported_visits import reported_visit_by_id
from inspections.services.duties import settle_duties

SCANS = ("application/pdf", *PICTURES)


@transaction.atomic
def report_visit(
    *, opening_id: UUID, performed_on: date, scan_sha256: str = "", **told: Any
) -> ReportedVisit:
    """Keep what somebody tells of an earlier visit, by the words of the earlier record.

    `told` are the rest of the columns. Duties move where the custodian lets such visits count.
    """
    with named_at("/opening"):
        opening, sight = opening_in_care(opening_id, "record", "manage")
    if performed_on > today_at(opening.site):
        raise FutureDateError.at("/performed_on", "An earlier visit lies in the past.")
    if scan_sha256:
        named_blob(scan_sha256, SCANS, "/scan_sha256")
    author = acting_party()
    reported = ReportedVisit(
        site_id=opening.site_id,
        opening=opening,
        author=author,
        author_name=author.name,
        performed_on=performed_on,
        scan_sha256=scan_sha256,
        reported_at=current().now,
        **told,
    )
    _insert(reported)
    settle_duties(opening=opening)
    _enter(reported, sight, "visit_reported", {"told_sha256": canonical_digest(_told(reported))})
    return reported


def _told(reported: ReportedVisit) -> dict[str, str]:
    names = ("activity", "performed_by", "outcome", "outcome_words", "scan_sha256")
    told = {name: str(getattr(reported, name)) for name in names}
    return told | {"performed_on": reported.performed_on.isoformat()}


def _insert(reported: ReportedVisit) -> None:
    try:
        with transaction.atomic():
            reported.save(force_insert=True)
    except IntegrityError as error:
        detail = f"You have reported a visit as {reported.client_ref!r} already."
        raise AlreadyExistsError.at("/client_ref", detail) from error


def _enter(reported: ReportedVisit, sight: Sight, kind: str, content: dict[str, str]) -> None:
    line = LedgerLine(kind, reported.id, reported.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])


@transaction.atomic
def withdraw_reported_visit(*, reported_id: UUID, reason: str) -> ReportedVisit:
    """Take back what one has told by mistake; it stays on record and counts no more."""
    reported = reported_visit_by_id(reported_id)
    lock_opening(reported.opening_id)
    reported.refresh_from_db()
    if reported.author_id != acting_organization():
        raise NotAllowedError("Only who reported a visit withdraws it.")
    if reported.withdrawn_at is not None:
        raise WrongStateError("It is withdrawn already.")
    opening, sight = opening_in_care(reported.opening_id, "record", "manage")
    reported.withdrawn_at, reported.withdrawal_reason = current().now, reason
    reported.save(update_fields=["withdrawn_at", "withdrawal_reason"])
    settle_duties(opening=opening)
    _enter(reported, sight, "reported_visit_withdrawn", {})
    return reported


@transaction.atomic
def let_reported_visits_count(*, until: date | None) -> Organization:
    """Say up to which day reported visits meet duties at the acting owner's sites; None: none do.

    Its duties are settled anew by a job.
    """
    if "owner" not in acting_party().capabilities:
        raise RefusedError("Only an owner's sites have such a policy.")
    if until is not None and until > current().now.date():
        raise FutureDateError.at("/until", "Visits to come are recorded here, not reported.")
    own = Organization.objects.select_for_update().get(id=acting_organization())
    own.reported_visits_until, own.version = until, own.version + 1
    own.save(update_fields=["reported_visits_until", "version"])
    ask_for_job(kind="settle_organization", arguments={})
    content = {"until": until.isoformat() if until else None}
    line = LedgerLine("reported_visits_policy_set", own.id, None, content)
    write_ledger(custodian_id=own.id, lines=[line])
    return own


def settle_organization(job: Job) -> Mapping[str, Any]:
    """Settle the duties of every opening under the acting custodian. Runs in a worker."""
    own = Sight.active(acting_organization(), current().now).filter(grant=None)
    openings = Opening.objects.filter(site_id__in=own.values("site_id"))
    settled = 0
    for opening_id in list(openings.order_by("id").values_list("id", flat=True)):
        settle_duties(opening=opening_by_id(opening_id))
        settled += 1
    return {"openings": settled}
