"""A key exchanged for a token of minutes, by OAuth 2.0 client credentials, where switched on."""

from __future__ import annotations

import base64
import json
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine
from django.conf import settings
from django.core import signing
from django.test import Client
from oauthlib.oauth2 import BackendApplicationClient, InvalidClientError, InvalidScopeError
from openapi_spec_validator import validate
from pytest_django import Settings

from config.http import budgets
from config.http.buckets import MemoryStore
from config.http.documentation import openapi_bytes
from doors.models import Key, Member, Role
from doors.selectors.tokens import key_by_token
from doors.services.keys import issue_key, revoke_key
from doors.tenancy import acting_for
from tests.clients import expired_key, member_of
from tests.doors.callers import Answer, Caller, caller

pytestmark = pytest.mark.django_db
FORM = "application/x-www-form-urlencoded"
ASKED = {"grant_type": "client_credentials"}


@pytest.fixture(autouse=True)
def _switched_on(settings: Settings) -> None:
    """Tokens are to be had."""
    settings.OAUTH_TOKENS = True


@pytest.fixture
def firm() -> Caller:
    """An inspection firm with a key for visits and keys."""
    return caller(scopes=["visits:read", "visits:write", "keys:read", "keys:write"])


def basic(client_id: str, secret: str) -> dict[str, str]:
    """The header by which a client says who it is."""
    return {"Authorization": f"Basic {base64.b64encode(f'{client_id}:{secret}'.encode()).decode()}"}


def ask(key: str, **sent: str) -> Answer:
    """Exchange a key for a token, with the client in the header."""
    body = urlencode(ASKED | sent)
    return Client().post("/oauth/token", body, content_type=FORM, headers=basic(key[:20], key))


def use(token: str, address: str = "/v1/visits", **how: object) -> Answer:
    """Read with a token."""
    return Client().get(address, headers={"Authorization": f"Bearer {token}"})


def test_an_independent_client_gets_and_uses_a_token(firm: Caller) -> None:
    """The client library of somebody else reads the answer and makes the header by it."""
    other = BackendApplicationClient(client_id=firm.key[:20], scope=["visits:read"])
    body = other.prepare_request_body(client_secret=firm.key, include_client_id=True)
    answer = Client().post("/oauth/token", body, content_type=FORM)
    assert answer.status_code == 200
    read = other.parse_request_body_response(answer.content.decode(), scope=["visits:read"])
    assert (read["token_type"], read["expires_in"]) == ("Bearer", 600)
    assert read["scope"] == ["visits:read"]
    _, headers, _ = other.add_token("https://testserver/v1/visits", http_method="GET")
    assert Client().get("/v1/visits", headers=headers).status_code == 200
    assert Client().post("/v1/visits", headers=headers).json()["code"] == "scope_missing"


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        ({"client_secret": "fdk_none"}, InvalidClientError),
        ({"scope": "sites:write"}, InvalidScopeError),
        ({"scope": "everything"}, InvalidScopeError),
    ],
)
def test_an_independent_client_understands_the_refusals(
    firm: Caller, wrong: dict[str, str], error: type[Exception]
) -> None:
    """Each is the error that the standard names."""
    other = BackendApplicationClient(client_id=firm.key[:20])
    sent = {"client_id": firm.key[:20], "client_secret": firm.key} | ASKED | wrong
    answer = Client().post("/oauth/token", urlencode(sent), content_type=FORM)
    with pytest.raises(error):
        other.parse_request_body_response(answer.content.decode())


def test_no_cache_keeps_it_and_no_table_either(firm: Caller) -> None:
    """The answer may be kept nowhere; of a token there is no row, and in it no secret."""
    answer = ask(firm.key)
    assert (answer["Cache-Control"], answer["Pragma"]) == ("no-store", "no-cache")
    assert answer["Content-Type"] == "application/json"
    token = answer.json()["access_token"]
    assert all(each.isalnum() or each in "-._~+/=" for each in token)
    secret = firm.key.split("_")[2]
    assert secret not in token
    assert secret not in base64.urlsafe_b64decode(token[4:].split(".")[0] + "==").decode()


def test_without_a_scope_it_reaches_as_far_as_the_key(firm: Caller) -> None:
    """And says how far that is, in the answer and at `/v1/me`, where its end is told too."""
    given = ask(firm.key).json()
    assert given["scope"] == "keys:read keys:write visits:read visits:write"
    me = use(given["access_token"], "/v1/me").json()
    assert me["key"]["scopes"] == given["scope"].split()
    ends = datetime.fromisoformat(me["key"]["expires_at"])
    assert timedelta(minutes=9) < ends - datetime.now(UTC) <= timedelta(minutes=10)
    assert me["organization"]["id"] == str(firm.organization.id)


