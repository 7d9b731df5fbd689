"""Long work: asked for in a request, done by a worker, watched by its id."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

import structlog
from django.conf import settings
from django.utils.module_loading import import_string

from doors.errors import ServiceError
from doors.models import Job
from doors.services.claims import Claim, claim_rows, end_claim, release_claim
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up

LEASE = timedelta(minutes=10)
TRIES = 5
log = structlog.get_logger(__name__)

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
        _run(claim)
    return len(claims)


def _run(claim: Claim) -> None:
    """Do the work and mark its end in one transaction; a refusal is kept, a crash tried again."""
    try:
        with acting_for(claim.organization_id, write=True):
            job = Job.objects.get(id=claim.id)
            work: Work = import_string(settings.JOBS[job.kind])
            result = dict(work(job))
            end_claim(Job, claim, state=Job.State.DONE, result=result, done=job.total)
    except ServiceError as refusal:
        _fail(claim, {"code": refusal.code, "detail": refusal.detail})
    except Exception:
        log.exception("job_failed", job_id=str(claim.id), attempt=claim.attempt)
        if claim.attempt >= TRIES:
            _fail(claim, {"code": "failed", "detail": "This job failed; the operator was told."})
        else:
            with acting_for(claim.organization_id, write=True):
                release_claim(Job, claim, wait=timedelta(seconds=2**claim.attempt))


def _fail(claim: Claim, problem: dict[str, str]) -> None:
    with acting_for(claim.organization_id, write=True):
        end_claim(Job, claim, state=Job.State.FAILED, problem=problem)
