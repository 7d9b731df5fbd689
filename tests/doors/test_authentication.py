"""Who may call at all, and with which scope."""

import pytest
from django.test import Client

from doors.services.keys import issue_key, revoke_key
from doors.tenancy import acting_for
from tests.clients import expired_key
from tests.doors.callers import Answer, Caller, caller

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.doors.routes")]


@pytest.fixture
def inspector() -> Caller:
    """An inspection firm with a key for visits."""
    return caller()


def code(response: Answer) -> tuple[int, str]:
    """Return status and code of a problem."""
    return response.status_code, response.json()["code"]


def get(authorization: str | None) -> Answer:
    """Ask with this Authorization header and a fixed request id."""
    headers = {"X-Request-Id": "00000000-0000-4000-8000-000000000001"}
    if authorization is not None:
        headers["Authorization"] = authorization
    return Client().get("/v1/notes", headers=headers)


def test_a_valid_key_is_let_in(inspector: Caller) -> None:
    """The key names its organization; the scheme's case does not matter."""
    assert get(f"Bearer {inspector.key}").status_code == 200
    assert get(f"bearer {inspector.key}").status_code == 200


def test_every_invalid_key_gets_the_same_answer(inspector: Caller) -> None:
    """No key, another scheme, unknown, altered, expired and revoked: byte for byte one answer."""
    expired = expired_key(inspector.organization)
    with acting_for(inspector.organization.id, write=True):
        row, revoked = issue_key(label="lost", scopes=["visits:read"])
    assert get(f"Bearer {revoked}").status_code == 200
    with acting_for(inspector.organization.id, write=True):
        revoke_key(key_id=row.id)
    altered = inspector.key[:-1] + ("0" if inspector.key[-1] != "0" else "1")
    attempts = [
        None,
        "",
        "Bearer",
        f"Basic {inspector.key}",
        f"Bearer {altered}",
        "Bearer nonsense",
    ]
    answers = [
        get(each) for each in [*attempts, f"Bearer {expired}", f"Bearer {revoked}", "Bearer \u00e9"]
    ]
    assert {each.content for each in answers} == {answers[0].content}
    assert code(answers[0]) == (401, "unauthenticated")
    assert {each["WWW-Authenticate"] for each in answers} == {'Bearer realm="doors"'}


def test_a_key_without_the_scope_is_told_which(inspector: Caller) -> None:
    """Reading needs the read scope, writing the write scope."""
    reader = caller(scopes=["visits:read"])
    response = reader.post("/v1/notes", {"key": "x"}, headers={"Idempotency-Key": "a"})
    assert code(response) == (403, "scope_missing")
    assert "visits:write" in response.json()["detail"]
    assert reader.get("/v1/notes").status_code == 200
    assert reader.head("/v1/notes").status_code == 200
    writer = caller(scopes=["visits:write"])
    assert code(writer.get("/v1/notes")) == (403, "scope_missing")


def test_some_deeds_need_a_capability() -> None:
    """An organization of another kind reads what it sees, and does not do such work."""
    authority = caller(capabilities=["authority"])
    assert authority.get("/v1/notes").status_code == 200
    response = authority.post("/v1/notes", {"key": "x"}, headers={"Idempotency-Key": "a"})
    assert code(response) == (403, "capability_missing")
    assert "inspector or owner" in response.json()["detail"]


def test_a_stranger_learns_nothing_of_methods_and_parameters() -> None:
    """Without a key every question is answered 401."""
    assert code(Client().delete("/v1/notes")) == (401, "unauthenticated")
    assert code(Client().get("/v1/notes?odd=1")) == (401, "unauthenticated")


def test_a_tenants_answer_stays_out_of_shared_caches(inspector: Caller) -> None:
    """No cache gives one organization what another one got."""
    response = inspector.get("/v1/notes")
    assert response["Cache-Control"] == "private, no-cache"
    assert "Authorization" in response["Vary"]
