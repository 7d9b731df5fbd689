"""What the platform is told."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client

from config import health
from config.health import WAITS_AT_MOST
from doors.services.jobs import ask_for_job
from doors.tenancy import acting_for, current
from tests.cast import Cast


def test_alive_needs_nobody() -> None:
    """No database is asked: this test has none."""
    response = Client().get("/livez")
    assert (response.status_code, response.json()) == (200, {"status": "ok"})
    assert response["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_ready_when_every_part_answers() -> None:
    """A migrated database is enough outside production."""
    response = Client().get("/readyz")
    assert response.status_code == 200
    assert response.json() == {
        "status": "ok",
        "parts": {"database": "ok", "migrations": "ok", "work": "ok"},
    }


@pytest.mark.django_db
def test_not_ready_without_a_database(monkeypatch: pytest.MonkeyPatch) -> None:
    """A part that fails is named, and what it said is not."""

    def fail() -> None:
        raise DatabaseError("password of doors_runtime refused")

    with monkeypatch.context() as broken:
        broken.setattr(connection, "cursor", fail)
        response = Client().get("/readyz")
    assert response.status_code == 503
    assert response.json()["parts"]["database"] == "failing"
    assert b"password" not in response.content


@pytest.mark.django_db
def test_not_ready_before_the_migrations(monkeypatch: pytest.MonkeyPatch) -> None:
    """New code on an old database gets no requests."""
    monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda _: {})
    assert Client().get("/readyz").json()["parts"]["migrations"] == "failing"


@pytest.mark.django_db
def test_production_also_asks_the_broker_and_the_kind_of_database(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nothing answers on that port, and SQLite is no database for production."""
    monkeypatch.setattr(settings, "PRODUCTION", True)
    monkeypatch.setattr(health, "unsafe_database", list)  # asked in test_database.py
    monkeypatch.setattr(settings, "REDIS_URL", "redis://127.0.0.1:1/0")
    answer = Client().get("/readyz")
    if connection.vendor == "postgresql":
        parts = {"database": "ok", "migrations": "ok", "work": "ok", "broker": "failing"}
        parts["walls"] = "ok"
        assert (answer.status_code, answer.json()["status"]) == (200, "degraded")
    else:
        parts = {"database": "failing", "migrations": "ok", "walls": "ok"}
        assert (answer.status_code, answer.json()["status"]) == (503, "failing")
    assert answer.json()["parts"] == parts


@pytest.mark.redis
@pytest.mark.django_db
def test_a_broker_that_answers_is_ok(monkeypatch: pytest.MonkeyPatch, redis_url: str) -> None:
    """A PING is enough."""
    monkeypatch.setattr(settings, "PRODUCTION", True)
    monkeypatch.setattr(settings, "REDIS_URL", redis_url)
    broker = Client().get("/readyz").json()["parts"].get("broker")
    assert broker == ("ok" if connection.vendor == "postgresql" else None)


def test_work_that_waits_too_long_is_told(cast: Cast) -> None:
    """Nobody works: requests are still answered, and the platform is told."""
    with acting_for(cast.firm.id, write=True):
        before = current().now - timedelta(seconds=WAITS_AT_MOST + 60)
        ask_for_job(kind="settle_places", arguments={}, not_before=before)
    answer = Client().get("/readyz")
    assert (answer.status_code, answer.json()["status"]) == (200, "degraded")
    assert answer.json()["parts"]["work"] == "failing"
