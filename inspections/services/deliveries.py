"""Delivering to webhooks: claimed, written down, sent, settled.

Every try bears the same id, so a try that may have arrived is simply made again: the receiver
knows the repetition. What became of a try whose worker died is `unknown`, and counted as such.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import Any
from uuid import UUID

import structlog
from django.db.models import F, Q

from doors.errors import WrongStateError
from doors.selectors.sandboxes import sandbox_in_hand
from doors.selectors.visible import visible
from doors.services.claims import (
    Claim,
    begin_sending,
    claim_rows,
    end_claim,
    guarded,
    release_claim,
)
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.sandboxed import keep_webhook
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up
from inspections.channels.signatures import signature_headers
from inspections.channels.webhooks import NotReached, post
from inspections.models import Stage, Webhook, WebhookAttempt, WebhookDelivery
from inspections.models.webhooks import TRIES
from inspections.services.audiences import may_hear
from inspections.services.owings import owe_own
from inspections.services.secrets import live_secrets

LEASE = timedelta(minutes=5)  # for a batch of tries that may each take their whole time
AT_A_TIME = 10
WAITS = (5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)  # seconds after each try
JITTER = 0.1  # of the wait, either way
CRASHES = 100  # of our own, which are not tries
SILENT = timedelta(minutes=5)  # for how long a receiver that did not answer is left alone
GONE = 410
State, Outcome = WebhookDelivery.State, WebhookAttempt.Outcome
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class _Letter:
    """One try, ready to go."""

    delivery: WebhookDelivery
    url: str
    body: bytes
    headers: dict[str, str]
    sandbox_id: UUID | None


@dataclass(frozen=True, slots=True)
class _Answer:
    """What is known of one try."""

    outcome: str
    status: int | None = None
    problem: str = ""


def deliver_waiting_webhooks(*, limit: int = AT_A_TIME) -> int:
    """Claim waiting deliveries and send them; answers how many were claimed.

    A receiver that lets one wait takes the time of everybody's workers: one of them at a time has
    to do with it, and after one try without an answer all that waits for it waits longer.
    """
    with looking_up(Purpose.SWEEP, write=True) as context:
        _take_up_unanswered()
        under_way = WebhookDelivery.objects.filter(
            state__in=(State.CLAIMED, State.SENDING), leased_until__gt=context.now
        )
        free = WebhookDelivery.objects.exclude(webhook_id__in=under_way.values("webhook_id"))
        claims = claim_rows(
            WebhookDelivery,
            owner="organization_id",
            limit=limit,
            lease=LEASE,
            id__in=free.filter(WebhookDelivery.takeable(context.now)).values("id"),
        )
    deliver = partial(_deliver, silent=set[UUID]())
    for claim in claims:
        guarded(WebhookDelivery, claim, deliver, tries=CRASHES, problem="it cannot be sent")
    return len(claims)


def _take_up_unanswered() -> None:
    """A try whose worker died while sending may have arrived: it is unknown, and made again."""
    now = current().now
    lost = WebhookDelivery.objects.filter(state=State.SENDING, leased_until__lt=now)
    ids = list(lost.values_list("id", flat=True))
    if not ids:
        return
    WebhookAttempt.objects.filter(delivery__in=ids, ended_at=None).update(
        outcome=Outcome.UNKNOWN, ended_at=now, problem="its worker died; it may have arrived"
    )
    held = WebhookDelivery.objects.filter(id__in=ids, state=State.SENDING, leased_until__lt=now)
    held.filter(attempt__gte=F("last_try")).update(
        state=State.UNKNOWN, ended_at=now, leased_until=None, problem="its last try is unknown"
    )
    held.filter(attempt__lt=F("last_try")).update(
        state=State.WAITING, not_before=now, leased_until=None
    )
    log.warning("webhook_tries_unknown", count=len(ids))


def _deliver(claim: Claim, *, silent: set[UUID]) -> None:
    with acting_for(claim.organization_id, write=True):
        letter = None if _put_off(claim, silent) else _letter(claim)
    if letter is None:
        return
    if letter.sandbox_id is not None:
        with acting_for(claim.organization_id, write=True):
            _keep(letter.sandbox_id, letter)
            _settle(claim, letter.delivery, _Answer(Outcome.ACCEPTED, problem="kept, not sent"))
        return
    answer = _sent(letter)
    with acting_for(claim.organization_id, write=True):
        _settle(claim, letter.delivery, answer)
        if answer.outcome == Outcome.FAILED:
            silent.add(letter.delivery.webhook_id)
            _leave_alone(letter.delivery)
    log.info("webhook_tried", delivery_id=str(claim.id), outcome=answer.outcome)


def _put_off(claim: Claim, silent: set[UUID]) -> bool:
    """Give back, as not tried, what is for a receiver that has just not answered."""
    rows = WebhookDelivery.objects.filter(id=claim.id, webhook_id__in=silent)
    if not rows.update(last_try=F("last_try") + 1):
        return False
    release_claim(WebhookDelivery, claim, wait=SILENT)
    return True


def _leave_alone(tried: WebhookDelivery) -> None:
    """Let wait what else waits for a receiver that did not answer."""
    until = current().now + SILENT
    waiting = WebhookDelivery.objects.filter(webhook_id=tried.webhook_id, state=State.WAITING)
    waiting.filter(not_before__lt=until).exclude(id=tried.id).update(not_before=until)


def _letter(claim: Claim) -> _Letter | None:
    """The try to make, written down; None where there is no reason for it any more."""
    delivery = WebhookDelivery.objects.select_related("webhook").get(id=claim.id)
    webhook = delivery.webhook
    why = _withdrawn(delivery)
    if why:
        end_claim(WebhookDelivery, claim, state=State.WITHDRAWN, problem=why)
        return None
    if not begin_sending(WebhookDelivery, claim, lease=LEASE):
        return None
    now, body = current().now, delivery.payload.encode()
    WebhookAttempt.objects.create(
        organization_id=claim.organization_id,
        delivery=delivery,
        number=claim.attempt,
        begun_at=now,
    )
    headers = signature_headers(
        message_id=delivery.id, at=now, body=body, by=live_secrets(webhook.id)
    )
    if delivery.request_id:
        headers = {**headers, "X-Request-Id": str(delivery.request_id)}
    return _Letter(delivery, webhook.url, body, dict(headers), sandbox_in_hand())


def _withdrawn(delivery: WebhookDelivery) -> str:
    if delivery.webhook.state != Webhook.State.ENABLED:
        return f"the webhook is {delivery.webhook.state}"
    if not may_hear(delivery.type, delivery.thing, delivery.of_site):
        return "you have no sight of what this is about any more"
    return ""


def _keep(sandbox_id: UUID, letter: _Letter) -> None:
    text = letter.delivery.payload
    keep_webhook(sandbox_id, url=letter.url, headers=letter.headers, body=text)


def _sent(letter: _Letter) -> _Answer:
    try:
        status = post(letter.url, letter.body, letter.headers)
    except NotReached as failure:
        return _Answer(Outcome.FAILED, problem=str(failure))
    if 200 <= status < 300:  # noqa: PLR2004
        return _Answer(Outcome.ACCEPTED, status)
    followed = "; redirects are not followed" if 300 <= status < 400 else ""  # noqa: PLR2004
    return _Answer(Outcome.REFUSED, status, f"it answered {status}{followed}")


def _settle(claim: Claim, delivery: WebhookDelivery, answer: _Answer) -> None:
    """Write what became of a try, and what follows; a late one, whose claim lapsed, only that."""
    WebhookAttempt.objects.filter(delivery=delivery, number=claim.attempt, ended_at=None).update(
        outcome=answer.outcome,
        status=answer.status,
        problem=answer.problem,
        ended_at=current().now,
    )
    if answer.outcome == Outcome.ACCEPTED:
        end_claim(WebhookDelivery, claim, state=State.DONE, problem=answer.problem)
    elif answer.status == GONE:
        _disable(delivery.webhook)
        end_claim(WebhookDelivery, claim, state=State.FAILED, problem=answer.problem)
    elif claim.attempt >= delivery.last_try:
        if end_claim(WebhookDelivery, claim, state=State.FAILED, problem=answer.problem):
            _tell_people(delivery.webhook, answer.problem)
    else:
        release_claim(WebhookDelivery, claim, wait=_wait(claim, delivery))


def _wait(claim: Claim, delivery: WebhookDelivery) -> timedelta:
    tried = claim.attempt - (delivery.last_try - TRIES)
    seconds = WAITS[min(max(tried, 1), len(WAITS)) - 1]
    return timedelta(seconds=seconds * random.uniform(1 - JITTER, 1 + JITTER))  # noqa: S311 - no secret


def _disable(webhook: Webhook) -> None:
    """410 says: never again. Nothing more is sent there until its owner enables it."""
    enabled = Webhook.objects.filter(id=webhook.id, state=Webhook.State.ENABLED)
    if enabled.update(state=Webhook.State.DISABLED, version=F("version") + 1):
        webhook.refresh_from_db()
        _tell_people(webhook, "it answered 410, and is disabled")
        line = LedgerLine("webhook_disabled", webhook.id, None, {"status": GONE})
        write_ledger(custodian_id=acting_organization(), lines=[line])


def _tell_people(webhook: Webhook, problem: str) -> None:
    """Once for each version of a webhook: a receiver that is down does not fill a mailbox."""
    words = {"label": webhook.label, "url": webhook.url, "problem": problem, "tries": TRIES}
    owe_own(
        stage=Stage.WEBHOOK_FAILED, thing=webhook.id, thing_version=webhook.version, words=words
    )


ENDED = (State.DONE, State.FAILED, State.WITHDRAWN, State.UNKNOWN)


def deliver_again(*, delivery_id: UUID) -> WebhookDelivery:
    """Ask for a delivery once more, with all its tries; it keeps its id."""
    row = visible(WebhookDelivery.objects.select_related("webhook").filter(id=delivery_id))
    if row.webhook.state != Webhook.State.ENABLED:
        raise WrongStateError(f"Its webhook is {row.webhook.state}.")
    asked = Q(id=delivery_id, state__in=ENDED)
    again: dict[str, Any] = {"ended_at": None, "problem": "", "not_before": current().now}
    if not WebhookDelivery.objects.filter(asked).update(
        state=State.WAITING, last_try=F("attempt") + TRIES, **again
    ):
        raise WrongStateError("It is on its way already.")
    line = LedgerLine("webhook_redelivery_asked", delivery_id, None, {"type": row.type})
    write_ledger(custodian_id=acting_organization(), lines=[line])
    return WebhookDelivery.objects.prefetch_related("attempts").get(id=delivery_id)
