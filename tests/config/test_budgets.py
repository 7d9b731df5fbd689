"""What a caller may ask: exact over processes, told on every answer, and never a failure."""

from __future__ import annotations

import multiprocessing
import re
import time
from collections.abc import Iterator
from math import ceil
from multiprocessing.queues import Queue
from uuid import uuid4

import pytest
from django.test import RequestFactory
from pytest_django import Settings

from config.http import budgets
from config.http.buckets import Bucket, MemoryStore, RedisStore, Store, UnavailableError
from doors.api.sources import source_address
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import Answer, Caller, caller

NOBODY_HOME = "redis://127.0.0.1:1/0"


@pytest.fixture
def limits(settings: Settings) -> Iterator[dict[str, tuple[int, int]]]:
    """Budgets of the test's own, in a store of its own."""
    settings.RATE_LIMITS = dict.fromkeys(settings.RATE_LIMITS, (100, 60))
    budgets.store.cache_clear()
    yield settings.RATE_LIMITS
    budgets.store.cache_clear()


def bucket(quota: int, window: int) -> Bucket:
    """Return a bucket that nobody else has."""
    return Bucket("test", uuid4().hex, quota, window)


def kept_in(kind: str, url: str) -> Store:
    """Return a store of each kind."""
    return RedisStore(url) if kind == "redis" else MemoryStore()


@pytest.mark.redis
@pytest.mark.parametrize("kind", ["redis", "memory"])
def test_a_bucket_gives_its_quota_and_no_more(kind: str, redis_url: str) -> None:
    """What is drawn is gone, the wait is that for one token, and a failed draw takes nothing."""
    store, own = kept_in(kind, redis_url), bucket(5, 3_600)
    held = [store.draw([own]).held[0] for _ in range(5)]
    assert [round(each) for each in held] == [4, 3, 2, 1, 0]
    for _ in range(3):
        refused = store.draw([own])
        assert 715 < refused.wait <= 720
        assert refused.held[0] < 1


@pytest.mark.redis
@pytest.mark.parametrize("kind", ["redis", "memory"])
def test_of_several_buckets_all_are_drawn_or_none(kind: str, redis_url: str) -> None:
    """A request refused by one budget leaves the other as it was."""
    store, small, large = kept_in(kind, redis_url), bucket(1, 3_600), bucket(10, 3_600)
    assert store.draw([small, large]).wait == 0
    for _ in range(3):
        refused = store.draw([small, large])
        assert refused.wait > 3_500
    assert round(refused.held[1]) == 9


def ask_for(url: str, own: Bucket, seconds: float, admitted: Queue[int]) -> None:
    """Ask 200 times a second, and say how many were let in."""
    store, began, count = RedisStore(url), time.monotonic(), 0
    asked = 0
    while (now := time.monotonic()) - began < seconds:
        if asked < (now - began) * 200:
            asked += 1
            count += store.draw([own]).wait == 0
        else:
            time.sleep(0.001)
    admitted.put(count)


@pytest.mark.redis
def test_two_processes_together_get_the_limit(redis_url: str) -> None:
    """Four hundred a second of two processes: within 5 % of 100 at once and 100 a second."""
    context, own, seconds = multiprocessing.get_context("fork"), bucket(100, 1), 3.0
    admitted: Queue[int] = context.Queue()
    began = time.monotonic()
    asking = [
        context.Process(target=ask_for, args=(redis_url, own, seconds, admitted)) for _ in "ab"
    ]
    for process in asking:
        process.start()
    found = sum(admitted.get(timeout=30) for _ in asking)
    for process in asking:
        process.join(10)
    took = time.monotonic() - began
    allowed = own.quota + own.quota / own.window * seconds
    most = own.quota + own.quota / own.window * took
    assert allowed * 0.95 <= found <= most * 1.05, (found, allowed, most)


