"""Who hears of an event: asked when it is expanded, and again before each try to deliver it."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q

from doors.models import Grant, Job, Sight
from doors.services.claims import Claim, end_claim
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up
from doors.tracing import request_id
from inspections.models import (
    Deficiency,
    Duty,
    EventType,
    Filing,
    Forecast,
    Owing,
    Visit,
    Webhook,
    WebhookDelivery,
)


def expand_event(claim: Claim, owing: Owing) -> None:
    """Make one delivery for each webhook of each organization that asked for it and may hear."""
    listening = _listening(owing)
    with transaction.atomic():
        with acting_for(claim.organization_id, write=True):
            if not end_claim(Owing, claim, state=Owing.State.DONE):
                return
        for organization_id in listening:
            with acting_for(organization_id, write=True):
                _prepare(owing)


def _listening(owing: Owing) -> list[UUID]:
    """Organizations concerned that have a live webhook for such an event, in a fixed order."""
    concerned = {UUID(party) for party in owing.parties}
    concerned |= {owing.custodian_id} if owing.site_id is None else _seers(owing.site_id)
    with looking_up(Purpose.SWEEP):
        live = Webhook.objects.filter(organization__in=concerned, state=Webhook.State.ENABLED)
        asked = [w.organization_id for w in live if owing.stage in w.events]
    return sorted(set(asked))


def _seers(site_id: UUID) -> set[UUID]:
    """Who has sight of a site now."""
    with looking_up(Purpose.CUSTODY) as context:
        running = Q(ends_at=None) | Q(ends_at__gt=context.now)
        rows = Sight.objects.filter(running, site_id=site_id, begins_at__lte=context.now)
        return set(rows.values_list("organization_id", flat=True))


def _prepare(owing: Owing) -> None:
    if not may_hear(owing.stage, owing.thing, owing.site_id):
        return
    text = payload(owing.stage, owing.words, owing.created_at)
    WebhookDelivery.objects.bulk_create(
        [
            delivery_of(webhook, owing.id, owing.stage, owing.thing, text, site_id=owing.site_id)
            for webhook in Webhook.objects.filter(state=Webhook.State.ENABLED)
            if owing.stage in webhook.events
        ],
        ignore_conflicts=True,
    )


def delivery_of(
    webhook: Webhook,
    event: UUID,
    type_: str,
    thing: UUID,
    text: str,
    *,
    site_id: UUID | None = None,
) -> WebhookDelivery:
    """One delivery, due at once."""
    return WebhookDelivery(
        organization_id=webhook.organization_id,
        webhook=webhook,
        event=event,
        type=type_,
        thing=thing,
        of_site=site_id,
        payload=text,
        created_at=current().now,
        not_before=current().now,
    )


def payload(type_: str, data: dict[str, Any], happened_at: datetime) -> str:
    """The text that is sent: what happened, when, ids and where to read; no record's content."""
    told = {name: value for name, value in data.items() if name != "path"}
    request = request_id()
    content = {
        "type": type_,
        "timestamp": happened_at.isoformat().replace("+00:00", "Z"),
        "data": told | {"link": f"{settings.PUBLIC_URL}{data['path']}"},
        "request_id": str(request) if request else None,
    }
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"))


def may_hear(type_: str, thing: UUID, site_id: UUID | None) -> bool:
    """Whether the acting organization may know of the thing now, by the walls themselves."""
    return _VISIBLE[EventType(type_)](thing, site_id)


def _in_sight(site_id: UUID | None) -> bool:
    """Sight of the site today: what one wrote there under a grant that has ended is not told."""
    if site_id is None:
        return False
    return Sight.active(acting_organization(), current().now).filter(site_id=site_id).exists()


def _visit(thing: UUID, site_id: UUID | None) -> bool:
    return _in_sight(site_id) and Visit.objects.filter(id=thing).exists()


def _deficiency(thing: UUID, site_id: UUID | None) -> bool:
    return _in_sight(site_id) and Deficiency.objects.filter(id=thing).exists()


def _duty(thing: UUID, site_id: UUID | None) -> bool:
    return Duty.objects.filter(id=thing).exists()


def _forecast(thing: UUID, site_id: UUID | None) -> bool:
    return _in_sight(site_id) and Forecast.objects.filter(id=thing).exists()


def _filing(thing: UUID, site_id: UUID | None) -> bool:
    filings = Filing.objects.filter(id=thing)
    to_us = filings.filter(authority_id=acting_organization()).exists()
    return to_us or (_in_sight(site_id) and filings.exists())


def _grant(thing: UUID, site_id: UUID | None) -> bool:
    return Grant.objects.filter(id=thing).exists()


def _job(thing: UUID, site_id: UUID | None) -> bool:
    return Job.objects.filter(id=thing).exists()


def _webhook(thing: UUID, site_id: UUID | None) -> bool:
    return Webhook.objects.filter(id=thing).exists()


_VISIBLE: dict[EventType, Callable[[UUID, UUID | None], bool]] = {
    EventType.VISIT_RECORDED: _visit,
    EventType.DEFICIENCY_OPENED: _deficiency,
    EventType.DEFICIENCY_REPAIRED: _deficiency,
    EventType.DEFICIENCY_PROVEN: _deficiency,
    EventType.DEFICIENCY_WITHDRAWN: _deficiency,
    EventType.TREND_EXPECTED: _forecast,
    EventType.SUBMITTAL_FILED: _filing,
    EventType.SUBMITTAL_RETURNED: _filing,
    EventType.SUBMITTAL_ACCEPTED: _filing,
    EventType.DUTY_DUE: _duty,
    EventType.GRANT_GIVEN: _grant,
    EventType.GRANT_END_SET: _grant,
    EventType.JOB_ENDED: _job,
    EventType.WEBHOOK_TESTED: _webhook,
}
