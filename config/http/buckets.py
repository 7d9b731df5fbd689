"""Token buckets: `quota` requests at once, filled again evenly within `window` seconds.

A request draws one token of each of its buckets or of none, in one step that nothing comes
between. In Redis that is a script, exact over all processes. In memory it is exact in one process
only: with N web processes the limits are N times those stated, which is why production uses Redis.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import redis

ANSWER_WITHIN = 0.25  # seconds; a limiter that is slow costs more than what it keeps out
TRY_AGAIN_AFTER = 1.0  # seconds without asking, once Redis has failed
MOST_IN_MEMORY = 100_000

_DRAW = """
local time = redis.call('TIME')
local now, wait, held = time[1] + time[2] / 1e6, 0, {}
for i, key in ipairs(KEYS) do
  local quota, window = tonumber(ARGV[2 * i - 1]), tonumber(ARGV[2 * i])
  local kept = redis.call('HMGET', key, 'tokens', 'at')
  local passed = math.max(0, now - (tonumber(kept[2]) or now))
  held[i] = math.min(quota, (tonumber(kept[1]) or quota) + passed * quota / window)
  if held[i] < 1 then wait = math.max(wait, (1 - held[i]) * window / quota) end
end
local answer = {string.format('%.6f', wait)}
for i, key in ipairs(KEYS) do
  if wait == 0 then held[i] = held[i] - 1 end
  local tokens = string.format('%.6f', held[i])
  redis.call('HSET', key, 'tokens', tokens, 'at', string.format('%.6f', now))
  redis.call('EXPIRE', key, math.ceil(ARGV[2 * i]) + 1)
  answer[i + 1] = tokens
end
return answer
"""


@dataclass(frozen=True, slots=True)
class Bucket:
    """Whose bucket it is, under which policy."""

    policy: str
    owner: str
    quota: int  # requests
    window: int  # seconds

    @property
    def name(self) -> str:
        """Under which name it is kept."""
        return f"rate:{self.policy}:{self.owner}"


@dataclass(frozen=True, slots=True)
class Drawn:
    """What came of a draw: seconds to wait, 0 where it succeeded, and what each bucket holds."""

    wait: float
    held: tuple[float, ...]


class UnavailableError(Exception):
    """The store of the buckets did not answer."""


class Store(Protocol):
    """Where buckets are kept."""

    def draw(self, buckets: Sequence[Bucket]) -> Drawn:
        """Draw one token of each bucket, or of none; raise UnavailableError where it cannot."""
        ...


class RedisStore:
    """Buckets in Redis, by Redis' own clock: exact over any number of processes."""

    def __init__(self, url: str) -> None:
        self._client = redis.Redis.from_url(
            url, socket_timeout=ANSWER_WITHIN, socket_connect_timeout=ANSWER_WITHIN
        )
        self._script = self._client.register_script(_DRAW)
        self._silent_until = 0.0

    def draw(self, buckets: Sequence[Bucket]) -> Drawn:
        """Draw in one script; after a failure, ask nothing for a moment."""
        if time.monotonic() < self._silent_until:
            raise UnavailableError("failed a moment ago")
        limits = [number for bucket in buckets for number in (bucket.quota, bucket.window)]
        try:
            answer = self._script(keys=[bucket.name for bucket in buckets], args=limits)
        except redis.RedisError as error:
            self._silent_until = time.monotonic() + TRY_AGAIN_AFTER
            raise UnavailableError(type(error).__name__) from error
        wait, *held = (float(number) for number in answer)
        return Drawn(wait, tuple(held))


class MemoryStore:
    """Buckets of this process."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[float, float]] = {}  # name -> tokens, and when

    def draw(self, buckets: Sequence[Bucket]) -> Drawn:
        """Draw under a lock; the same arithmetic as in Redis."""
        now = time.monotonic()
        with self._lock:
            held = [self._held(bucket, now) for bucket in buckets]
            short = [
                (1 - tokens) * bucket.window / bucket.quota
                for bucket, tokens in zip(buckets, held, strict=True)
                if tokens < 1
            ]
            left = held if short else [tokens - 1 for tokens in held]
            if len(self._kept) > MOST_IN_MEMORY:
                self._kept.clear()  # whoever was waiting is let in: it errs in the caller's favour
            self._kept |= {b.name: (n, now) for b, n in zip(buckets, left, strict=True)}
        return Drawn(max(short, default=0.0), tuple(left))

    def _held(self, bucket: Bucket, now: float) -> float:
        tokens, at = self._kept.get(bucket.name, (float(bucket.quota), now))
        return min(bucket.quota, tokens + (now - at) * bucket.quota / bucket.window)
