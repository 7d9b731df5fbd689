"""What leaves an organization of a sandbox: kept to be read, sent to nobody."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.core.mail import EmailMessage

from doors.models import SandboxMessage
from doors.tenancy import acting_organization, current


def keep_webhook(sandbox_id: UUID, *, url: str, headers: Mapping[str, str], body: str) -> None:
    """Keep what would have gone to a webhook, signed as it would have been."""
    channel = SandboxMessage.Channel.WEBHOOK
    _keep(sandbox_id, channel=channel, recipient=url, headers=dict(headers), body=body)


def keep_mail(sandbox_id: UUID, message: EmailMessage) -> None:
    """Keep what would have gone to a person."""
    _keep(
        sandbox_id,
        channel=SandboxMessage.Channel.EMAIL,
        recipient=", ".join(message.to),
        subject=str(message.subject)[:300],
        headers=dict(message.extra_headers),
        body=str(message.body),
    )


def _keep(sandbox_id: UUID, **written: Any) -> None:
    SandboxMessage.objects.create(
        organization_id=acting_organization(),
        sandbox_id=sandbox_id,
        kept_at=current().now,
        **written,
    )
