"""Issuing and revoking API keys."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from doors.errors import NotVisibleError, RefusedError
from doors.models import EVERY_SCOPE, Key
from doors.selectors.keys import compose, secret_digest
from doors.tenancy import acting_organization, current


def issue_key(
    *, label: str, scopes: Collection[str], expires_at: datetime | None = None
) -> tuple[Key, str]:
    """Make a key of the acting organization; its text is returned this once and kept nowhere."""
    unknown = set(scopes) - EVERY_SCOPE
    if unknown:
        raise RefusedError.at("/scopes", f"There is no scope {', '.join(sorted(unknown))}.")
    lookup, secret = secrets.token_hex(8), secrets.token_hex(32)
    key = Key.objects.create(
        organization_id=acting_organization(),
        label=label,
        lookup=lookup,
        secret_sha256=secret_digest(secret),
        scopes=sorted(scopes),
        created_at=current().now,
        expires_at=expires_at,
    )
    return key, compose(lookup, secret)


def revoke_key(*, key_id: UUID) -> None:
    """End a key; the next request with it is refused."""
    if not Key.objects.filter(id=key_id, revoked_at=None).update(revoked_at=current().now):
        raise NotVisibleError
