"""Which addresses a tenant may have called: public ones, and where asked for this very machine.

A name is resolved once, every address it has must be public, and the connection goes to one of
those very addresses: an answer that changes in between changes nothing.
"""

from __future__ import annotations

import queue
import re
import socket
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from urllib.parse import urlsplit

from django.conf import settings

RESOLVED_WITHIN = 5  # seconds
HTTPS = 443
_PRINTABLE = re.compile(r"[!-\[\]-~]+", re.ASCII)  # no space, no backslash, nothing beyond ASCII
_NAME = re.compile(
    r"(?=.{4,253}$)(?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.)+[a-z](?:[a-z0-9-]{0,61}[a-z0-9])",
    re.ASCII,
)
_THIS_MACHINE = {"localhost", "127.0.0.1", "::1"}
_UNICAST = ip_network("2000::/3")
# Not for the public, whatever this Python's own tables say of them; IANA's registries of special
# purpose addresses (from memory): protocol assignments, benchmarks, documentation, relays.
_RESERVED = [
    ip_network(text)
    for text in (
        *("0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16"),
        *("172.16.0.0/12", "192.0.0.0/24", "192.0.2.0/24", "192.31.196.0/24", "192.52.193.0/24"),
        *("192.88.99.0/24", "192.168.0.0/16", "192.175.48.0/24", "198.18.0.0/15"),
        *("198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4"),
        *("2001::/23", "2001:db8::/32", "2002::/16", "2620:4f:8000::/48", "3fff::/20"),
    )
]


class AddressRefused(Exception):  # noqa: N818 - what is said of an address, not an error of ours
    """Nobody is called there; the text says why, to whoever gave the address."""


class AddressUnknown(Exception):  # noqa: N818 - the same
    """The name has no address just now."""


@dataclass(frozen=True, slots=True)
class Target:
    """An address as it was given, taken apart."""

    host: str
    port: int
    path: str
    tls: bool = True


def target_of(url: str) -> Target:
    """Take a URL apart; raises AddressRefused for any but a plain public https one."""
    if not _PRINTABLE.fullmatch(url):
        raise AddressRefused("Write it in printable ASCII; a name in other letters as xn--….")
    try:
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port
    except ValueError as error:
        raise AddressRefused("This is no URL.") from error
    if "@" in parts.netloc or parts.fragment or url.endswith("#"):
        raise AddressRefused("It holds no user, no password and no fragment.")
    path = f"{parts.path or '/'}{'?' + parts.query if parts.query else ''}"
    tls = parts.scheme == "https"
    if _is_here(host) and parts.scheme in {"http", "https"}:
        return Target(host, port or (HTTPS if tls else 80), path, tls)
    if not tls or port not in {None, HTTPS} or parts.netloc.endswith(":"):
        raise AddressRefused("It begins with https:// and uses port 443.")
    if not _NAME.fullmatch(host):
        raise AddressRefused("Its host is a full name of the public DNS, without a dot at the end.")
    return Target(host, HTTPS, path)


def address_of(target: Target) -> str:
    """The address to connect to, resolved this once; raises where any is not public."""
    found = _resolved(target)
    if not found:
        raise AddressUnknown("The name has no address just now.")
    allowed = _is_loopback if _is_here(target.host) else is_public
    if not all(map(allowed, found)):
        raise AddressRefused("The name leads to an address that is not public.")
    return found[0]


def _is_here(host: str) -> bool:
    """Whether it names this machine, and the settings let that be called."""
    return settings.WEBHOOKS_TO_LOOPBACK and host in _THIS_MACHINE


def _is_loopback(text: str) -> bool:
    return ip_address(text).is_loopback


def is_public(text: str) -> bool:
    """Whether an address is global unicast, and not another one in disguise."""
    address: IPv4Address | IPv6Address = ip_address(text)
    if address.version == 6 and (address not in _UNICAST or "%" in text):  # noqa: PLR2004
        return False  # mapped, translated, local, and everything not yet given out
    reserved = any(address.version == net.version and address in net for net in _RESERVED)
    return address.is_global and not address.is_multicast and not reserved


def _resolved(target: Target) -> Sequence[str]:
    """All addresses of the name, in order; nobody waits longer for a name server than for us."""
    answer: queue.Queue[list[str]] = queue.Queue()

    def ask() -> None:
        try:
            rows = socket.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM)
            answer.put([str(row[4][0]) for row in rows])
        except (OSError, UnicodeError):
            answer.put([])

    threading.Thread(target=ask, daemon=True).start()
    try:
        return answer.get(timeout=RESOLVED_WITHIN)
    except queue.Empty:
        return []
