"""When an authority publishes, or a boundary moves, duties move with it, as a job."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from doors.clock import start_of_day
from doors.models import Job, Jurisdiction, Opening, Site, SitePlace
from doors.selectors.sight import custodian_of
from doors.services.jobs import ask_for_job
from doors.services.versions import change_row
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.services.duties import settle_duties


def settle_places(job: Job) -> Mapping[str, Any]:
    """Settle the duties of every opening lying in the jurisdiction or below it, each as its
    custodian. Runs in a worker; settling twice changes nothing.
    """
    sites = _sites_in(UUID(job.arguments["jurisdiction"]))
    settled = [_settle(owner_id, site_id) for owner_id, site_id in _custodians(sites)]
    return {"openings": sum(settled)}


def ask_to_settle_site(*, site: Site, begins_on: date) -> None:
    """Leave the settling of a site's duties, from the day its places change, to a worker."""
    at = max(current().now, start_of_day(begins_on, site.time_zone))
    ask_for_job(kind="settle_site", arguments={"site": str(site.id)}, not_before=at)


def settle_site(job: Job) -> Mapping[str, Any]:
    """Settle the duties of every opening of one site as its custodian. Runs in a worker."""
    site_id = UUID(job.arguments["site"])
    return {"openings": _settle(custodian_of(site_id), site_id)}


def _settle(owner_id: UUID, site_id: UUID) -> int:
    with acting_for(owner_id, write=True):
        openings = list(Opening.objects.filter(site_id=site_id).select_related("site"))
        for opening in openings:
            settle_duties(opening=opening)
    return len(openings)


def settle_opening(job: Job) -> Mapping[str, Any]:
    """Settle one opening on the day from which a change announced before holds, as its custodian
    then; what is shown of it changes with the day, so its version rises.
    """
    with acting_for(custodian_of(UUID(job.arguments["site"])), write=True):
        rows = Opening.objects.select_related("site").filter(id=UUID(job.arguments["opening"]))
        change_row(rows, expected=None, changed_at=current().now)
        settle_duties(opening=rows.get())
    return {"openings": 1}


def _sites_in(jurisdiction_id: UUID) -> set[UUID]:
    with looking_up(Purpose.SWEEP):
        places, frontier = {jurisdiction_id}, {jurisdiction_id}
        while frontier:
            below = Jurisdiction.objects.filter(parent__in=frontier).values_list("id", flat=True)
            frontier = set(below) - places
            places |= frontier
        today = current().now.date() - timedelta(days=1)  # the earliest day anywhere
        rows = SitePlace.objects.filter(jurisdiction__in=places).exclude(ends_on__lt=today)
        return set(rows.values_list("site_id", flat=True))


def _custodians(sites: set[UUID]) -> list[tuple[UUID, UUID]]:
    return sorted((custodian_of(site_id), site_id) for site_id in sites)
