"""The headers of every kind of answer, whom a browser lets in, and how large a request may be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.test.utils import override_settings
from pytest_django import Settings
from rest_framework.test import APIClient

from config.http.documentation import openapi_bytes
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import Answer, caller

OURS = "https://app.example"
FOREIGN = "https://elsewhere.example"
POLICY = {
    "default-src 'none'",
    "base-uri 'none'",
    "connect-src 'self'",
    "form-action 'self'",
    "frame-ancestors 'none'",
    "img-src 'self' data:",
    "script-src 'self'",
    "style-src 'self'",
}
SAFETY = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Strict-Transport-Security": "max-age=31536000; includeSubDomains; preload",
}
TELLING = {"Server", "X-Powered-By", "Via"}


@pytest.fixture(autouse=True)
def _own_document() -> Iterator[None]:
    """Forget the document of these tests' own addresses, which is made once a process."""
    openapi_bytes.cache_clear()
    yield
    openapi_bytes.cache_clear()


@pytest.fixture
def tls(settings: Settings) -> None:
    """As in production: only over TLS."""
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_HSTS_SECONDS = 31_536_000
    settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = settings.SECURE_HSTS_PRELOAD = True


def asked(client: APIClient, kind: str, cast: Cast) -> Answer:
    """Return an answer of one kind."""
    addresses = {
        "200": "/v1/sites",
        "400": "/v1/sites?limit=0",
        "404": f"/v1/sites/{cast.neighbours_site.id}",
        "405": "/v1/duties/calendar",
        "406": "/v1/sites",
        "page": "/docs",
        "document": "/openapi.json",
        "calendar": "/v1/duties/calendar",
    }
    if kind == "500":
        return client.post("/v1/notes/00000000-0000-4000-8000-000000000000", secure=True)
    if kind == "405":
        return client.delete(addresses[kind], secure=True)
    headers = {"Accept": "image/png"} if kind == "406" else {}
    return client.get(addresses[kind], secure=True, headers=headers)


@pytest.mark.parametrize(
    "kind", ["200", "400", "404", "405", "406", "500", "page", "document", "calendar"]
)
@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_every_kind_of_answer_carries_the_same_safety(tls: None, cast: Cast, kind: str) -> None:
    """No sniffing, framing, foreign script or passed-on address; TLS for a year; no version."""
    answer = asked(client_of(cast.owner), kind, cast)
    if kind.isdigit():
        assert answer.status_code == int(kind)
    assert {name: answer.headers.get(name) for name in SAFETY} == SAFETY
    assert set(answer["Content-Security-Policy"].split("; ")) == POLICY
    assert TELLING.isdisjoint(answer.headers)
    assert "X-Request-Id" in answer
    if answer.status_code >= 400:
        assert (answer["Content-Type"], answer["Cache-Control"]) == (
            "application/problem+json",
            "no-store",
        )


def test_a_redirect_carries_it_too(tls: None, client: Client) -> None:
    """The answer that sends a caller to TLS, before which nothing of ours has run."""
    answer = client.get("/v1/sites")
    assert (answer.status_code, answer["Location"]) == (301, "https://testserver/v1/sites")
    plain = {name: value for name, value in SAFETY.items() if not name.startswith("Strict")}
    assert {name: answer.headers.get(name) for name in plain} == plain
    assert set(answer["Content-Security-Policy"].split("; ")) == POLICY


def preflight(origin: str, method: str = "PATCH") -> Answer:
    """Ask as a browser asks before it sends."""
    headers = {
        "Origin": origin,
        "Access-Control-Request-Method": method,
        "Access-Control-Request-Headers": "authorization,if-match,idempotency-key",
    }
    return Client().options("/v1/sites", headers=headers)


