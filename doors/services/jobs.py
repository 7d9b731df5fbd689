"""Long work: asked for in a request, done by a worker, watched by its id."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic
from typing import Any

from django.conf import settings
from django.db.models import F
from django.utils.module_loading import import_string

from doors.errors import ServiceError
from doors.models import Job
from doors.reactions import Event, react
from doors.services.claims import (
    Claim,
    claim_rows,
    end_claim,
    guarded,
    keep_claim,
    release_claim,
)
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up

LEASE = timedelta(minutes=10)
TURN = 20  # seconds after which work in steps makes way for others
TRIES = 5
_CRASHED = {"code": "failed", "detail": "This job failed; the operator was told."}

Work = Callable[[Job], "Mapping[str, Any] | Step"]


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
        key=current().key_id,
    )


@dataclass(frozen=True, slots=True)
class Step:
    """What work in steps answers until it is done: how far it is, and where the next step begins.

    Each step is a transaction of its own, with what it did and where it stands.
    """

    done: int
    total: int
    cursor: object


class LostClaimError(Exception):
    """The lease lapsed and another took the job: what this one did is not to stand."""


def run_waiting_jobs(*, limit: int = 5) -> int:
    """Claim waiting jobs and do them; answers how many were claimed. Safe to run twice."""
    with looking_up(Purpose.SWEEP, write=True):
        claims = claim_rows(Job, owner="organization_id", limit=limit, lease=LEASE)
        rows = Job.objects.filter(id__in=[claim.id for claim in claims])
        rests = dict(rows.values_list("id", "rests"))
    for claim in claims:
        tries = TRIES + rests[claim.id]
        guarded(Job, claim, _run, tries=tries, given_up=_tell, problem=_CRASHED)
    return len(claims)


def _run(claim: Claim) -> None:
    """Do the work and mark its end in one transaction, or step by step until others should have
    their turn; a refusal is final and kept.
    """
    began = monotonic()
    try:
        while _step(claim):
            if monotonic() - began > TURN:
                _make_way(claim)
                return
    except ServiceError as refusal:
        problem = {"code": refusal.code, "detail": refusal.detail}
        with acting_for(claim.organization_id, write=True):
            _end(claim, state=Job.State.FAILED, problem=problem)


def _step(claim: Claim) -> bool:
    """Do one step; True where there is more to do."""
    with acting_for(claim.organization_id, write=True):
        job = Job.objects.get(id=claim.id)
        work: Work = import_string(settings.JOBS[job.kind])
        found = work(job)
        if isinstance(found, Step):
            come = {"done": found.done, "total": found.total, "cursor": found.cursor}
            held = keep_claim(Job, claim, lease=LEASE, **come)
        else:
            job.refresh_from_db(fields=["total"])
            held = _end(claim, state=Job.State.DONE, result=dict(found), done=job.total)
        if not held:
            raise LostClaimError
    return isinstance(found, Step)


def _make_way(claim: Claim) -> None:
    """Wait for another turn; this is no failure, and is not counted as a try."""
    with acting_for(claim.organization_id, write=True):
        Job.objects.filter(id=claim.id).update(rests=F("rests") + 1)
        release_claim(Job, claim, wait=timedelta(0))


def _end(claim: Claim, **ended: Any) -> bool:
    held = end_claim(Job, claim, **ended)
    if held:
        _tell(claim)
    return held


def _tell(claim: Claim) -> None:
    """Let those above know, in the transaction of the end."""
    job = Job.objects.get(id=claim.id)
    if job.kind not in settings.PERSONAL_JOBS:
        react(Event.JOB_ENDED, job=job)
