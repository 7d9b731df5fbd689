"""Reported visits, and which of them count."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet

from doors.models import Opening, Organization
from doors.selectors.visible import visible
from doors.tenancy import acting_organization
from inspections.models import ReportedVisit


def reported_visit_by_id(reported_id: UUID) -> ReportedVisit:
    """The reported visit, or nothing by this address."""
    return visible(ReportedVisit.objects.filter(id=reported_id))


def counting_visits(opening: Opening) -> QuerySet[ReportedVisit]:
    """The reported visits of an opening that meet duties, by the policy of the acting custodian,
    in whoever's words it acts: those performed by its day that nobody has withdrawn.
    """
    custodian = Organization.objects.filter(id=acting_organization())
    until = custodian.values_list("reported_visits_until", flat=True).get()
    rows = ReportedVisit.objects.filter(opening=opening, withdrawn_at=None)
    counted = rows.filter(performed_on__lte=until) if until else rows.none()
    return counted.order_by("performed_on", "reported_at", "id")
