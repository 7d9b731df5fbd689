"""What leaves an organization of a sandbox: kept to be read, sent to nobody."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from doors.models import Organization
from doors.tenancy import acting_organization, current
from inspections.models import SandboxMessage


def sandbox_in_hand() -> UUID | None:
    """The sandbox in which the acting organization lies; None where it is a real one."""
    rows = Organization.objects.filter(id=acting_organization())
    return rows.values_list("sandbox_id", flat=True).first()


def keep_webhook(sandbox_id: UUID, *, url: str, headers: Mapping[str, str], body: str) -> None:
    """Keep what would have gone to a webhook, signed as it would have been."""
    channel = SandboxMessage.Channel.WEBHOOK
    _keep(sandbox_id, channel=channel, recipient=url, headers=dict(headers), body=body)


def keep_mail(
    sandbox_id: UUID, *, to: str, subject: str, headers: Mapping[str, str], body: str
) -> None:
    """Keep what would have gone to a person."""
    channel = SandboxMessage.Channel.EMAIL
    mail = {"recipient": to, "subject": subject[:300], "headers": dict(headers), "body": body}
    _keep(sandbox_id, channel=channel, **mail)


def _keep(sandbox_id: UUID, **written: Any) -> None:
    SandboxMessage.objects.create(
        organization_id=acting_organization(),
        sandbox_id=sandbox_id,
        kept_at=current().now,
        **written,
    )
