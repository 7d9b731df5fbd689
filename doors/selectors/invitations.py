"""What a token opens, before anybody's organization is known."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from doors.models import Invitation
from doors.tenancy import Purpose, current, looking_up

_SHAPE = re.compile(r"fdi_([0-9a-f]{64})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Invited:
    """What one open invitation is for: `claims` is the organization to be claimed, or None."""

    invitation_id: UUID
    organization_id: UUID
    organization_name: str
    email: str
    role: str
    claims: UUID | None
    claims_name: str
    sandbox_id: UUID | None


def compose_token(secret: str) -> str:
    """The text that is mailed; its beginning lets a scanner recognise a leaked one."""
    return f"fdi_{secret}"


def token_digest(token: str) -> str:
    """SHA-256 of a token; it is 256 random bits, so a slow hash would add nothing."""
    return hashlib.sha256(token.encode()).hexdigest()


def open_invitations() -> QuerySet[Invitation]:
    """Invitations in sight that can still be used: not used, withdrawn or expired, and for
    nothing that was claimed meanwhile.
    """
    return Invitation.objects.filter(
        Q(to_claim=None) | Q(to_claim__claimed_at=None),
        used_at=None,
        withdrawn_at=None,
        expires_at__gt=current().now,
    )


def invited_by_token(token: str) -> Invited | None:
    """What the token opens; None for whatever is wrong with it."""
    if not _SHAPE.fullmatch(token):
        return None
    with looking_up(Purpose.CLAIM):
        rows = open_invitations().select_related("organization", "to_claim")
        row = rows.filter(token_sha256=token_digest(token)).first()
    if row is None:
        return None
    return Invited(
        invitation_id=row.id,
        organization_id=row.organization_id,
        organization_name=row.organization.name,
        email=row.email,
        role=row.role,
        claims=row.to_claim_id,
        claims_name=row.to_claim.name if row.to_claim else "",
        sandbox_id=row.organization.sandbox_id,
    )
