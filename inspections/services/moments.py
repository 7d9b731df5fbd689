"""The moments that an app says, held against the clock of the service."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from doors.errors import FutureDateError
from doors.tenancy import current

CLOCK_SLACK = timedelta(minutes=5)  # how far a telephone's clock may run ahead of ours


def refuse_future(at: datetime, pointer: str, detail: str) -> None:
    """Refuse what is said to have happened later than now, and say what the time is here: a
    telephone whose clock is wrong has no other way to learn it.
    """
    now = current().now
    if at > now + CLOCK_SLACK:
        clock = now.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        raise FutureDateError.at(pointer, f"{detail} By the clock of the service it is {clock}.")
