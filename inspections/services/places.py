"""When an authority publishes, the duties of the openings in its place move, as a job."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from doors.models import Custody, Job, Jurisdiction, Opening, SitePlace
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.services.duties import settle_duties


def settle_places(job: Job) -> Mapping[str, Any]:
    """Settle the duties of every opening lying in the jurisdiction or below it, each as its
    custodian. Runs in a worker; settling twice changes nothing.
    """
    sites = _sites_in(UUID(job.arguments["jurisdiction"]))
    settled = 0
    for owner_id, site_id in _custodians(sites):
        with acting_for(owner_id, write=True):
            for opening in Opening.objects.filter(site_id=site_id).select_related("site"):
                settle_duties(opening=opening)
                settled += 1
    return {"openings": settled}


def _sites_in(jurisdiction_id: UUID) -> set[UUID]:
    with looking_up(Purpose.SWEEP):
        places, frontier = {jurisdiction_id}, {jurisdiction_id}
        while frontier:
            below = Jurisdiction.objects.filter(parent__in=frontier).values_list("id", flat=True)
            frontier = set(below) - places
            places |= frontier
        rows = SitePlace.objects.filter(jurisdiction__in=places, ends_on=None)
        return set(rows.values_list("site_id", flat=True))


def _custodians(sites: set[UUID]) -> list[tuple[UUID, UUID]]:
    with looking_up(Purpose.CUSTODY):
        held = Custody.objects.filter(site__in=sites, begins_on__lte=current().now.date())
        return sorted(held.filter(ends_on=None).values_list("owner_id", "site_id"))
