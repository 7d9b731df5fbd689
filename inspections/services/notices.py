"""Delivering notices: claimed, then sent, then marked, so that a kill in between tells.

A message is marked as being sent, in a transaction of its own, before the provider is called. If
the process dies between the provider's answer and ours, nobody can tell whether it went out: its
notices are then `unknown` and shown to a person; they are never sent again by themselves.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import timedelta

import structlog
from django.core.mail import EmailMessage

from doors.channels.email import Undeliverable, hand_over
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
from inspections.channels.email import message_for
from inspections.models import Delivery, Notice
from inspections.services.custody import retarget
from inspections.services.ladders import hasten
from inspections.services.withdrawals import reasons_gone, reasons_unwanted, withdraw_row

LEASE = timedelta(minutes=2)
TRIES = 10
FIRST_WAIT, LONGEST_WAIT = 5, 3600  # seconds; full jitter between nothing and the wait
State = Notice.State
log = structlog.get_logger(__name__)


def deliver_waiting_notices(*, limit: int = 50) -> int:
    """Claim waiting messages and deliver them; answers how many were claimed."""
    with looking_up(Purpose.SWEEP, write=True):
        _give_up_unanswered()
        claims = claim_rows(Delivery, owner="organization_id", limit=limit, lease=LEASE)
    for claim in claims:
        guarded(Delivery, claim, _deliver, tries=TRIES, given_up=_fail)
    return len(claims)


def _give_up_unanswered() -> None:
    """A message whose worker died while sending may have gone out: only a person can tell."""
    now = current().now
    lost = Delivery.objects.filter(state=State.SENDING, leased_until__lt=now)
    ids = list(lost.values_list("id", flat=True))
    if not ids:
        return
    unknown = {
        "state": State.UNKNOWN,
        "ended_at": now,
        "problem": "its worker died while sending it; it may have gone out",
    }
    held = Delivery.objects.filter(id__in=ids, state=State.SENDING, leased_until__lt=now)
    count = held.update(**unknown, leased_until=None)
    given_up = Delivery.objects.filter(id__in=ids, state=State.UNKNOWN)
    Notice.objects.filter(delivery__in=given_up, state=State.SENDING).update(**unknown)
    log.error("notices_unknown", count=count)


def _deliver(claim: Claim) -> None:
    _retarget_passed(claim)
    with acting_for(claim.organization_id, write=True):
        message = _message(claim)
        if message is None:
            return
        sandbox_id = sandbox_in_hand()
        if sandbox_id is not None:
            keep_mail(sandbox_id, message)
            _end(claim, State.DONE, "kept, not sent")
            return
    try:
        hand_over(message)
    except Undeliverable as failure:
        _not_sent(claim, failure)
        return
    with acting_for(claim.organization_id, write=True):
        held = _end(claim, State.DONE)
    log.info("notice_sent", delivery_id=str(claim.id), attempt=claim.attempt, held=held)


def _retarget_passed(claim: Claim) -> None:
    """What is about a site that is theirs no more is told to its present custodian instead."""
    with looking_up(Purpose.SWEEP):
        waiting = Notice.objects.filter(delivery_id=claim.id, state=State.WAITING)
        sites = set(waiting.values_list("owing__site_id", flat=True)) - {None}
    for site_id in sites:
        if custodian_of(site_id) != claim.organization_id:
            retarget(site_id=site_id)


def _message(claim: Claim) -> EmailMessage | None:
    """The message with what is still to be told in it; None where nothing is."""
    delivery = Delivery.objects.select_related("person").get(id=claim.id)
    notices = _standing(delivery)
    if not notices:
        why = "nothing in it is to be told any more"
        end_claim(Delivery, claim, state=State.WITHDRAWN, problem=why)
        return None
    if not begin_sending(Delivery, claim, lease=LEASE):
        return None
    ids = [notice.id for notice in notices]
    Notice.objects.filter(id__in=ids).update(state=State.SENDING)
    return message_for(delivery, notices)


def _standing(delivery: Delivery) -> Sequence[Notice]:
    """What waits in a message, without that of which the reason has gone: it is withdrawn."""
    rows = Notice.objects.filter(delivery=delivery, state=State.WAITING)
    notices = list(rows.select_related("person", "owing").order_by("created_at", "id"))
    gone = reasons_unwanted(notices) | reasons_gone(notices)
    for notice in notices:
        if notice.id in gone:
            withdraw_row(notice, gone[notice.id])
    return [notice for notice in notices if notice.id not in gone]


def _end(claim: Claim, state: str, problem: str = "") -> bool:
    """Write the outcome of a message and of what it carried, if this attempt still holds it."""
    held = end_claim(Delivery, claim, state=state, problem=problem)
    if held:
        Notice.objects.filter(delivery_id=claim.id, state=State.SENDING).update(
            state=state, ended_at=current().now, problem=problem
        )
    return held


def _not_sent(claim: Claim, failure: Undeliverable) -> None:
    with acting_for(claim.organization_id, write=True):
        if failure.permanent or claim.attempt >= TRIES:
            log.error("notice_failed", delivery_id=str(claim.id), attempt=claim.attempt)
            _end(claim, State.FAILED, str(failure)[:500])
            hasten(Notice.objects.filter(delivery_id=claim.id))
            return
        longest = min(LONGEST_WAIT, FIRST_WAIT * 2**claim.attempt)
        wait = timedelta(seconds=random.uniform(0, longest))  # noqa: S311 - jitter, no secret
        if release_claim(Delivery, claim, wait=wait):
            carried = Notice.objects.filter(delivery_id=claim.id, state=State.SENDING)
            carried.update(state=State.WAITING)


def _fail(claim: Claim) -> None:
    """A message that could not even be made, however often it was tried."""
    carried = Notice.objects.filter(delivery_id=claim.id, state=State.WAITING)
    problem = "the message could not be made"
    carried.update(state=State.FAILED, ended_at=current().now, problem=problem)
    hasten(Notice.objects.filter(delivery_id=claim.id))