def test_only_named_origins_are_let_in(settings: Settings) -> None:
    """With the methods and headers of the API, and never with cookies."""
    settings.CORS_ALLOWED_ORIGINS = [OURS]
    answer = preflight(OURS)
    assert answer.status_code == 200
    assert answer["Access-Control-Allow-Origin"] == OURS
    assert {"authorization", "if-match", "idempotency-key"} <= set(
        answer["Access-Control-Allow-Headers"].split(", ")
    )
    assert "PATCH" in answer["Access-Control-Allow-Methods"]
    assert "Access-Control-Allow-Credentials" not in answer
    for origin in (
        FOREIGN,
        "null",
        OURS.upper() + "x",
        f"{OURS}.evil.example",
        "http://app.example",
    ):
        assert "Access-Control-Allow-Origin" not in preflight(origin), origin


@pytest.mark.django_db
def test_a_page_reads_the_headers_it_needs(settings: Settings) -> None:
    """On refusals too; and nothing is let in where nothing is named."""
    settings.CORS_ALLOWED_ORIGINS = [OURS]
    inspector = caller()
    for address in ("/v1/visits", "/v1/sites", "/v1/nowhere"):
        answer = inspector.get(address, headers={"Origin": OURS})
        assert answer["Access-Control-Allow-Origin"] == OURS
        exposed = set(answer["Access-Control-Expose-Headers"].split(", "))
        assert exposed >= {"ETag", "Link", "Location", "RateLimit", "RateLimit-Policy"}
        assert exposed >= {"Retry-After", "Idempotency-Replayed", "X-Request-Id"}
        assert "origin" in answer["Vary"].lower()
    assert "Access-Control-Allow-Origin" not in inspector.get("/docs", headers={"Origin": OURS})
    settings.CORS_ALLOWED_ORIGINS = []
    assert "Access-Control-Allow-Origin" not in preflight(OURS)


def test_what_a_change_may_be_is_told(cast: Cast) -> None:
    """`Accept-Patch` where something may be changed (RFC 5789)."""
    owner = client_of(cast.owner)
    answer = owner.options(f"/v1/sites/{cast.site.id}")
    assert (answer.status_code, answer["Accept-Patch"]) == (
        204,
        "application/merge-patch+json, application/json",
    )
    assert "PATCH" in answer["Allow"]
    assert "Accept-Patch" not in owner.options("/v1/sites")


def test_head_is_get_without_a_body(cast: Cast) -> None:
    """The same status and headers."""
    owner = client_of(cast.owner)
    full, head = owner.get("/v1/sites"), owner.head("/v1/sites")
    assert (head.status_code, head.content) == (200, b"")
    assert head["ETag"] == full["ETag"]
    assert head["Content-Type"] == full["Content-Type"]


def nested(depth: int) -> str:
    """Return a JSON object this many levels deep."""
    return '{"a":' * depth + "1" + "}" * depth


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (nested(32), 400, "invalid_body"),
        (nested(33), 400, "malformed_json"),
        (json.dumps({"a": "x" * 999_980}), 400, "invalid_body"),
        (json.dumps({"a": "x" * 1_000_000}), 413, "too_large"),
        (json.dumps({"a": "x" * 3_000_000}), 413, "too_large"),
    ],
    ids=["deep", "too deep", "large", "too large", "far too large"],
)
def test_a_body_has_its_limits(cast: Cast, body: str, status: int, code: str) -> None:
    """One megabyte and a depth; one more is refused as what it is."""
    owner = client_of(cast.owner)
    answer = owner.generic("POST", "/v1/sites", body, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (status, code)


@pytest.mark.parametrize(("size", "status"), [(14_000, 401), (17_000, 431)])
def test_a_head_has_its_limit(size: int, status: int) -> None:
    """Sixteen kilobytes, however they are divided, address included."""
    split: dict[str, Any] = {f"X-Pad-{n}": "x" * (size // 4) for n in range(4)}
    for headers, address in ((split, "/v1/sites"), ({}, f"/v1/sites?a={'x' * size}")):
        answer = Client().get(address, headers=headers)
        assert answer.status_code == status
        assert answer["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("kind", ["text/csv", "application/xml", "multipart/form-data", ""])
def test_another_kind_of_body_is_refused(cast: Cast, kind: str) -> None:
    """415 and a problem, before anything of it is read."""
    answer = client_of(cast.owner).generic("POST", "/v1/sites", "a,b", content_type=kind)
    assert (answer.status_code, answer.json()["code"]) == (415, "unsupported_media_type")
