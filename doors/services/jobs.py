"""Long work: asked for in a request, done by a worker, watched by its id."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.utils.module_loading import import_string

from doors.errors import ServiceError
from doors.models import Job
from doors.reactions import Event, react
from doors.services.claims import Claim, claim_rows, end_claim, guarded
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up

LEASE = timedelta(minutes=10)
TRIES = 5
_CRASHED = {"code": "failed", "detail": "This job failed; the operator was told."}

Work = Callable[[Job], Mapping[str, Any]]


def ask_for_job(
    *, kind: str, arguments: Mapping[str, Any], not_before: datetime | None = None
) -> Job:
    """Leave a job for a worker, at once or from an instant on; `kind` is one of settings.JOBS."""
    now = current().now
    return Job.objects.create(
        organization_id=acting_organization(),
        kind=kind,
        arguments=dict(arguments),
        created_at=now,
        not_before=not_before or now,
    )


def run_waiting_jobs(*, limit: int = 5) -> int:
    """Claim waiting jobs and do them; answers how many were claimed. Safe to run twice."""
    with looking_up(Purpose.SWEEP, write=True):
        claims = claim_rows(Job, owner="organization_id", limit=limit, lease=LEASE)
    for claim in claims:
        guarded(Job, claim, _run, tries=TRIES, given_up=_tell, problem=_CRASHED)
    return len(claims)


def _run(claim: Claim) -> None:
    """Do the work and mark its end in one transaction; a refusal is final and kept."""
    try:
        with acting_for(claim.organization_id, write=True):
            job = Job.objects.get(id=claim.id)
            work: Work = import_string(settings.JOBS[job.kind])
            result = dict(work(job))
            _end(claim, state=Job.State.DONE, result=result, done=job.total)
    except ServiceError as refusal:
        problem = {"code": refusal.code, "detail": refusal.detail}
        with acting_for(claim.organization_id, write=True):
            _end(claim, state=Job.State.FAILED, problem=problem)


def _end(claim: Claim, **ended: Any) -> None:
    if end_claim(Job, claim, **ended):
        _tell(claim)


def _tell(claim: Claim) -> None:
    """Let those above know, in the transaction of the end."""
    react(Event.JOB_ENDED, job=Job.objects.get(id=claim.id))