def standing(answer: Answer) -> dict[str, int]:
    """Return what is left of each budget, by the header."""
    return {
        name: int(left) for name, left in re.findall(r'"(\w+)";r=(\d+);t=\d+', answer["RateLimit"])
    }


@pytest.mark.django_db
def test_every_answer_says_what_stands(limits: dict[str, tuple[int, int]]) -> None:
    """Two budgets of a key, on success and refusal alike, in the form of the draft."""
    limits["organization"] = (200, 60)
    inspector = caller(scopes=["visits:read"])
    first, second = inspector.get("/v1/visits"), inspector.get("/v1/sites")
    assert (first.status_code, second.status_code) == (200, 403)
    assert first["RateLimit-Policy"] == '"key";q=100;w=60, "organization";q=200;w=60'
    assert standing(first) == {"key": 99, "organization": 199}
    assert standing(second) == {"key": 98, "organization": 198}


@pytest.mark.django_db
def test_a_spent_budget_is_a_problem_with_a_wait(limits: dict[str, tuple[int, int]]) -> None:
    """429, the time after which one more is let in, and nothing left in the header."""
    limits["key"] = (2, 60)
    inspector = caller()
    assert [inspector.get("/v1/visits").status_code for _ in range(2)] == [200, 200]
    answer = inspector.get("/v1/visits")
    assert (answer.status_code, answer.json()["code"]) == (429, "too_many_requests")
    assert answer["Content-Type"] == "application/problem+json"
    assert answer["Retry-After"] in {"29", "30"}
    assert standing(answer) == {"key": 0, "organization": 98}


@pytest.mark.django_db
def test_an_organizations_keys_share_its_budget(limits: dict[str, tuple[int, int]]) -> None:
    """A second key is no second budget; another organization's is untouched."""
    limits["organization"] = (2, 60)
    inspector, stranger = caller(), caller("Lakeside Door Inspections")
    inspector.get("/v1/visits")
    with acting_for(inspector.organization.id, write=True):
        _, text = issue_key(label="second", scopes=["visits:read"])
    second = Caller()
    second.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    assert [second.get("/v1/visits").status_code for _ in range(2)] == [200, 429]
    assert stranger.get("/v1/visits").status_code == 200


@pytest.mark.django_db
def test_long_work_has_a_budget_of_its_own(limits: dict[str, tuple[int, int]], cast: Cast) -> None:
    """Packets are refused while everything else goes on."""
    limits["long_work"] = (1, 60)
    firm = client_of(cast.firm)
    sent = {"site": str(cast.site.id)}
    found = [firm.post("/v1/submittals", sent, format="json") for _ in range(2)]
    assert [answer.status_code for answer in found] == [202, 429]
    assert found[0]["RateLimit-Policy"] == '"long_work";q=1;w=60'
    assert firm.get("/v1/submittals").status_code == 200


@pytest.mark.django_db
def test_who_needs_no_key_is_counted_by_address(limits: dict[str, tuple[int, int]]) -> None:
    """A public page has the budget of the address that asks."""
    limits["address"] = (1, 60)
    anybody = Caller()
    found = [anybody.get(f"/v1/seals/{'0' * 64}").status_code for _ in range(2)]
    assert found == [404, 429]
    assert anybody.get(f"/v1/seals/{'0' * 64}", REMOTE_ADDR="192.0.2.7").status_code == 404


@pytest.mark.django_db
def test_guessing_is_slowed_and_nobody_is_locked_out(
    limits: dict[str, tuple[int, int]],
) -> None:
    """Twenty wrong keys a minute of one address and public part; the right one always works."""
    limits["failed_authentication"] = (20, 60)
    inspector = caller()
    wrong = Caller()
    wrong.credentials(HTTP_AUTHORIZATION=f"Bearer {inspector.key[:-12]}{'0' * 12}")
    found = [wrong.get("/v1/visits").status_code for _ in range(25)]
    assert found == [401] * 20 + [429] * 5
    assert inspector.get("/v1/visits").status_code == 200
    assert wrong.get("/v1/visits", REMOTE_ADDR="192.0.2.7").status_code == 401
    other = Caller()
    other.credentials(HTTP_AUTHORIZATION="Bearer nonsense")
    assert other.get("/v1/visits").status_code == 401


