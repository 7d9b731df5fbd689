"""The headers of every answer that is no JSON: files to keep, pictures, a calendar, and pages."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import get_resolver
from rest_framework.test import APIClient

from doors.models import Role
from doors.services.jobs import run_waiting_jobs
from doors.services.organizations import change_organization
from doors.services.sites import change_site
from doors.tenancy import acting_for
from tests.cast import Cast, findings, visit
from tests.clients import client_of, member_of
from tests.config.test_headers import POLICY, SAFETY, TELLING
from tests.config.test_schema import routes
from tests.doors.callers import Answer
from tests.doors.pictures import jpeg, png

FORCE = "set_in_motion_force"
HOSTILE = 'A"; filename="x.html; /../<b>'  # what somebody may be called, and no file is
PAGES = ["/docs", "/docs/guide", "/docs/problems"]
PERSONAL = [
    *("/sign-in", "/claim", "/forgotten-password", "/new-password"),
    *("/account", "/account/password", "/account/{organization}"),
]
PLAIN = {name: value for name, value in SAFETY.items() if not name.startswith("Strict")}
# Kind of answer -> how it is typed, and under which name it is kept.
FILES = {
    "packet": ("application/pdf", r'attachment; filename="submittal-[0-9a-f]{8}\.pdf"'),
    "csv": ("text/csv; charset=utf-8", r'attachment; filename="sites-[0-9-]{10}\.csv"'),
    "jsonl": ("application/jsonl", r'attachment; filename="sites-[0-9-]{10}\.jsonl"'),
    "zip": ("application/zip", r'attachment; filename="account-[0-9-]{10}\.zip"'),
    "template": ("text/csv", r'attachment; filename="openings\.csv"'),
    "jpeg": ("image/jpeg", r'attachment; filename="[0-9a-f]{16}\.jpg"'),
    "png": ("image/png", r'attachment; filename="[0-9a-f]{16}\.png"'),
    "scan": ("application/pdf", r'attachment; filename="[0-9a-f]{16}\.pdf"'),
    "calendar": ("text/calendar; charset=utf-8", r'attachment; filename="duties\.ics"'),
    "plot": ("image/svg+xml; charset=utf-8", r'inline; filename="trend-[a-z_]+\.svg"'),
}


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    """The owner, who bears a name that no header may be made of, and so does the site."""
    with acting_for(cast.owner.id, write=True):
        change_organization(organization_id=cast.owner.id, expected=None, name=HOSTILE)
        change_site(site_id=cast.site.id, expected=None, name=HOSTILE)
    return client_of(cast.owner)


def answer_of(kind: str, cast: Cast, owner: APIClient) -> Answer:
    """An answer of one kind, as its rightful reader gets it."""
    address = {
        "calendar": "/v1/duties/calendar",
        "template": "/v1/import-templates/openings",
        "plot": f"/v1/openings/{cast.opening.id}/trends/{FORCE}/plot",
    }.get(kind, "")
    if kind == "plot":
        with acting_for(cast.firm.id, write=True):
            for days, value in ((3, "20"), (2, "21"), (1, "22")):
                at = datetime.now(UTC) - timedelta(days=days)
                visit(cast.opening, findings((FORCE, value, "lbf")), at=at)
    elif kind in {"jpeg", "png", "scan"}:
        sent = {"jpeg": jpeg(), "png": png(), "scan": b"%PDF-1.7 anything"}[kind]
        made = owner.generic("POST", "/v1/blobs", sent, content_type=FILES[kind][0])  # type: ignore[arg-type]
        address = f"/v1/blobs/{made.json()['sha256']}/file"
    elif kind == "packet":
        job = owner.post("/v1/submittals", {"site": str(cast.site.id)})["Location"]
        _work()
        address = f"/v1/submittals/{owner.get(job).json()['result']['submittal']}/file"
    elif not address:
        table = "account" if kind == "zip" else "sites"
        made = owner.post("/v1/exports", {"kind": table, "form": kind})
        _work()
        address = f"{made['Location']}/file"
    return owner.get(address)


@pytest.mark.parametrize("kind", FILES)
def test_a_file_is_kept_under_a_name_of_ours(cast: Cast, owner: APIClient, kind: str) -> None:
    """Not sniffed, not framed, in no shared cache, and named after nobody's words."""
    answer = answer_of(kind, cast, owner)
    if answer.streaming:
        assert b"".join(answer.streaming_content)
        answer.close()
    media_type, named = FILES[kind]
    assert (answer.status_code, answer["Content-Type"]) == (200, media_type)
    assert re.fullmatch(named, answer["Content-Disposition"], re.ASCII)
    assert answer["Cache-Control"] == "private, no-cache"
    assert "Authorization" in answer["Vary"]
    assert {name: answer.headers.get(name) for name in PLAIN} == PLAIN
    policy = set(answer["Content-Security-Policy"].split("; "))
    assert policy == (
        {"default-src 'none'", "sandbox", "frame-ancestors 'none'"} if kind == "plot" else POLICY
    )
    assert TELLING.isdisjoint(answer.headers)
    assert "X-Request-Id" in answer


def test_no_kind_of_file_is_left_out(db: None) -> None:
    """Whatever a view says that it answers beside JSON stands in the table above."""
    declared = {
        media_type
        for _, view in routes(get_resolver().url_patterns)
        for media_type in getattr(view, "media_types", ())
    }
    assert declared == {media_type.partition(";")[0] for media_type, _ in FILES.values()}


@pytest.mark.parametrize("address", [*PAGES, *PERSONAL])
def test_a_page_runs_nothing_foreign(cast: Cast, address: str) -> None:
    """Its own scripts and styles alone; what is somebody's stays in no cache."""
    client = Client()
    if address.startswith("/account"):
        client.force_login(member_of(cast.owner, role=Role.ADMINISTRATOR).account)
    answer = client.get(address.format(organization=cast.owner.id))
    if address == "/account":
        assert answer.status_code == 302
    else:
        assert (answer.status_code, answer["Content-Type"]) == (200, "text/html; charset=utf-8")
    assert set(answer["Content-Security-Policy"].split("; ")) == POLICY
    personal = address in PERSONAL and answer.status_code == 200
    wanted = PLAIN | ({"Referrer-Policy": "same-origin"} if personal else {})
    assert {name: answer.headers.get(name) for name in wanted} == wanted
    if address != "/account":  # which leads on to the only organization, and holds nothing
        wanted_cache = "no-store" if personal else "public, max-age=300"
        assert set(answer["Cache-Control"].split(", ")) == set(wanted_cache.split(", "))
    assert TELLING.isdisjoint(answer.headers)
    assert "<script>" not in answer.content.decode()
    assert not re.findall(r"\son\w+=|\sstyle=", answer.content.decode().partition("<main")[0])


def test_the_counts_are_no_page(db: None) -> None:
    """Plain text that no cache keeps."""
    answer = Client().get("/metrics")
    assert answer["Content-Type"].startswith("text/plain")
    assert answer["Cache-Control"] == "no-store"
    assert {name: answer.headers.get(name) for name in PLAIN} == PLAIN
    assert TELLING.isdisjoint(answer.headers)


def _work() -> None:
    for _ in range(10):
        run_waiting_jobs()
