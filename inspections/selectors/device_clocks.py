"""How a device's clock runs against ours. It is kept and told; no time is corrected by it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from doors.clock import Instant

CLOCK_SLACK = timedelta(minutes=5)  # how far a device's clock may run beside ours
_NONE = timedelta()
_UNITS = (("day", 86_400), ("hour", 3_600), ("minute", 60), ("second", 1))


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """How far a device's clock ran ahead of ours when it sent; negative: behind; None: not said."""

    ahead: timedelta | None = None

    @classmethod
    def of(cls, sent_at: Instant | None, received_at: datetime) -> DeviceClock:
        """The clock of a device that showed `sent_at` when we received what it sent."""
        return cls(None if sent_at is None else sent_at.at - received_at)

    @property
    def skew_s(self) -> int | None:
        """Seconds ahead of ours, rounded."""
        return None if self.ahead is None else round(self.ahead.total_seconds())

    def explains(self, beyond: timedelta) -> bool:
        """Whether what lies so far beyond now had happened by the device's own clock."""
        return self.ahead is not None and beyond <= self.ahead

    @property
    def runs_ahead(self) -> str:
        """What to do about a clock that makes the future of what has happened."""
        return (
            f"By the device's clock it has happened, but that runs {lasting(self.ahead or _NONE)} "
            "ahead: set it right, correct the times that it gave, and send this again. Nothing "
            "was stored."
        )


UNKNOWN = DeviceClock()


def clock_words(skew_s: int) -> str:
    """What is said of a clock that differs: by how much, which way, and what was made of it."""
    way = "ahead of" if skew_s > 0 else "behind"
    return (
        f"When this was sent, the device's clock ran {lasting(timedelta(seconds=skew_s))} {way} "
        "ours: the times are kept as sent and not corrected. Set the clock right; if the day of "
        "the visit is wrong by it, correct the visit."
    )


def lasting(time: timedelta) -> str:
    """A length of time in plain words, without its sign: its two largest units."""
    left = round(abs(time).total_seconds())
    parts = []
    for name, seconds in _UNITS:
        count, left = divmod(left, seconds)
        if count:
            parts.append(f"{count} {name}{'' if count == 1 else 's'}")
        elif parts:
            break
    return " and ".join(parts[:2]) or "0 seconds"
