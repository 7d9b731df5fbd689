"""How much each caller may ask: budgets for a key, its organization, an address, long work.

Every answer says what stands: `RateLimit-Policy` and `RateLimit`, in the form of the IETF draft
draft-ietf-httpapi-ratelimit-headers-10, where `w` is the time in which an empty budget fills and
`t` the time in which this one is full again; `Retry-After` is what a refused caller waits. A
limiter that cannot be asked refuses nobody: that is logged and counted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from ipaddress import IPv4Address, ip_address, ip_network
from math import ceil, floor
from typing import ClassVar, Protocol, cast

import structlog
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from prometheus_client import Counter
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from config.http.buckets import Bucket, Drawn, MemoryStore, RedisStore, Store, UnavailableError
from doors.api.problems import ProblemError
from doors.api.sources import source_address
from doors.selectors.keys import KeyFound

_SUBSCRIBERS = 64  # bits of an address of the sixth version that are given out; the rest is taken
POLICY, STANDING = "RateLimit-Policy", "RateLimit"

log = structlog.get_logger(__name__)
refused_requests = Counter("doors_rate_limited", "Requests refused by a budget.", ["policy"])
unasked = Counter("doors_rate_limiter_unavailable", "Requests let in without asking.")


class Budgeted(Protocol):
    """What this asks of a view; the framework imports this module before it has views."""

    budgets: ClassVar[Mapping[str, str]]


@lru_cache(maxsize=1)
def store() -> Store:
    """Return the store that the settings name."""
    return RedisStore(settings.REDIS_URL) if settings.RATE_LIMITS_IN == "redis" else MemoryStore()


class Budgets(BaseThrottle):
    """Draws on the budgets of whoever asks, as soon as it is known who that is."""

    def allow_request(  # type: ignore[override]  # it stands before these views alone
        self, request: Request, view: Budgeted
    ) -> bool:
        """Return True, or refuse with the time to wait."""
        draw(request._request, _buckets(request, view))  # noqa: SLF001 - the headers are put there
        return True


class BudgetHeadersMiddleware:
    """Tells on each answer what stands of the budgets that its request drew on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the headers."""
        response = self.get_response(request)
        for name, value in getattr(request, "budget_headers", {}).items():
            response.headers[name] = value
        return response


def draw(request: HttpRequest, buckets: Sequence[Bucket]) -> None:
    """Draw one request on all `buckets`; refuse it where one of them is empty."""
    try:
        drawn = store().draw(buckets)
    except UnavailableError as error:
        unasked.inc()
        log.warning("rate_limiter_unavailable", why=str(error))
        return
    request.budget_headers = _headers(buckets, drawn)  # type: ignore[attr-defined]
    if drawn.wait:
        empty = [each.policy for each, held in zip(buckets, drawn.held, strict=True) if held < 1]
        for policy in empty:
            refused_requests.labels(policy).inc()
        raise ProblemError(
            "too_many_requests",
            f"The budget {' and '.join(empty)} is spent.",
            headers={"Retry-After": str(max(1, ceil(drawn.wait)))},
        )


def bucket_of(policy: str, owner: object) -> Bucket:
    """Return the bucket of `owner` under a policy of the settings."""
    quota, window = settings.RATE_LIMITS[policy]
    return Bucket(policy, str(owner), quota, window)


def address_of(request: HttpRequest) -> str:
    """Return whose budget of the address it is; all of whom nobody knows the address share one,
    and so do all addresses of the sixth version that one subscriber has at will.
    """
    seen = source_address(request)
    if seen is None:
        return "unknown"
    found = ip_address(seen)
    if isinstance(found, IPv4Address):
        return seen
    within = ip_network((found, _SUBSCRIBERS), strict=False)
    return str(found.ipv4_mapped or within)


def failed_authentication(request: Request) -> None:
    """Count a key that is none, by address, and by address with the part that is no secret.

    Nobody with a valid key is ever counted here, so no outsider locks a tenant out.
    """
    _, _, presented = request.headers.get("Authorization", "").partition(" ")
    prefix = presented.strip()[:20]  # `fdk_` and the public part; the secret begins behind it
    asking = request._request  # noqa: SLF001
    address = address_of(asking)
    guesses = bucket_of("failed_authentication", f"{address}:{prefix}")
    draw(asking, [guesses, bucket_of("address", address)])


def count_attempt(request: HttpRequest, owner: str) -> int | None:
    """Count an attempt to sign in as `owner` before it is looked at; the seconds to wait where
    there were too many from this address. Who comes from elsewhere is not hindered.
    """
    address = address_of(request)
    name = hashlib.sha256(owner.encode()).hexdigest()[:32]
    try:
        draw(request, [bucket_of("sign_in", f"{address}:{name}"), bucket_of("address", address)])
    except ProblemError as refused:
        return int(refused.headers["Retry-After"])
    return None


def count_at_door(request: HttpRequest, owner: str) -> int | None:
    """Count a form sent by a code at a door, from whichever address; the seconds to wait."""
    try:
        draw(request, [bucket_of("door", owner), bucket_of("address", address_of(request))])
    except ProblemError as refused:
        return int(refused.headers["Retry-After"])
    return None


def _buckets(request: Request, view: Budgeted) -> list[Bucket]:
    key = cast("KeyFound | None", request.auth)
    if key is None:
        return [bucket_of("address", address_of(request._request))]  # noqa: SLF001
    apart = view.budgets.get(str(request.method).lower())
    if apart is not None:
        return [bucket_of(apart, key.organization_id)]
    return [bucket_of("key", key.key_id), bucket_of("organization", key.organization_id)]


def _headers(buckets: Sequence[Bucket], drawn: Drawn) -> dict[str, str]:
    standing = []
    for bucket, held in zip(buckets, drawn.held, strict=True):
        full_in = ceil((bucket.quota - held) * bucket.window / bucket.quota)
        standing.append(f'"{bucket.policy}";r={floor(held)};t={full_in}')
    policies = [f'"{each.policy}";q={each.quota};w={each.window}' for each in buckets]
    return {POLICY: ", ".join(policies), STANDING: ", ".join(standing)}
