"""When a site passes to another owner, what is still to be told is told to the new one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from doors.clock import start_of_day
from doors.models import Job, Site
from doors.selectors.sight import custodian_of
from doors.services.jobs import ask_for_job
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.models import Duty, Notice, Owing

_OUT = (  # may have reached somebody, or is known to have reached nobody
    Notice.State.SENDING,
    Notice.State.DONE,
    Notice.State.UNKNOWN,
    Notice.State.FAILED,
)
_PASSED = "the site passed to another owner before it was sent"


def pass_on(*, site: Site, begins_on: date) -> None:
    """Retarget in this transaction where custody passes today; else as it does, by a job."""
    at = start_of_day(begins_on, site.time_zone)
    if at > current().now:
        ask_for_job(kind="pass_on", arguments={"site": str(site.id)}, not_before=at)
    else:
        retarget(site_id=site.id)


def pass_on_later(job: Job) -> Mapping[str, Any]:
    """Retarget what waits at a site, once its custody has passed. Runs in a worker."""
    return {"withdrawn": retarget(site_id=UUID(job.arguments["site"]))}


def retarget(*, site_id: UUID) -> int:
    """Withdraw what waits to be told to anybody but the present custodian, and owe it to that
    one instead; answers how many were withdrawn. What a former owner was told already is told
    to no other: nobody gets a notice of one thing twice.
    """
    custodian_id = custodian_of(site_id)
    with looking_up(Purpose.SWEEP, write=True) as context:
        others = Notice.objects.filter(owing__site_id=site_id).exclude(organization_id=custodian_id)
        waiting = others.filter(state=Notice.State.WAITING)
        owed = set(waiting.values_list("owing_id", flat=True))
        told = set(others.filter(state__in=_OUT).values_list("owing_id", flat=True))
        withdrawn = waiting.update(
            state=Notice.State.WITHDRAWN, ended_at=context.now, problem=_PASSED
        )
        Owing.objects.filter(id__in=owed - told, state=Owing.State.DONE).update(
            state=Owing.State.WAITING, not_before=context.now, ended_at=None
        )
    with acting_for(custodian_id, write=True) as context:  # whose policy holds from now on
        Duty.objects.filter(site_id=site_id).update(look_at=context.now)
    return withdrawn