@pytest.mark.django_db
def test_without_redis_requests_pass(
    settings: Settings, limits: dict[str, tuple[int, int]]
) -> None:
    """It is logged and counted, and no answer says what nobody knows."""
    settings.RATE_LIMITS_IN, settings.REDIS_URL = "redis", NOBODY_HOME
    before = budgets.unasked._value.get()  # noqa: SLF001 (the library has no other way)
    inspector = caller()
    found = [inspector.get("/v1/visits") for _ in range(3)]
    assert [answer.status_code for answer in found] == [200] * 3
    assert not any("RateLimit" in answer for answer in found)
    assert budgets.unasked._value.get() == before + 3  # noqa: SLF001


def test_a_store_that_failed_is_left_alone_for_a_moment() -> None:
    """An outage costs one attempt a second, not one a request."""
    store, began = RedisStore(NOBODY_HOME), time.monotonic()
    for _ in range(1_000):
        with pytest.raises(UnavailableError):
            store.draw([bucket(1, 1)])
    assert time.monotonic() - began < 1


@pytest.mark.parametrize(
    ("proxies", "said", "address"),
    [
        (0, "192.0.2.1", "127.0.0.1"),
        (1, "192.0.2.1", "192.0.2.1"),
        (1, "spoofed, 192.0.2.1", "192.0.2.1"),
        (2, "spoofed, 192.0.2.1, 10.0.0.1", "192.0.2.1"),
        (2, "192.0.2.1", "127.0.0.1"),
        (1, "", "127.0.0.1"),
        (1, "192.0.2.1, spoofed", "127.0.0.1"),
        (1, "198.51.100.9, 192.0.2.1:5044", "192.0.2.1"),
        (1, "198.51.100.9, [2001:DB8::1]:443", "2001:db8::1"),
        (1, "2001:db8:0:0::1", "2001:db8::1"),
        (1, "fe80::1%eth0", "fe80::1"),
        (3, "198.51.100.9, 192.0.2.1, 10.0.0.2, 10.0.0.1", "192.0.2.1"),
    ],
)
def test_only_our_own_proxies_are_believed(
    settings: Settings, proxies: int, said: str, address: str
) -> None:
    """Whatever a caller writes before them counts for nothing."""
    settings.PROXIES_BEFORE_US = proxies
    request = RequestFactory().get("/", headers={"X-Forwarded-For": said})
    assert source_address(request) == address


def test_a_full_budget_is_told_as_full() -> None:
    """Nothing to wait for until it is full again."""
    own = bucket(10, 60)
    told = budgets._headers([own], MemoryStore().draw([own]))  # noqa: SLF001
    assert told["RateLimit"] == f'"test";r=9;t={ceil(60 / 10)}'


@pytest.mark.parametrize(
    ("one", "other", "budgets_of_them"),
    [
        ("2001:db8:5:6::1", "2001:db8:5:6:ffff::9", 1),
        ("2001:db8:5:6::1", "2001:db8:5:7::1", 2),
        ("::ffff:192.0.2.1", "::ffff:192.0.2.2", 2),
        ("::ffff:192.0.2.1", "192.0.2.1", 1),
        ("192.0.2.1", "192.0.2.2", 2),
    ],
)
def test_who_has_addresses_at_will_has_one_budget(
    one: str, other: str, budgets_of_them: int
) -> None:
    """A subscriber has 64 bits of the sixth version; of the fourth, each address is one."""
    requests = [RequestFactory().get("/", REMOTE_ADDR=each) for each in (one, other)]
    assert len({budgets.address_of(each) for each in requests}) == budgets_of_them