def test_a_token_ends_after_its_minutes(firm: Caller) -> None:
    """And a client is told that it is the token which ended."""
    token = ask(firm.key).json()["access_token"]
    now = datetime.now(UTC)
    if settings.DATABASES["default"]["ENGINE"].endswith("postgresql"):
        key_id = _key_of(firm).id.hex
        past = [key_id, int(now.timestamp()) - 1, None]  # the database's clock does not travel
        token = "fdt_" + signing.Signer(salt="doors.selectors.tokens", sep=".").sign_object(past)
        answer = use(token)
    else:
        with time_machine.travel(now + timedelta(minutes=9, seconds=50)):
            assert use(token).status_code == 200
        with time_machine.travel(now + timedelta(minutes=10, seconds=1)):
            answer = use(token)
    assert (answer.status_code, answer.json()["code"]) == (401, "unauthenticated")
    assert answer["WWW-Authenticate"] == 'Bearer realm="doors", error="invalid_token"'


def test_a_token_ends_with_its_key_at_the_next_request(firm: Caller) -> None:
    """Revoked, or out of rotation: whatever was exchanged for it before."""
    token = ask(firm.key).json()["access_token"]
    assert use(token).status_code == 200
    with acting_for(firm.organization.id, write=True):
        issue_key(label="other", scopes=["keys:write", "keys:read"])
        revoke_key(key_id=_key_of(firm).id)
    assert use(token).status_code == 401
    assert ask(firm.key).json()["error"] == "invalid_client"


def test_a_token_lives_no_longer_than_its_key(firm: Caller) -> None:
    """A key that ends in a minute gives a token of a minute; one that ended gives none."""
    with acting_for(firm.organization.id, write=True) as context:
        _, text = issue_key(
            label="short", scopes=["visits:read"], expires_at=context.now + timedelta(minutes=1)
        )
    assert 55 <= ask(text).json()["expires_in"] <= 60
    refused = ask(expired_key(firm.organization))
    assert (refused.status_code, refused.json()["error"]) == (401, "invalid_client")


def test_a_token_makes_no_key_that_reaches_further_or_longer(firm: Caller) -> None:
    """Else minutes could be turned into ever."""
    token = ask(firm.key, scope="keys:write visits:read").json()["access_token"]
    client = Caller()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    for_ever = client.post("/v1/keys", {"label": "x", "scopes": ["visits:read"]})
    assert (for_ever.status_code, for_ever.json()["errors"][0]["pointer"]) == (422, "/expires_at")
    soon = (datetime.now(UTC) + timedelta(minutes=1)).isoformat()
    sent = {"label": "x", "scopes": ["visits:write"], "expires_at": soon}
    further = client.post("/v1/keys", sent)
    assert (further.status_code, further.json()["errors"][0]["pointer"]) == (422, "/scopes")


def test_a_key_that_lost_a_scope_takes_it_from_its_tokens(firm: Caller) -> None:
    """A token is held against the key as it is now."""
    member = member_of(firm.organization, role=Role.RECORDER)
    with acting_for(firm.organization.id, write=True):
        _, text = issue_key(
            label="hers", scopes=["visits:read", "visits:write"], member_id=member.id
        )
    token = ask(text, scope="visits:write visits:read").json()["access_token"]
    before = key_by_token(token)
    with acting_for(firm.organization.id, write=True):
        Member.objects.filter(id=member.id).update(role=Role.READER)
    after = key_by_token(token)
    assert (before and before.scopes, after and after.scopes) == (
        {"visits:read", "visits:write"},
        {"visits:read"},
    )


def test_no_other_text_is_a_token(firm: Caller) -> None:
    """One altered character anywhere, another signer's text, or none."""
    token = ask(firm.key).json()["access_token"]
    for place in range(4, len(token), 7):
        other = "A" if token[place] != "A" else "B"
        assert key_by_token(token[:place] + other + token[place + 1 :]) is None
    said = [_key_of(firm).id.hex, 2**31, None]
    for foreign in (signing.Signer(sep=".").sign_object(said), "", "x", ".", "é.é"):
        assert key_by_token(f"fdt_{foreign}") is None
    assert use("fdt_").status_code == 401


@pytest.mark.parametrize(
    ("body", "headers", "status", "error"),
    [
        ("", {}, 400, "invalid_request"),
        ("grant_type=", {}, 400, "invalid_request"),
        ("grant_type=password", {}, 400, "unsupported_grant_type"),
        ("grant_type=client_credentials", {}, 401, "invalid_client"),
        ("grant_type=client_credentials&client_id=x", {}, 401, "invalid_client"),
        ("grant_type=client_credentials&client_id=x&client_secret=y", {}, 401, "invalid_client"),
        ("grant_type=client_credentials&grant_type=password", {}, 400, "invalid_request"),
        ("grant_type=client_credentials", basic("a", "b"), 401, "invalid_client"),
        ("grant_type=client_credentials", {"Authorization": "Basic %"}, 401, "invalid_client"),
        ("grant_type=client_credentials", {"Authorization": "Bearer x"}, 401, "invalid_client"),
        ("grant_type=client_credentials&client_id=c", basic("a", "b"), 400, "invalid_request"),
        ("grant_type=client_credentials&client_secret=b", basic("a", "b"), 400, "invalid_request"),
    ],
)
def test_each_refusal_has_the_standards_shape(
    body: str, headers: dict[str, str], status: int, error: str
) -> None:
    """The word, a sentence, no caching, and the scheme where the client is not known."""
    answer = Client().post("/oauth/token", body, content_type=FORM, headers=headers)
    assert (answer.status_code, answer.json()["error"]) == (status, error)
    assert set(answer.json()) == {"error", "error_description"}
    assert answer["Content-Type"] == "application/json"
    assert (answer["Cache-Control"], answer["Pragma"]) == ("no-store", "no-cache")
    assert ("WWW-Authenticate" in answer) == (status == 401)


