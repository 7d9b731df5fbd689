"""A client of the API, as any integrator would write one: a key, JSON, and no way around."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import urlencode, urlsplit

from urllib3 import BaseHTTPResponse, HTTPConnectionPool
from urllib3.exceptions import HTTPError

ANSWER_WITHIN = 60  # seconds

Answer = dict[str, Any]  # every answer of the API is an object
Body = Mapping[str, Any] | None


class UnexpectedAnswer(Exception):  # noqa: N818 - it is what came, not an error of ours
    """The service did not answer as it should have; says what was asked and what came."""


class Client:
    """One party's connection. `key` is its API key; None asks as a stranger."""

    def __init__(self, address: str, key: str | None = None) -> None:
        """Connect to the service at that address, such as http://127.0.0.1:8000."""
        place = urlsplit(address)
        self._pool = HTTPConnectionPool(
            str(place.hostname), place.port, timeout=ANSWER_WITHIN, retries=False, maxsize=1
        )
        self._headers = {"Authorization": f"Bearer {key}"} if key else {}

    def get(self, path: str, *, expect: int = 200, **query: str) -> Answer:
        """The JSON at a path."""
        return self._json(self._ask("GET", path, query=query), path, expect)

    def file(self, path: str) -> bytes:
        """The bytes at a path."""
        response = self._ask("GET", path)
        return self._expected(response, path, 200).data

    def post(self, path: str, body: Body = None, *, expect: int = 201, once: str = "") -> Answer:
        """What the service answers to a body; `once` is the key under which it is done once."""
        return self._json(self._ask("POST", path, body=body, once=once), path, expect)

    def every(self, path: str, **query: str) -> Iterator[Answer]:
        """Each item of a list, page after page."""
        page = self._json(self._ask("GET", path, query=query), path, 200)
        while True:
            yield from page["data"]
            if page["next"] is None:
                return
            place = urlsplit(page["next"])
            page = self.get(f"{place.path}?{place.query}")

    def close(self) -> None:
        """Leave; the service need not keep the connection."""
        self._pool.close()

    def _ask(
        self,
        method: str,
        path: str,
        *,
        query: dict[str, str] | None = None,
        body: Body = None,
        once: str = "",
    ) -> BaseHTTPResponse:
        headers = dict(self._headers)
        content = None
        if body is not None:
            content = json.dumps(body).encode()
            headers["Content-Type"] = "application/json"
        if once:
            headers["Idempotency-Key"] = f'"{once}"'
        address = f"{path}?{urlencode(query)}" if query else path
        try:
            return self._pool.request(method, address, body=content, headers=headers)
        except HTTPError as error:
            raise UnexpectedAnswer(f"{method} {path}: no answer ({error})") from error

    def _json(self, response: BaseHTTPResponse, path: str, expect: int) -> Answer:
        found: Answer = json.loads(self._expected(response, path, expect).data)
        return found

    def _expected(self, response: BaseHTTPResponse, path: str, expect: int) -> BaseHTTPResponse:
        if response.status != expect:
            said = response.data.decode(errors="replace")[:2000]
            raise UnexpectedAnswer(f"{path}: {response.status}, not {expect}: {said}")
        return response
