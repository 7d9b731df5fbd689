"""A visit that cannot be accepted says where and why, and leaves nothing behind."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.http import HttpResponse
from rest_framework.test import APIClient

from doors.models import LedgerEntry, Replay
from doors.tenancy import acting_for
from inspections.models import Owing, Reading, Visit
from tests.cast import Cast
from tests.clients import client_of


@pytest.fixture
def firm(cast: Cast) -> APIClient:
    """The inspection firm's own app."""
    return client_of(cast.firm)


def body(cast: Cast, **changed: Any) -> dict[str, Any]:
    """A visit as a telephone sends it; None leaves a field out."""
    at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    sent = {
        "opening": str(cast.opening.id),
        "client_ref": str(uuid4()),
        "activity": "periodic_inspection",
        "performed_at": at.isoformat(),
        "attestation": {"name": "Noor Vale", "at": at.isoformat()},
        "people": [{"name": "Noor Vale", "role": "inspector"}],
        "readings": [{"quantity": "closing_speed", "value": "12", "unit": "in/s"}],
        **changed,
    }
    return {name: value for name, value in sent.items() if value is not None}


def post(client: APIClient, sent: dict[str, Any] | str, key: str = "") -> HttpResponse:
    """Send it raw, so that what is sent is what the test says."""
    text = sent if isinstance(sent, str) else json.dumps(sent)
    return client.generic(
        "POST",
        "/v1/visits",
        text,
        content_type="application/json",
        headers={"Idempotency-Key": f'"{key or uuid4()}"'},
    )


def nothing_stored(cast: Cast) -> bool:
    """No visit, reading, owing, kept answer or ledger line of it."""
    with acting_for(cast.firm.id, write=False):
        kept = (
            Visit.objects.exists()
            or Reading.objects.exists()
            or Owing.objects.exists()
            or Replay.objects.exists()
        )
    if kept:
        return False
    with acting_for(cast.owner.id, write=False):
        return not LedgerEntry.objects.filter(kind="visit_recorded").exists()


def reading(**changed: Any) -> list[dict[str, Any]]:
    """One reading; None leaves a field out."""
    sent = {"quantity": "closing_speed", "value": "12", "unit": "in/s", **changed}
    return [{name: value for name, value in sent.items() if value is not None}]


TOMORROW = (datetime.now(UTC) + timedelta(days=1)).isoformat()
CASES: list[tuple[str, dict[str, Any], int, str]] = [
    ("no unit", {"readings": reading(unit=None)}, 400, "/readings/0/unit"),
    ("unknown unit", {"readings": reading(unit="furlong/s")}, 400, "/readings/0/unit"),
    ("other dimension", {"readings": reading(unit="lbf")}, 422, "/readings/0/unit"),
    ("NaN as text", {"readings": reading(value="NaN")}, 400, "/readings/0/value"),
    ("infinity", {"readings": reading(value="Infinity")}, 400, "/readings/0/value"),
    ("a number for text", {"readings": reading(value=12)}, 400, "/readings/0/value"),
    ("true for a value", {"readings": reading(value=True)}, 400, "/readings/0/value"),
    ("a comma", {"readings": reading(value="12,5")}, 400, "/readings/0/value"),
    ("value with unit", {"readings": reading(value="12 in/s")}, 400, "/readings/0/value"),
    ("negative", {"readings": reading(value="-12")}, 422, "/readings/0/value"),
    ("5000 digits", {"readings": reading(value="9" * 5000)}, 400, "/readings/0/value"),
    ("unknown quantity", {"readings": reading(quantity="warp")}, 422, "/readings/0/quantity"),
    ("unknown field", {"colour": "red"}, 400, "/colour"),
    ("unknown inner field", {"readings": reading(colour="red")}, 400, "/readings/0/colour"),
    ("naive time", {"performed_at": "2026-03-01T09:30:00"}, 400, "/performed_at"),
    ("no such day", {"performed_at": "2026-02-30T09:30:00Z"}, 400, "/performed_at"),
    ("leap second", {"performed_at": "2016-12-31T23:59:60Z"}, 400, "/performed_at"),
    ("tomorrow", {"performed_at": TOMORROW}, 422, "/performed_at"),
    ("unknown activity", {"activity": "annual"}, 400, "/activity"),
    ("nobody there", {"people": []}, 400, "/people"),
    ("no attestation", {"attestation": None}, 400, "/attestation"),
    ("not an id", {"opening": "A-1"}, 400, "/opening"),
    ("NUL in a name", {"client_ref": "a\x00b"}, 400, "/client_ref"),
    ("lone surrogate", {"remarks": "\ud800"}, 400, "/remarks"),
    ("line end in a name", {"client_ref": "a\r\nb"}, 400, "/client_ref"),
    ("bidi control in a name", {"client_ref": "a\u202eb"}, 400, "/client_ref"),
    ("check without result", {"checks": [{"check": "tracks"}]}, 400, "/checks/0/result"),
    ("unknown check", {"checks": [{"check": "x", "result": "conforms"}]}, 422, "/checks/0/check"),
    ("a list for an object", {"checks": [[]]}, 400, "/checks/0"),
    ("empty trace", {"traces": [{"kind": "travel"}]}, 400, "/traces/0"),
    ("a fraction as number", {"checks": [{"check": 1.5}]}, 400, "/checks/0/check"),
]


