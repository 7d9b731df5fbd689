"""Webhooks: made, changed, tried out and ended by the organization that they tell."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from doors.errors import RefusedError, WrongStateError
from doors.selectors.sandboxes import sandbox_in_hand
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.versions import change_row
from doors.tenancy import acting_for, acting_organization, current
from inspections.channels.addresses import (
    AddressRefused,
    AddressUnknown,
    Target,
    address_of,
    target_of,
)
from inspections.models import EventType, Webhook, WebhookDelivery
from inspections.services.audiences import delivery_of, payload
from inspections.services.secrets import add_secret

MOST = 20  # that one organization has at a time
ASKABLE = tuple(event for event in EventType.values if event != EventType.WEBHOOK_TESTED)
_SETTABLE = frozenset({Webhook.State.ENABLED, Webhook.State.PAUSED})


def refuse_address(url: str, organization_id: UUID) -> None:
    """Refuse now what every try would refuse again; what a sandbox names is never called.

    To be called before the transaction of the work: it may wait seconds for a name server.
    """
    target = _target(url)
    with acting_for(organization_id, write=False):
        in_sandbox = sandbox_in_hand() is not None
    if in_sandbox:
        return
    try:
        address_of(target)
    except (AddressRefused, AddressUnknown) as refused:
        raise RefusedError.at("/url", str(refused)) from refused


def _target(url: str) -> Target:
    try:
        return target_of(url)
    except AddressRefused as refused:
        raise RefusedError.at("/url", str(refused)) from refused


@transaction.atomic
def make_webhook(*, url: str, events: Collection[str], label: str = "") -> tuple[Webhook, str]:
    """Have these events told at that address; answers the secret with it, shown this once.

    Whether its name leads to a public address is asked before, by `refuse_address`.
    """
    _target(url)
    live = Webhook.objects.exclude(state=Webhook.State.ENDED)
    if live.count() >= MOST:
        raise RefusedError(f"An organization has at most {MOST} webhooks; end one first.")
    webhook = Webhook.objects.create(
        organization_id=acting_organization(),
        label=label,
        url=url,
        events=sorted(set(events)),
        created_at=current().now,
    )
    _, text = add_secret(webhook.id)
    _enter("webhook_made", webhook, {"events": webhook.events})
    return webhook, text


@transaction.atomic
def change_webhook(*, webhook_id: UUID, expected: frozenset[int] | None, **changed: Any) -> Webhook:
    """Change where, what or whether it tells. Enabling it again is up to whoever disabled it."""
    if "url" in changed:
        _target(changed["url"])
    if "events" in changed:
        changed["events"] = sorted(set(changed["events"]))
    if changed.get("state", Webhook.State.PAUSED) not in _SETTABLE:
        raise RefusedError.at("/state", "It can be set to enabled or paused.")
    _standing(webhook_id)
    row = change_row(Webhook.objects.filter(id=webhook_id), expected=expected, **changed)
    assert isinstance(row, Webhook)  # noqa: S101 (what the rows are)
    _enter("webhook_changed", row, {"changed": sorted(changed), "state": row.state})
    return row


@transaction.atomic
def end_webhook(*, webhook_id: UUID) -> Webhook:
    """End it for ever: what was on its way to it is withdrawn when its turn comes."""
    _standing(webhook_id)
    ended = {"state": Webhook.State.ENDED, "ended_at": current().now}
    row = change_row(Webhook.objects.filter(id=webhook_id), expected=None, **ended)
    assert isinstance(row, Webhook)  # noqa: S101 (what the rows are)
    _enter("webhook_ended", row, {})
    return row


@transaction.atomic
def rotate_secret(*, webhook_id: UUID) -> tuple[Webhook, str]:
    """Make another secret; for a day both sign, then the new one alone."""
    webhook = _standing(webhook_id)
    _, text = add_secret(webhook.id)
    _enter("webhook_secret_rotated", webhook, {})
    return webhook, text


@transaction.atomic
def try_webhook(*, webhook_id: UUID) -> WebhookDelivery:
    """Have one event sent that means nothing, to see that it arrives."""
    webhook = _standing(webhook_id)
    if webhook.state != Webhook.State.ENABLED:
        raise WrongStateError(f"It is {webhook.state}.")
    data = {"webhook": str(webhook.id), "path": f"/v1/webhooks/{webhook.id}"}
    type_ = EventType.WEBHOOK_TESTED
    text = payload(type_, data, current().now)
    delivery = delivery_of(webhook, uuid4(), type_, webhook.id, text)
    delivery.save(force_insert=True)
    _enter("webhook_tried", webhook, {"delivery": str(delivery.id)})
    return delivery


def _standing(webhook_id: UUID) -> Webhook:
    """One's own, not ended, locked against a change beside this one."""
    webhook = visible(Webhook.objects.select_for_update().filter(id=webhook_id))
    if webhook.state == Webhook.State.ENDED:
        raise WrongStateError("It has ended; make another.")
    return webhook


def _enter(kind: str, webhook: Webhook, content: dict[str, str | Sequence[str]]) -> None:
    line = LedgerLine(kind, webhook.id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
