"""Posting to a tenant's address: one vetted connection, no redirect, a deadline over all of it."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Mapping
from contextlib import suppress
from http.client import HTTPException
from typing import Any

from django.conf import settings
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.exceptions import HTTPError

from inspections.channels.addresses import AddressRefused, AddressUnknown, address_of, target_of

ANSWERED_WITHIN = 15  # seconds, from the connection to the end of the answer
LONGEST_ANSWER = 65_536  # bytes read and thrown away
AGENT = "Fire-door-records-webhooks/1"


class NotReached(Exception):  # noqa: N818 - what became of a try, not an error of ours
    """There was no answer; the text says why, in words for the organization."""


class _Pinned:
    """A connection that goes to a vetted address, whatever its name leads to by now, and that is
    cut when its time is over.
    """

    def __init__(self, *args: Any, address: str, **kwargs: Any) -> None:
        """Not yet connected."""
        super().__init__(*args, **kwargs)
        self.address, self.line, self.late = address, None, threading.Event()

    line: socket.socket | None

    def _new_conn(self) -> socket.socket:
        """Connect; keep a second handle, since TLS takes the first one over."""
        port: int = self.port  # type: ignore[attr-defined]
        found = socket.socket(socket.AF_INET6 if ":" in self.address else socket.AF_INET)
        found.settimeout(ANSWERED_WITHIN)
        self.line = found.dup()
        try:
            found.connect((self.address, port))
        except OSError:
            found.close()
            raise
        return found

    def cut(self) -> None:
        """End whatever is under way on it."""
        self.late.set()
        if self.line is not None:
            with suppress(OSError):
                self.line.shutdown(socket.SHUT_RDWR)


class _Plain(_Pinned, HTTPConnection):
    """To this machine alone, where the settings allow it."""


class _Secure(_Pinned, HTTPSConnection):
    """TLS by the name that was given, which the certificate must bear."""


def post(url: str, body: bytes, headers: Mapping[str, str]) -> int:
    """Send it once and return the status of the answer, of which nothing else is kept.

    Raises NotReached where there was none: refused as an address, unknown, unreachable, too late.
    """
    try:
        target = target_of(url)
        address = address_of(target)
    except (AddressRefused, AddressUnknown) as refused:
        raise NotReached(str(refused)) from refused
    options: dict[str, Any] = {"address": address, "timeout": ANSWERED_WITHIN}
    connection: _Plain | _Secure = (
        _Secure(target.host, target.port, ssl_context=_trust(), **options)
        if target.tls
        else _Plain(target.host, target.port, **options)
    )
    deadline = threading.Timer(ANSWERED_WITHIN, connection.cut)
    deadline.daemon = True
    deadline.start()
    try:
        return _answer(connection, target.path, body, headers)
    except (OSError, HTTPError, HTTPException, ValueError) as failure:
        raise NotReached(_why(failure, late=connection.late.is_set())) from failure
    finally:
        deadline.cancel()
        connection.close()
        if connection.line is not None:
            connection.line.close()


def _answer(
    connection: _Plain | _Secure, path: str, body: bytes, headers: Mapping[str, str]
) -> int:
    sent = {"Content-Type": "application/json", "User-Agent": AGENT, **headers}
    connection.request("POST", path, body=body, headers=sent, preload_content=False)
    answer = connection.getresponse()
    if connection.late.is_set():  # cut among the headers, of which what came still reads as some
        raise TimeoutError
    with suppress(OSError, HTTPError, HTTPException):  # it has said what became of it already
        answer.read(LONGEST_ANSWER, decode_content=False)
    return answer.status


def _trust() -> ssl.SSLContext:
    return ssl.create_default_context(cafile=settings.WEBHOOK_CA_FILE or None)


def _why(failure: Exception, *, late: bool) -> str:
    if late or isinstance(failure, TimeoutError):
        return f"no answer within {ANSWERED_WITHIN} seconds"
    if isinstance(failure, ssl.SSLError):
        return "TLS failed: the certificate, or the version"
    return "no connection, or it broke before the answer"
