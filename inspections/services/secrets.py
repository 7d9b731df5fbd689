"""The secrets of webhooks: made, shown once, sealed, rotated, sealed anew under a new key."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.db.models import Q, QuerySet

from doors.services.sealing import seal, sealed_under, unseal
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up
from inspections.channels.signatures import new_secret
from inspections.models import Webhook, WebhookSecret

SALT = "webhook secrets"
OVERLAP = timedelta(hours=24)
LIVE_AT_ONCE = 2


def add_secret(webhook_id: UUID) -> tuple[WebhookSecret, str]:
    """Make a secret; the text is returned this once. Earlier ones go on signing for a day, the
    latest of them alone: a third ends the first at once.
    """
    now, text = current().now, new_secret()
    older = list(_live(webhook_id).order_by("-created_at", "id"))
    for secret in older[LIVE_AT_ONCE - 1 :]:
        secret.ends_at = now
        secret.save(update_fields=["ends_at"])
    for secret in older[: LIVE_AT_ONCE - 1]:
        secret.ends_at = min(secret.ends_at or now + OVERLAP, now + OVERLAP)
        secret.save(update_fields=["ends_at"])
    made = WebhookSecret.objects.create(
        organization_id=acting_organization(),
        webhook_id=webhook_id,
        sealed=seal(text, salt=SALT),
        sealed_under=sealed_under(salt=SALT),
        created_at=now,
    )
    return made, text


def live_secrets(webhook_id: UUID) -> list[str]:
    """The secrets that sign now, the newest first."""
    return [unseal(each.sealed, salt=SALT) for each in _live(webhook_id).order_by("-created_at")]


def _live(webhook_id: UUID) -> QuerySet[WebhookSecret]:
    alive = Q(ends_at=None) | Q(ends_at__gt=current().now)
    return WebhookSecret.objects.filter(alive, webhook_id=webhook_id)


def seal_anew(*, limit: int = 500) -> int:
    """Seal under the present key what was sealed under an earlier one; answers how many. The
    earlier key may go once this finds none.
    """
    name = sealed_under(salt=SALT)
    with looking_up(Purpose.SWEEP):
        owners = sorted(set(Webhook.objects.values_list("organization_id", flat=True)))
    done = 0
    for owner_id in owners:
        with acting_for(owner_id, write=True):
            for secret in WebhookSecret.objects.exclude(sealed_under=name)[: limit - done]:
                secret.sealed = seal(unseal(secret.sealed, salt=SALT), salt=SALT)
                secret.sealed_under = name
                secret.save(update_fields=["sealed", "sealed_under"])
                done += 1
        if done >= limit:
            break
    return done
