"""Finding a key before its organization is known."""

from __future__ import annotations

import hashlib
import hmac
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet

from doors.errors import NotAllowedError
from doors.models import ROLES, Key
from doors.tenancy import Purpose, current, looking_up

_SHAPE = re.compile(r"fdk_([0-9a-f]{16})_([0-9a-f]{64})_([0-9a-f]{8})", re.ASCII)
_NOBODY = "0" * 64


@dataclass(frozen=True, slots=True)
class KeyFound:
    """Whose key it is and what it may do."""

    key_id: UUID
    label: str
    organization_id: UUID
    organization_name: str
    capabilities: frozenset[str]
    scopes: frozenset[str]
    expires_at: datetime | None
    last_used_at: datetime | None = None
    member_id: UUID | None = None


def compose(lookup: str, secret: str) -> str:
    """The text a person is shown once; the checksum lets a scanner recognise a leaked key."""
    body = f"fdk_{lookup}_{secret}"
    return f"{body}_{zlib.crc32(body.encode()):08x}"


def secret_digest(secret: str) -> str:
    """SHA-256 of a secret; it is 256 random bits, so a slow hash would add nothing."""
    return hashlib.sha256(secret.encode()).hexdigest()


def live_keys() -> QuerySet[Key]:
    """Keys in sight that open something now. A key of a member ends with the membership."""
    unexpired = Q(expires_at=None) | Q(expires_at__gt=current().now)
    return Key.objects.filter(unexpired, revoked_at=None, member__ends_at=None)


def key_by_secret(presented: str) -> KeyFound | None:
    """The key, if it stands. Unknown, revoked and expired are the same to whoever asks."""
    shape = _SHAPE.fullmatch(presented)
    if shape is None or compose(shape[1], shape[2]) != presented:
        return None
    row = _live_key(lookup=shape[1])
    expected = row.secret_sha256 if row else _NOBODY
    if not hmac.compare_digest(secret_digest(shape[2]), expected) or row is None:
        return None
    return _found(row)


def key_by_id(key_id: UUID) -> KeyFound | None:
    """The key, if it stands, by what is no secret: only for whoever has proved to hold it."""
    row = _live_key(id=key_id)
    return None if row is None else _found(row)


def _live_key(**which: str | UUID) -> Any:  # noqa: ANN401 - a key, with what is told of its home
    with looking_up(Purpose.AUTHENTICATION):
        return (
            live_keys()
            .filter(**which)
            .annotate(
                name=F("organization__name"),
                may=F("organization__capabilities"),
                role=F("member__role"),
            )
            .first()
        )


def _found(row: Any) -> KeyFound:  # noqa: ANN401 - the same
    return KeyFound(
        key_id=row.id,
        label=row.label,
        organization_id=row.organization_id,
        organization_name=row.name,
        capabilities=frozenset(row.may),
        scopes=_reach(row.scopes, row.role),
        expires_at=row.expires_at,
        last_used_at=row.last_used_at,
        member_id=row.member_id,
    )


def refuse_dead_key(key_id: UUID | None, scope: str) -> None:
    """Refuse to go on with work whose key has been revoked, has expired or lost its scope.

    Work that no key asked for goes on.
    """
    if key_id is None:
        return
    key = live_keys().select_related("member").filter(id=key_id).first()
    if key is None or scope not in _reach(key.scopes, key.member.role if key.member else None):
        raise NotAllowedError("The key that asked for this does not stand any more.")


def _reach(scopes: Sequence[str], role: str | None) -> frozenset[str]:
    """The scopes of a key, of which a member's role may have taken some."""
    return frozenset(scopes) & ROLES[role] if role else frozenset(scopes)