@pytest.mark.parametrize(
    ("change", "status", "pointer"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_it_is_refused_with_its_place(
    cast: Cast, firm: APIClient, change: dict[str, Any], status: int, pointer: str
) -> None:
    """A problem document that points at the field, and nothing stored."""
    answer = post(firm, body(cast, **change))
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    problem = json.loads(answer.content)
    assert problem["status"] == status
    assert any(e["pointer"].startswith(pointer) for e in problem["errors"]), problem
    assert all(e["detail"] for e in problem["errors"])
    assert nothing_stored(cast)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '"visit"',
        '{"readings": [NaN]}',
        '{"a": 1, "a": 2}',
        "[" * 100_000,
        '{"a": 1e999}',
        "\x00",
        '{"n": ' + "9" * 5000 + "}",
    ],
    ids=["empty", "cut", "list", "text", "NaN", "twice", "deep", "1e999", "NUL", "long"],
)
def test_what_is_not_json_is_refused(cast: Cast, firm: APIClient, text: str) -> None:
    """400, never a guess and never a failure of ours."""
    answer = post(firm, text)
    assert answer.status_code == 400, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert nothing_stored(cast)


def test_an_opening_of_another_tenant_does_not_exist(cast: Cast, firm: APIClient) -> None:
    """Byte for byte the answer for one that never was, the request's id apart."""

    def answered(opening: str) -> dict[str, Any]:
        answer = post(firm, body(cast, opening=opening))
        assert answer.status_code == 404
        return {k: v for k, v in json.loads(answer.content).items() if k != "instance"}

    assert answered(str(cast.neighbours_opening.id)) == answered(str(uuid4()))
    assert nothing_stored(cast)


def test_a_visit_needs_an_idempotency_key(cast: Cast, firm: APIClient) -> None:
    """Without it a retry could not be told from a second visit."""
    answer = firm.post("/v1/visits", body(cast), format="json")
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_missing")
    assert nothing_stored(cast)


def test_the_same_request_again_gets_the_same_answer(cast: Cast, firm: APIClient) -> None:
    """One visit, one answer, said to be a repetition."""
    sent = body(cast)
    first, again = post(firm, sent, "k1"), post(firm, sent, "k1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert again["Idempotency-Replayed"] == "true"
    with acting_for(cast.firm.id, write=False):
        assert Visit.objects.count() == 1


def test_the_same_key_with_another_body_is_a_conflict(cast: Cast, firm: APIClient) -> None:
    """The first stands; the second is told so and stored nowhere."""
    sent = body(cast)
    post(firm, sent, "k1")
    answer = post(firm, sent | {"readings": reading(value="13")}, "k1")
    assert (answer.status_code, json.loads(answer.content)["code"]) == (
        422,
        "idempotency_key_reused",
    )
    with acting_for(cast.firm.id, write=False):
        assert list(Reading.objects.values_list("value", flat=True)) == ["12"]


def test_the_same_reference_under_another_key_is_a_conflict(cast: Cast, firm: APIClient) -> None:
    """A client's reference stands once, for ever."""
    sent = body(cast)
    post(firm, sent)
    answer = post(firm, sent)
    assert (answer.status_code, json.loads(answer.content)["code"]) == (409, "already_exists")


def test_anothers_key_replays_nothing(cast: Cast, firm: APIClient) -> None:
    """The kept answer belongs to the organization that got it."""
    sent = body(cast)
    assert post(firm, sent, "k1").status_code == 201
    owner = client_of(cast.owner)
    answer = post(owner, sent, "k1")
    assert answer.status_code == 201
    assert "Idempotency-Replayed" not in answer
