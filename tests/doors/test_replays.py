"""The same request twice: one effect, one answer."""

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection
from django.test import RequestFactory
from rest_framework.request import Request

from doors.api.problems import ProblemError
from doors.api.replays import presented_key
from doors.models import Replay
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from tests.doors.callers import Answer, Caller, caller
from tests.doors.routes import HELD, HELD_KEY, RELEASED

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.doors.routes")]


@pytest.fixture
def inspector() -> Caller:
    """An inspection firm with a key for visits."""
    return caller()


def post(client: Caller, body: dict[str, Any], key: str | None = "k-1") -> Answer:
    """Post a note, with an Idempotency-Key unless it is None."""
    headers = {} if key is None else {"Idempotency-Key": key}
    return client.post("/v1/notes", body, headers=headers)


def notes(client: Caller) -> int:
    """Return how many notes the caller's organization has."""
    with acting_for(client.organization.id, write=False):
        return Replay.objects.filter(route="note").count()


def test_a_repetition_gets_the_first_answer(inspector: Caller) -> None:
    """Same key, same body: the same bytes, status and Location, one effect, and it says so."""
    first, second = post(inspector, {"key": "x"}), post(inspector, {"key": "x"})
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.content == second.content
    assert first["Location"] == second["Location"]
    assert first["Content-Type"] == second["Content-Type"] == "application/json"
    assert "Idempotency-Replayed" not in first
    assert second["Idempotency-Replayed"] == "true"
    assert notes(inspector) == 1


def test_a_renewed_api_key_finds_the_answer(inspector: Caller) -> None:
    """The key of the request belongs to the organization, not to the credential."""
    first = post(inspector, {"key": "x"})
    with acting_for(inspector.organization.id, write=True):
        _, text = issue_key(label="renewed", scopes=["visits:write"])
    inspector.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    second = post(inspector, {"key": "x"})
    assert (second.content, second["Idempotency-Replayed"]) == (first.content, "true")


def test_another_body_under_the_same_key_is_refused(inspector: Caller) -> None:
    """The first answer stands and the second body has no effect."""
    post(inspector, {"key": "x"})
    response = post(inspector, {"key": "y"})
    assert (response.status_code, response.json()["code"]) == (422, "idempotency_key_reused")
    assert notes(inspector) == 1


def test_another_organizations_key_never_matches(inspector: Caller) -> None:
    """The same key and body from elsewhere is a request of its own."""
    first = post(inspector, {"key": "x"})
    stranger = caller("Lakeside Door Inspections")
    other = post(stranger, {"key": "x"})
    assert other.status_code == 201
    assert "Idempotency-Replayed" not in other
    assert other.json()["id"] != first.json()["id"]


def test_a_key_belongs_to_its_address(inspector: Caller) -> None:
    """The same key elsewhere is a new request, even on the same kind of thing."""
    made = post(inspector, {"key": "x"}).json()
    response = inspector.post(f"/v1/notes/{made['id']}", headers={"Idempotency-Key": "k-1"})
    assert response.status_code == 500  # it ran, and failed as it always does


def test_a_refusal_is_not_kept(inspector: Caller) -> None:
    """After a mistake is put right, the same key serves."""
    assert post(inspector, {"key": ""}).status_code == 400
    assert post(inspector, {"key": "x", "refuse": True}).status_code == 422
    assert post(inspector, {"key": "x"}).status_code == 201
    assert notes(inspector) == 1


def test_the_key_is_required(inspector: Caller) -> None:
    """Without it nothing is done."""
    response = post(inspector, {"key": "x"}, key=None)
    assert (response.status_code, response.json()["code"]) == (400, "idempotency_key_missing")
    assert notes(inspector) == 0


@pytest.mark.parametrize(
    ("header", "key"),
    [
        ('"k-1"', "k-1"),
        ("k-1", "k-1"),
        ('"two words"', "two words"),
        (r'"a \"b\" \\c"', r'a "b" \c'),
        ('"' + "x" * 255 + '"', "x" * 255),
    ],
)
def test_a_quoted_string_and_a_bare_word_are_one_key(header: str, key: str) -> None:
    """Quotes are not part of the key."""
    assert presented_key(request_with(header), required=True) == key


@pytest.mark.parametrize(
    "header",
    ["", '""', "two words", "a,b", '"open', "caf\u00e9", "x" * 256, '"a\x7f"', "a\\b", '"a\\b"'],
)
def test_what_is_no_key_is_refused(header: str) -> None:
    """Nothing is cut or repaired."""
    with pytest.raises(ProblemError) as caught:
        presented_key(request_with(header), required=False)
    assert caught.value.problem.code == "idempotency_key_invalid"


def request_with(header: str) -> Request:
    """Return what `presented_key` asks of a request."""
    return Request(RequestFactory().post("/", headers={"Idempotency-Key": header}))


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_request_under_way_is_a_conflict(inspector: Caller) -> None:
    """While the first runs, its repetition is told to wait; afterwards it gets the answer."""
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(in_thread, inspector, {"key": HELD_KEY})
        assert HELD.wait(10)
        early = post(inspector, {"key": HELD_KEY})
        RELEASED.set()
        answer = first.result(10)
    assert (early.status_code, early.json()["code"]) == (409, "request_in_progress")
    assert early["Retry-After"] == "1"
    late = post(inspector, {"key": HELD_KEY})
    assert (late.content, late["Idempotency-Replayed"]) == (answer.content, "true")
    assert notes(inspector) == 1


def in_thread(client: Caller, body: dict[str, Any]) -> Answer:
    """Post from a thread of its own, whose connection is closed after it."""
    try:
        return post(client, body)
    finally:
        connection.close()


def test_the_kept_answer_is_the_rendered_one(inspector: Caller) -> None:
    """What is stored is the bytes that were sent."""
    first = post(inspector, {"key": "x"})
    with acting_for(inspector.organization.id, write=False):
        kept = Replay.objects.get(route="/v1/notes")
    assert kept.body.encode() == first.content
    assert kept.status == 201
    assert json.loads(kept.body) == first.json()
