"""Who is asking: `Authorization: Bearer` and a key, or a token that a key was exchanged for.

The key names its organization.
"""

from __future__ import annotations

import structlog
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from doors.selectors.keys import KeyFound, key_by_secret
from doors.selectors.tokens import PREFIX as TOKEN
from doors.selectors.tokens import key_by_token
from doors.services.keys import USE_NOTED_EVERY, note_use

SCHEME = "Bearer"


class TokenFailed(AuthenticationFailed):
    """A token that does not stand: its client asks for another one."""


class KeyAuthentication(BaseAuthentication):
    """Puts the key found in `request.auth`. A wrong key is never treated as no key."""

    def authenticate(self, request: Request) -> tuple[None, KeyFound] | None:
        """Return the key; None without a header; raise for a header that gives no valid key."""
        header = request.headers.get("Authorization")
        if header is None:
            return None
        scheme, _, presented = header.partition(" ")
        by_token = presented.strip().startswith(TOKEN)
        found = None
        if scheme.lower() == SCHEME.lower():
            found = (key_by_token if by_token else key_by_secret)(presented.strip())
        if found is None:
            raise TokenFailed if by_token else AuthenticationFailed
        structlog.contextvars.bind_contextvars(
            organization_id=str(found.organization_id), key_id=str(found.key_id)
        )
        _note(found)
        return None, found

    def authenticate_header(self, request: Request) -> str:
        """Name the scheme; without it the framework would answer 403."""
        return SCHEME


def _note(key: KeyFound) -> None:
    """Leave when it was used, where the last time is not of this minute."""
    if key.last_used_at is None or timezone.now() - key.last_used_at >= USE_NOTED_EVERY:
        note_use(key_id=key.key_id, organization_id=key.organization_id)
