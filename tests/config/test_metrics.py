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
    assert 'doors_waiting{kind="job"} 1.0' in told
    assert 'view="doors.api.sites.SiteView"' in told
    for secret in (cast.firm.id, cast.site.id, "127.0.0.1"):
        assert str(secret) not in told


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
