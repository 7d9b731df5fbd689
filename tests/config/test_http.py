"""What every answer carries, what is written of it in the log, and how JSON is rendered."""

import json
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.test import Client
from django.test.utils import override_settings
from structlog.testing import capture_logs

from config.http.rendering import JSONRenderer
from tests.doors.callers import caller


def test_decimals_times_and_ids_are_written_in_one_form() -> None:
    """Decimals keep their digits, server times end in Z, an offset that was kept stays."""
    noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    local = noon.astimezone(timezone(timedelta(hours=-6)))
    data = {"a": Decimal("60.0"), "b": noon, "c": local, "d": UUID(int=1), "e": "\u00e9"}
    assert JSONRenderer().render(data).decode() == (
        '{"a":"60.0","b":"2026-03-01T12:00:00Z","c":"2026-03-01T06:00:00-06:00",'
        '"d":"00000000-0000-0000-0000-000000000001","e":"\u00e9"}'
    )


@pytest.mark.parametrize("data", [{"a": object()}, {"a": {1, 2}}, {"a": "\ud800"}, {"a": b"x"}])
def test_what_has_no_form_in_json_is_an_error(data: object) -> None:
    """Nothing is rendered by a guess."""
    with pytest.raises(TypeError):
        JSONRenderer().render(data)


def test_an_answer_without_a_body_has_none() -> None:
    """204 is empty, not `null`."""
    assert JSONRenderer().render(None) == b""


@pytest.mark.parametrize("path", ["/livez", "/docs", "/docs/problems", "/openapi.json", "/nowhere"])
def test_every_answer_carries_the_safety_headers(path: str) -> None:
    """No sniffing, no framing, no foreign scripts, no address passed on."""
    headers = Client().get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "no-referrer"
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert str(UUID(headers["X-Request-Id"])) == headers["X-Request-Id"]


def test_the_pages_load_only_files_of_ours() -> None:
    """The policy above is kept: no inline script or style, and every file is there."""
    page = Client().get("/docs").content.decode()
    assert "<style" not in page
    assert " style=" not in page
    assert page.count("<script") == page.count('<script src="/static/')
    named = [part.split('"')[0] for part in page.split(f'="{settings.STATIC_URL}')[1:]]
    assert len(named) == 4
    assert all(finders.find(name) for name in named)


@pytest.mark.django_db
@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_the_log_names_request_organization_and_route_alone() -> None:
    """One line a request; never the key, the query, the body, or an unknown path."""
    inspector = caller()
    request_id = str(uuid4())
    body = {"key": "canary-in-body"}
    headers = {"Idempotency-Key": "canary-in-header", "X-Request-Id": request_id}
    with capture_logs() as lines:
        inspector.post("/v1/notes?canary=in-query", body, headers=headers)
        inspector.get(f"/v1/notes/{UUID(int=7)}")
        inspector.get("/canary-in-path")
    finished = [line for line in lines if line["event"] == "request_finished"]
    assert [(line["request"], line["code"]) for line in finished] == [
        ("POST /v1/notes", 400),
        (f"GET /v1/notes/{UUID(int=7)}", 404),
        ("GET", 404),
    ]
    written = json.dumps(lines, default=str)
    assert "canary" not in written
    assert inspector.key not in written
