"""Reported visits from a table: found again by the customer's own reference."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.errors import AlreadyExistsError, RefusedError, ServiceError
from doors.models import ImportRow, Opening, OpeningTag, Site
from doors.services.cells import Column, day, line, prose, word
from doors.services.import_kinds import Came, Kind
from doors.services.newcomers import Newcomers
from doors.tenancy import acting_organization
from inspections.models import Activity, ReportedOutcome, ReportedVisit
from inspections.services.reported_visits import report_visit, withdraw_reported_visit

_Outcome = ImportRow.Outcome


def import_reported_visit(given: dict[str, Any], site: Site | None, _: Newcomers) -> Came:
    """Tell of an earlier visit once; told again otherwise it is refused, since nothing told is
    rewritten.
    """
    assert site is not None  # noqa: S101 (rows of this kind lie in a site)
    names = {"opening_reference", "tag"}
    opening_id = _opening(given, site)
    told = {name: value for name, value in given.items() if name not in names}
    known = ReportedVisit.objects.filter(
        author_id=acting_organization(), client_ref=given["client_ref"]
    ).first()
    if known is None:
        return Came(_Outcome.CREATED, report_visit(opening_id=opening_id, **told).id)
    same = all(getattr(known, name) == value for name, value in told.items())
    if not same or known.opening_id != opening_id:
        raise AlreadyExistsError.at("/client_ref", "It was told otherwise: withdraw that first.")
    return Came(_Outcome.UNCHANGED, known.id)


def _opening(given: dict[str, Any], site: Site) -> UUID:
    """The door, by its reference or by the tag that it bore on the day of the visit."""
    if "opening_reference" in given:
        rows = Opening.objects.filter(site=site, reference=given["opening_reference"])
        found = list(rows.order_by("-created_at").values_list("id", flat=True)[:1])
    elif "tag" in given:
        borne = OpeningTag.objects.filter(site=site, tag=given["tag"])
        on = given["performed_on"]
        days = borne.order_by("begins_on").values_list("opening_id", "begins_on", "ends_on")
        found = [id_ for id_, begins, ends in days if begins <= on and (ends is None or on < ends)]
        found = found or [id_ for id_, _, _ in days[:1]]  # a door is older than its record
    else:
        raise RefusedError.at("/tag", "Name the door, by opening_reference or by tag.")
    if not found:
        pointer = "/opening_reference" if "opening_reference" in given else "/tag"
        raise RefusedError.at(pointer, "No door of this site is called so.")
    return found[0]


def take_back_reports(reported_ids: Collection[UUID], reason: str) -> dict[UUID, ServiceError]:
    """Withdraw reports; each stays on record and counts no more."""
    stay: dict[UUID, ServiceError] = {}
    for reported_id in reported_ids:
        try:
            with transaction.atomic():
                withdraw_reported_visit(reported_id=reported_id, reason=reason)
        except ServiceError as refused:
            stay[reported_id] = refused
    return stay


def known_reports(_site_id: UUID | None) -> set[str]:
    """References of reports are the customer's own texts; none is taken for another."""
    return set()


REPORTED_VISITS = Kind(
    columns=(
        Column("site_reference", line(100), "the site's reference, unless one is named", "H-01"),
        Column("client_ref", line(100), "your own reference of the visit", "b3-12", required=True),
        Column("opening_reference", line(100), "your reference of the door", "00417"),
        Column("tag", line(60), "or the tag it bore that day"),
        Column("activity", word(*Activity.values), f"one of {', '.join(Activity.values)}",
               "periodic_inspection", required=True),
        Column("performed_on", day, "the day of it", "2024-05-03", required=True),
        Column("performed_by", line(200), "who performed it", "A former firm", required=True),
        Column("outcome", word(*ReportedOutcome.values),
               f"one of {', '.join(ReportedOutcome.values)}", "no_fault_reported", required=True),
        Column("outcome_words", prose(2000), "in the record's own words"),
        Column("scan_sha256", line(64), "SHA-256 of its scan, sent to /v1/blobs"),
    ),
    apply=import_reported_visit,
    known=known_reports,
    in_site=True,
    take_back=take_back_reports,
    reference="client_ref",
)  # fmt: skip
