"""Signing what a webhook sends, by the Standard Webhooks specification 1.0.0, symmetric `v1`.

Signed is the text `<id>.<timestamp>.<body>` of the exact bytes that go out; while a secret is being
rotated the header holds a signature by each.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from base64 import b64decode, b64encode
from collections.abc import Iterable, Mapping
from datetime import datetime
from uuid import UUID

PREFIX = "whsec_"
_SIZE = 32  # bytes; the specification asks for 24 to 64


def new_secret() -> str:
    """A secret as its owner is shown it."""
    return PREFIX + b64encode(secrets.token_bytes(_SIZE)).decode()


def signature_headers(
    *, message_id: UUID, at: datetime, body: bytes, by: Iterable[str]
) -> Mapping[str, str]:
    """The three headers of one try; `at` is its moment, in any zone, and `by` the live secrets."""
    timestamp = int(at.timestamp())
    signed = f"{message_id}.{timestamp}.".encode() + body
    return {
        "webhook-id": str(message_id),
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(_signature(secret, signed) for secret in by),
    }


def _signature(secret: str, signed: bytes) -> str:
    key = b64decode(secret.removeprefix(PREFIX))
    return f"v1,{b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()}"
