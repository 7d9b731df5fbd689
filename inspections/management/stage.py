"""What every step of the demonstration needs: its clients, its voice, and how to wait."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol, TypeVar
from zoneinfo import ZoneInfo

from inspections.management.client import Client, UnexpectedAnswer
from inspections.management.narrator import Narrator
from inspections.selectors.scenario import parties, table

Found = TypeVar("Found")


class Until(Protocol):
    """Waits until `probe` finds something, and answers it; raises where it takes too long."""

    def __call__(self, what: str, probe: Callable[[], Found | None]) -> Found:
        """Wait for what is told in `what`."""


@dataclass
class Stage:
    """The service at an address, the parties' keys by role, and where the mail lies."""

    address: str
    keys: Mapping[str, str]
    say: Narrator
    until: Until
    mailbox: Path
    seen: dict[str, Any] = field(default_factory=dict)  # what the API answered, by a short name

    def __post_init__(self) -> None:
        """Each party works with a client of its own; the stranger has no key."""
        self.authority = Client(self.address, self.keys["authority"])
        self.firm = Client(self.address, self.keys["firm"])
        self.owner = Client(self.address, self.keys["owner"])
        self.stranger = Client(self.address)

    @cached_property
    def plan(self) -> dict[str, Any]:
        """What happens on the day, as the fixtures write it."""
        return table("walk")

    def close(self) -> None:
        """Everybody leaves."""
        for client in (self.authority, self.firm, self.owner, self.stranger):
            client.close()

    def ago(self, minutes: int) -> str:
        """So many minutes before now, as a device at the building writes it."""
        at = datetime.now(UTC) - timedelta(minutes=minutes)
        here = at.astimezone(ZoneInfo(parties().jurisdiction.time_zone))
        return here.isoformat(timespec="seconds")


def expect(holds: object, otherwise: str) -> None:
    """End the demonstration where the service did not answer as it should have."""
    if not holds:
        raise UnexpectedAnswer(otherwise)