def test_what_is_no_form_and_what_is_in_the_address_is_refused(firm: Caller) -> None:
    """A secret in an address would stand in logs; parameters nobody knows are passed over."""
    sent = ASKED | {"client_id": firm.key[:20], "client_secret": firm.key}
    as_json = Client().post("/oauth/token", json.dumps(sent), content_type="application/json")
    assert (as_json.status_code, as_json.json()["error"]) == (400, "invalid_request")
    in_address = Client().post(f"/oauth/token?{urlencode(sent)}", "", content_type=FORM)
    assert (in_address.status_code, in_address.json()["code"]) == (400, "unknown_parameter")
    assert Client().get("/oauth/token").status_code == 405
    assert ask(firm.key, audience="anything").status_code == 200


def test_another_keys_name_is_no_name(firm: Caller) -> None:
    """Name and secret belong together."""
    other = caller("Lakeside Door Inspections")
    answer = Client().post(
        "/oauth/token", urlencode(ASKED), content_type=FORM, headers=basic(other.key[:20], firm.key)
    )
    assert answer.json()["error"] == "invalid_client"


def test_guessing_is_slowed(firm: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    """By client and address; from elsewhere the right secret opens at once."""
    monkeypatch.setattr(settings, "RATE_LIMITS", settings.RATE_LIMITS | {"sign_in": (3, 3600)})
    fresh = MemoryStore()
    monkeypatch.setattr(budgets, "store", lambda: fresh)
    wrong = urlencode(ASKED | {"client_id": firm.key[:20], "client_secret": "x"})
    found = [Client().post("/oauth/token", wrong, content_type=FORM) for _ in range(4)]
    assert [each.status_code for each in found] == [401] * 3 + [429]
    assert int(found[3]["Retry-After"]) >= 1
    right = urlencode(ASKED | {"client_id": firm.key[:20], "client_secret": firm.key})
    elsewhere = Client(REMOTE_ADDR="192.0.2.9")
    assert elsewhere.post("/oauth/token", right, content_type=FORM).status_code == 200


def test_switched_off_there_is_nothing(firm: Caller, settings: Settings) -> None:
    """No address, no token that still opens, and no word of it in the document or the guide."""
    token = ask(firm.key).json()["access_token"]
    settings.OAUTH_TOKENS = False
    assert (ask(firm.key).status_code, use(token).status_code) == (404, 401)
    assert Client().get("/oauth/token").status_code == 404
    assert Client().get("/.well-known/oauth-authorization-server").status_code == 404
    assert _document()["components"]["securitySchemes"].keys() == {"key"}
    assert "oauth" not in Client().get("/docs/guide").content.decode().lower()


def test_the_document_says_where_and_with_which_scope() -> None:
    """Valid still, with the scope that each operation really asks for."""
    found = _document()
    validate(found)
    flow = found["components"]["securitySchemes"]["token"]["flows"]["clientCredentials"]
    assert flow["tokenUrl"].endswith("/oauth/token")
    visits = found["paths"]["/v1/visits"]
    assert visits["get"]["security"] == [{"key": []}, {"token": ["visits:read"]}]
    assert visits["post"]["security"] == [{"key": []}, {"token": ["visits:write"]}]
    assert found["paths"]["/v1/me"]["get"]["security"] == [{"key": []}, {"token": []}]
    assert "/oauth/token" not in found["paths"]
    page = Client().get("/docs/guide").content.decode()
    assert "client_credentials" in page


def test_a_program_finds_the_address(settings: Settings) -> None:
    """By RFC 8414, under the address that the service is known by."""
    settings.PUBLIC_URL = "https://doors.example"
    told = Client().get("/.well-known/oauth-authorization-server").json()
    assert told["issuer"] == "https://doors.example"
    assert told["token_endpoint"] == "https://doors.example/oauth/token"
    assert told["grant_types_supported"] == ["client_credentials"]
    assert "visits:read" in told["scopes_supported"]


def _key_of(firm: Caller) -> Key:
    with acting_for(firm.organization.id, write=False):
        return Key.objects.get(label="test")


def _document() -> dict[str, Any]:
    openapi_bytes.cache_clear()
    found: dict[str, Any] = json.loads(openapi_bytes())
    openapi_bytes.cache_clear()
    return found
