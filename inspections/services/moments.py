"""The moments that an app says, held against the clock of the service."""

from __future__ import annotations

from datetime import UTC, datetime

from doors.errors import FutureDateError
from doors.tenancy import current
from inspections.selectors.device_clocks import CLOCK_SLACK, UNKNOWN, DeviceClock


def refuse_future(at: datetime, pointer: str, detail: str, device: DeviceClock = UNKNOWN) -> None:
    """Refuse what is said to have happened later than now, and say what the time is here, and
    what the device's own clock has to do with it: a telephone has no other way to learn it.
    """
    now = current().now
    if at > now + CLOCK_SLACK:
        clock = now.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        said = [detail, f"By the clock of the service it is {clock}."]
        said += [device.runs_ahead] if device.explains(at - now) else []
        raise FutureDateError.at(pointer, " ".join(said))
