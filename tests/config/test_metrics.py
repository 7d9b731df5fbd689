"""What is counted, and who may read it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings
from rest_framework.test import APIClient

from doors.selectors.waiting import waiting_work
from doors.services.jobs import ask_for_job
from doors.tenancy import acting_for
from tests.cast import Cast
from tests.clients import client_of

TOKEN = "a-token-for-the-tests"
COUNTING = """
import sys
from prometheus_client import Counter
counter = Counter("tests_multiprocess", "Of a test.")
for _ in range(int(sys.argv[1])):
    counter.inc()
"""
READING = """
import django; django.setup()
from config.metrics import _processes
from prometheus_client import generate_latest
print(generate_latest(_processes()).decode())
"""


def test_requests_and_waiting_work_are_counted(cast: Cast) -> None:
    """By view and kind of work, never by organization, key, address or path."""
    firm = client_of(cast.firm)
    with acting_for(cast.firm.id, write=True):
        ask_for_job(kind="settle_places", arguments={})
    assert firm.get(f"/v1/sites/{cast.site.id}").status_code == 200
    answer = Client().get("/metrics")
    told = answer.content.decode()
    assert answer["Content-Type"].startswith("text/plain")
    assert 'doors_waiting{kind="job",sandbox="no"} 1.0' in told
    assert 'doors_waiting{kind="job",sandbox="yes"} 0.0' in told
    assert 'view="doors.api.sites.SiteView"' in told
    for secret in (cast.firm.id, cast.site.id, "127.0.0.1"):
        assert str(secret) not in told


def test_what_waits_in_a_sandbox_is_counted_apart(cast: Cast) -> None:
    """However much is tried out there, no alarm of the real ones rings; of every kind of work."""
    box = client_of(cast.firm).post("/v1/sandboxes", {"name": "Trial"}).json()
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {box['organizations'][1]['key']}")
    before = {(each.kind, each.sandbox): each.rows for each in waiting_work()}
    address = f"/v1/sandboxes/{box['id']}/failing-visits"
    assert client_of(cast.firm).post(address, {}).status_code == 201
    site = client.get("/v1/sites").json()["data"][0]["id"]
    assert client.post("/v1/submittals", {"site": site}).status_code == 202
    after = {(each.kind, each.sandbox): each.rows for each in waiting_work()}
    assert {kind for (kind, inside), rows in after.items() if not inside and rows} == {
        kind for (kind, inside), rows in before.items() if not inside and rows
    }
    assert after["owing", True] > before["owing", True]
    assert after["job", True] == before["job", True] + 1
    assert after["job", False] == before["job", False]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("production", "token", "given", "status"),
    [
        (False, "", "", 200),
        (True, "", "", 404),
        (True, "", "Bearer ", 404),
        (True, TOKEN, f"Bearer {TOKEN}", 200),
        (True, TOKEN, f"Bearer {TOKEN}x", 404),
        (True, TOKEN, "Bearer t\u00f6ken", 404),
        (True, TOKEN, "", 404),
        (False, TOKEN, "", 404),
    ],
)
def test_in_production_only_the_token_reads_them(
    settings: Settings, *, production: bool, token: str, given: str, status: int
) -> None:
    """To everybody else there is nothing here."""
    settings.PRODUCTION, settings.METRICS_TOKEN = production, token
    assert Client().get("/metrics", headers={"Authorization": given}).status_code == status


def test_the_counts_of_all_processes_are_added_up(tmp_path: Path) -> None:
    """Two processes that have ended, read by a third."""
    env = os.environ | {"PROMETHEUS_MULTIPROC_DIR": str(tmp_path)}
    env["DJANGO_SETTINGS_MODULE"] = "config.settings.test"
    for times in ("2", "3"):
        subprocess.run([sys.executable, "-c", COUNTING, times], env=env, check=True)
    told = subprocess.run(
        [sys.executable, "-c", READING], env=env, check=True, capture_output=True, text=True
    ).stdout
    assert re.search(r"^tests_multiprocess_total 5\.0$", told, re.MULTILINE), told
