"""From which address a request comes: what our own proxies saw, and nothing that a caller says."""

from __future__ import annotations

import re
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest

# An address as a proxy writes it, with the port behind it or not.
_WITH_PORT = re.compile(r"\[(?P<six>[^\]]+)\](?::\d+)?|(?P<four>[0-9.]+)(?::\d+)?", re.ASCII)


def source_address(request: HttpRequest) -> str | None:
    """Return the address that asks, as the outermost of our own proxies saw it; None where the
    server knows none, as behind a socket of this machine.

    Each proxy writes whom it saw at the right of `X-Forwarded-For`, so that only as many entries
    from the right are believed as there are proxies of ours.
    """
    said = request.headers.get("X-Forwarded-For", "").split(",")
    proxies: int = settings.PROXIES_BEFORE_US
    seen = _address(said[-proxies]) if 0 < proxies <= len(said) else None
    return seen or _address(str(request.META.get("REMOTE_ADDR", "")))


def _address(text: str) -> str | None:
    found = _WITH_PORT.fullmatch(text.strip())
    bare = (found["six"] or found["four"]) if found else text.strip()
    try:
        return str(ip_address(bare.partition("%")[0]))  # a zone means nothing elsewhere
    except ValueError:
        return None
