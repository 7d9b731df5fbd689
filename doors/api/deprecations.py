"""The end of an operation, told long before: RFC 9745 `Deprecation`, RFC 8594 `Sunset`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import structlog
from django.http import HttpResponse
from django.utils.http import http_date
from prometheus_client import Counter

DEPRECATED, SUNSET = "Deprecation", "Sunset"

log = structlog.get_logger(__name__)
used = Counter("doors_deprecated_used", "Uses of what is to end.", ["operation"])


@dataclass(frozen=True, slots=True)
class Deprecation:
    """From when on an operation should no longer be used, when it ends, and where that is said.

    Both instants are aware; the end is not before the beginning.
    """

    since: datetime
    explained_at: str
    sunset: datetime | None = None

    def __post_init__(self) -> None:
        if self.sunset is not None and self.sunset < self.since:
            raise ValueError("an operation cannot end before it is deprecated")

    def announce(self, response: HttpResponse) -> None:
        """Say it on an answer, once."""
        if DEPRECATED in response:
            return
        response[DEPRECATED] = f"@{int(self.since.timestamp())}"
        if self.sunset is not None:
            response[SUNSET] = http_date(self.sunset.timestamp())
        link = f'<{self.explained_at}>; rel="deprecation"; type="text/html"'
        response["Link"] = f"{response['Link']}, {link}" if "Link" in response else link

    def note_use(self, operation: str) -> None:
        """Count a use; its line in the log says whose key it was, for a report by key."""
        used.labels(operation).inc()
        log.info("deprecated_use", operation=operation)
