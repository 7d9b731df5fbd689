"""Access tokens: what a key is exchanged for, good for minutes and for no more than was asked.

Nothing of a token is stored. It is signed and names its key, and is held against that key at each
request: it ends at the latest with the key, and never reaches further than the key does now.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from uuid import UUID

from django.conf import settings
from django.core import signing

from doors.selectors.keys import KeyFound, key_by_id, key_by_secret
from doors.tenancy import Purpose, looking_up

PREFIX = "fdt_"


@dataclass(frozen=True, slots=True)
class Token:
    """What a client is given: the text to send, and what it is good for."""

    text: str
    scopes: frozenset[str]
    seconds: int  # from now until it ends


def key_of_client(client_id: str, secret: str) -> KeyFound | None:
    """The key of a client: its name is how the key begins, its secret the whole key."""
    return key_by_secret(secret) if secret.startswith(f"{client_id}_") else None


def token_for(key: KeyFound, scopes: AbstractSet[str] | None = None) -> Token:
    """A token of this key, for `scopes` that it has; for all of them where none are named."""
    now = _now()
    ends = now + settings.OAUTH_TOKEN_LIVES
    if key.expires_at is not None:
        ends = min(ends, key.expires_at)
    narrowed = None if scopes is None else sorted(scopes)
    said = [key.key_id.hex, int(ends.timestamp()), narrowed]
    return Token(
        text=PREFIX + _signer().sign_object(said),
        scopes=key.scopes if scopes is None else frozenset(scopes),
        seconds=int((ends - now).total_seconds()),
    )


def key_by_token(presented: str) -> KeyFound | None:
    """The key as far as the token reaches; None where the token or its key does not stand."""
    if not settings.OAUTH_TOKENS:
        return None
    try:
        said = _signer().unsign_object(presented.removeprefix(PREFIX))
    except signing.BadSignature:
        return None
    key_id, seconds, narrowed = said
    ends = datetime.fromtimestamp(seconds, UTC)
    found = key_by_id(UUID(key_id))
    if found is None or ends <= _now():
        return None
    scopes = found.scopes if narrowed is None else found.scopes & frozenset(narrowed)
    return replace(found, scopes=scopes, expires_at=ends)


def _signer() -> signing.Signer:
    return signing.Signer(salt=__name__, sep=".")  # a bearer's token has no colon (RFC 6750)


def _now() -> datetime:
    """What time it is by the database, which also says when a key ends."""
    with looking_up(Purpose.AUTHENTICATION) as context:
        return context.now
