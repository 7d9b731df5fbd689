"""What the platform is told."""

import pytest
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client


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
    assert response.json()["parts"] == {"database": "ok", "migrations": "ok"}


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
    monkeypatch.setattr(settings, "REDIS_URL", "redis://127.0.0.1:1/0")
    parts = Client().get("/readyz").json()["parts"]
    kind = "ok" if connection.vendor == "postgresql" else "failing"
    assert parts == {"database": kind, "migrations": "ok", "broker": "failing"}


@pytest.mark.redis
@pytest.mark.django_db
def test_a_broker_that_answers_is_ok(monkeypatch: pytest.MonkeyPatch, redis_url: str) -> None:
    """A PING is enough."""
    monkeypatch.setattr(settings, "PRODUCTION", True)
    monkeypatch.setattr(settings, "REDIS_URL", redis_url)
    assert Client().get("/readyz").json()["parts"]["broker"] == "ok"
