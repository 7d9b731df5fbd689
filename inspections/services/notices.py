"""Delivering notices: claimed, then sent, then marked, so that a kill in between tells.

A notice is marked as being sent, in a transaction of its own, before the provider is called. If
the process dies between the provider's answer and ours, nobody can tell whether it went out: the
notice is then `unknown` and shown to a person; it is never sent again by itself.
"""

from __future__ import annotations

import random
from datetime import timedelta

import structlog

from doors.channels.email import Undeliverable
from doors.selectors.sandboxes import sandbox_in_hand
from doors.selectors.sight import custodian_of
from doors.services.claims import (
    Claim,
    begin_sending,
    claim_rows,
    end_claim,
    guarded,
    release_claim,
)
from doors.services.sandboxed import keep_mail
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.channels.email import message_for, send_email
from inspections.models import Notice
from inspections.services.custody import retarget

LEASE = timedelta(minutes=2)
TRIES = 10
FIRST_WAIT, LONGEST_WAIT = 5, 3600  # seconds; full jitter between nothing and the wait
log = structlog.get_logger(__name__)


def deliver_waiting_notices(*, limit: int = 50) -> int:
    """Claim waiting notices and deliver them; answers how many were claimed."""
    with looking_up(Purpose.SWEEP, write=True):
        _give_up_unanswered()
        claims = claim_rows(Notice, owner="organization_id", limit=limit, lease=LEASE)
    for claim in claims:
        guarded(Notice, claim, _deliver, tries=TRIES)
    return len(claims)


def _give_up_unanswered() -> None:
    """A notice whose worker died while sending may have gone out: only a person can tell."""
    lost = Notice.objects.filter(state=Notice.State.SENDING, leased_until__lt=current().now)
    count = lost.update(
        state=Notice.State.UNKNOWN,
        ended_at=current().now,
        leased_until=None,
        problem="its worker died while sending it; it may have gone out",
    )
    if count:
        log.error("notices_unknown", count=count)


def _deliver(claim: Claim) -> None:
    if not _still_theirs(claim):
        return
    with acting_for(claim.organization_id, write=True):
        if not begin_sending(Notice, claim, lease=LEASE):
            return
        notice = Notice.objects.select_related("person").get(id=claim.id)
        sandbox_id = sandbox_in_hand()
        if sandbox_id is not None:
            keep_mail(sandbox_id, message_for(notice))
            end_claim(Notice, claim, state=Notice.State.DONE, problem="kept, not sent")
            return
    try:
        send_email(notice)
    except Undeliverable as failure:
        _not_sent(claim, failure)
        return
    with acting_for(claim.organization_id, write=True):
        held = end_claim(Notice, claim, state=Notice.State.DONE)
    log.info("notice_sent", notice_id=str(claim.id), attempt=claim.attempt, held=held)


def _still_theirs(claim: Claim) -> bool:
    """Whether its site is still theirs; if not, it is told to the present custodian instead."""
    with looking_up(Purpose.SWEEP):
        site_id = Notice.objects.values_list("owing__site_id", flat=True).get(id=claim.id)
    if custodian_of(site_id) == claim.organization_id:
        return True
    retarget(site_id=site_id)
    return False


def _not_sent(claim: Claim, failure: Undeliverable) -> None:
    with acting_for(claim.organization_id, write=True):
        if failure.permanent or claim.attempt >= TRIES:
            log.error("notice_failed", notice_id=str(claim.id), attempt=claim.attempt)
            state = Notice.State.FAILED
            end_claim(Notice, claim, state=state, problem=str(failure)[:500])
            return
        longest = min(LONGEST_WAIT, FIRST_WAIT * 2**claim.attempt)
        wait = timedelta(seconds=random.uniform(0, longest))  # noqa: S311 - jitter, no secret
        release_claim(Notice, claim, wait=wait)
