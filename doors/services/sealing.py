"""Keeping a secret that must be used once more: encrypted under the service's own key."""

from __future__ import annotations

import hashlib
from base64 import urlsafe_b64encode

from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.utils.encoding import force_bytes


def seal(secret: str, *, salt: str) -> str:
    """Encrypt a secret; `salt` names what it is for, and opens nothing sealed for anything else."""
    return _box(salt).encrypt(secret.encode()).decode()


def unseal(sealed: str, *, salt: str) -> str:
    """The secret again, also where the service's key was rotated meanwhile."""
    return _box(salt).decrypt(sealed.encode()).decode()


def _box(salt: str) -> MultiFernet:
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    return MultiFernet([Fernet(_derived(key, salt)) for key in keys])


def _derived(key: str | bytes, salt: str) -> bytes:
    return urlsafe_b64encode(hashlib.sha256(salt.encode() + b"\n" + force_bytes(key)).digest())


def sealed_under(*, salt: str) -> str:
    """A name of the key that seals now, which tells nothing of it: another name, another key."""
    return hashlib.sha256(_derived(settings.SECRET_KEY, salt)).hexdigest()[:16]
