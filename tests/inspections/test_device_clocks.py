"""A device whose clock is wrong: noticed and told, and nothing of what it sent is corrected."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from inspections.selectors.device_clocks import lasting
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import Answer
from tests.inspections.test_batches import item

WITHIN = 60  # seconds that a request may take here


@pytest.fixture
def firm(cast: Cast) -> APIClient:
    """The inspection firm's own app."""
    return client_of(cast.firm)


def shown(**off: int) -> str:
    """What a clock shows now that is off by so much."""
    return (datetime.now(UTC) + timedelta(**off)).isoformat()


def post(client: APIClient, body: dict[str, Any], key: str = "") -> Answer:
    """Send one visit."""
    key = key or str(uuid4())
    return client.post("/v1/visits", body, format="json", headers={"Idempotency-Key": key})


def told(visit: dict[str, Any]) -> list[str]:
    """What is said of the clock."""
    return [w["detail"] for w in visit["warnings"] if w["code"] == "clock_differs"]


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (47, ["47 minutes", "ahead of ours"]),
        (-62, ["1 hour and 2 minutes", "behind ours"]),
        (4, None),
        (-4, None),
    ],
)
def test_a_clock_that_differs_is_told_beyond_five_minutes(
    cast: Cast, firm: APIClient, minutes: int, words: list[str] | None
) -> None:
    """By how much and which way; the visit's time stays, and its digest does not know of it."""
    sent = item(cast, sent_at=shown(minutes=minutes, seconds=20 if minutes > 0 else -40))
    made = post(firm, sent).json()
    assert abs(made["clock_skew_s"] - minutes * 60) < WITHIN
    assert made["performed_at"] == sent["performed_at"]
    assert "sent_at" not in made["findings"]
    found = told(made)
    assert len(found) == (words is not None)
    assert all(part in found[0] for part in words or ())
    assert firm.get(f"/v1/visits/{made['id']}").json()["clock_skew_s"] == made["clock_skew_s"]


def test_without_it_nothing_is_known_of_a_clock(cast: Cast, firm: APIClient) -> None:
    """Null, and no warning; the digest of the content is that with it."""
    sent = item(cast)
    made = post(firm, sent).json()
    assert (made["clock_skew_s"], told(made)) == (None, [])
    other = post(firm, sent | {"client_ref": "another", "sent_at": shown(hours=1)}).json()
    assert other["content_sha256"] == made["content_sha256"]


def test_another_try_says_another_time_and_is_the_same(cast: Cast, firm: APIClient) -> None:
    """Alone and in a batch, under its key or its reference; the first skew stands."""
    sent = item(cast)
    first = post(firm, sent | {"sent_at": shown(minutes=30)}, "k").json()
    again = post(firm, sent | {"sent_at": shown(minutes=31)}, "k")
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.json() == first
    both = [sent | {"sent_at": shown(minutes=32), "idempotency_key": "k"}, sent]
    answer = firm.post(
        "/v1/visits/batch", {"visits": both, "sent_at": shown(minutes=33)}, format="json"
    ).json()
    assert [r["replayed"] for r in answer["results"]] == [True, True]
    assert {r["visit"]["clock_skew_s"] for r in answer["results"]} == {first["clock_skew_s"]}


def test_a_batch_says_it_once_and_an_item_may_say_otherwise(cast: Cast, firm: APIClient) -> None:
    """Measured when the batch came; what an item says itself goes before."""
    body = {
        "sent_at": shown(minutes=20),
        "visits": [item(cast), item(cast, sent_at=shown(minutes=-90))],
    }
    results = firm.post("/v1/visits/batch", body, format="json").json()["results"]
    found = [r["visit"]["clock_skew_s"] / 60 for r in results]
    assert [round(minutes, -1) for minutes in found] == [20, -90]
    assert [len(told(r["visit"])) for r in results] == [1, 1]


def test_a_future_visit_is_told_of_the_clock_that_made_it_one(cast: Cast, firm: APIClient) -> None:
    """Where by that clock it had happened; a time that it does not explain stays a plain one."""
    at = shown(minutes=40)
    sent = item(cast, performed_at=at, attestation={"name": "Noor Vale", "at": at})
    refused = post(firm, sent | {"sent_at": shown(minutes=47, seconds=20)})
    assert refused.status_code == 422
    (error,) = refused.json()["errors"]
    assert error["pointer"] == "/performed_at"
    assert "runs 47 minutes" in error["detail"]
    assert "set it right, correct the times" in error["detail"]
    plain = post(firm, sent | {"sent_at": shown(minutes=10)}).json()["errors"][0]["detail"]
    assert "By the clock of the service" in plain
    assert "By the device's clock" not in plain


@pytest.mark.parametrize(
    ("time", "words"),
    [
        (timedelta(seconds=-47 * 60), "47 minutes"),
        (timedelta(days=2, hours=3, minutes=5), "2 days and 3 hours"),
        (timedelta(days=1, minutes=5), "1 day"),
        (timedelta(seconds=61), "1 minute and 1 second"),
        (timedelta(), "0 seconds"),
    ],
)
def test_lengths_in_words(time: timedelta, words: str) -> None:
    """The two largest units, as far as they follow each other."""
    assert lasting(time) == words
