"""A database that lets anybody past the walls is refused at every door."""

from __future__ import annotations

import os
import resource
import secrets
import socket
import subprocess
import sys
from collections.abc import Iterator
from urllib.parse import quote

import psycopg
import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from config.database import unsafe_database
from tests.config.test_settings import ENVIRONMENT
from tests.services import free_port

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]
WITHIN = 10  # seconds of the process itself; a busy machine gives it fewer than the clock says

OWNER = str(settings.DATABASES["default"].get("USER"))  # of the tables under test; a superuser


def url(role: str) -> str:
    """The database under test, as that role."""
    database = connection.settings_dict
    return f"postgres://{quote(role)}@{database['HOST']}:{database['PORT']}/{database['NAME']}"


def run(*command: str, role: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run one of the service's processes under production settings, as that role, to its end."""
    before = own_seconds()
    ended = subprocess.run(
        [sys.executable, *command],
        env={"PATH": os.environ["PATH"], **ENVIRONMENT, "DATABASE_URL": url(role), **more},
        capture_output=True,
        text=True,
        timeout=20 * WITHIN,
        check=False,
    )
    assert own_seconds() - before < WITHIN
    return ended


def own_seconds() -> float:
    """The processor's time that ended children took."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.fixture
def member() -> Iterator[str]:
    """A role that is nothing by itself and may become the tables' owner two steps away."""
    name = f"doors_test_{secrets.token_hex(6)}"
    with psycopg.connect(url(OWNER), autocommit=True) as server:
        server.execute(f"CREATE ROLE {name}_between NOLOGIN IN ROLE {OWNER}")
        server.execute(f"CREATE ROLE {name} LOGIN IN ROLE {name}_between")
    yield name
    with psycopg.connect(url(OWNER), autocommit=True) as server:
        server.execute(f"DROP ROLE {name}")
        server.execute(f"DROP ROLE {name}_between")


@pytest.fixture
def owner_alone() -> Iterator[str]:
    """The address of an empty database of a role that owns it and is nothing else."""
    name = f"doors_test_{secrets.token_hex(6)}"
    with psycopg.connect(url(OWNER), autocommit=True) as server:
        server.execute(f"CREATE ROLE {name} LOGIN NOSUPERUSER NOBYPASSRLS")
        server.execute(f"CREATE DATABASE {name} OWNER {name}")
    database = connection.settings_dict
    yield f"postgres://{name}@{database['HOST']}:{database['PORT']}/{name}"
    with psycopg.connect(url(OWNER), autocommit=True) as server:
        server.execute(f"DROP DATABASE {name}")
        server.execute(f"DROP ROLE {name}")


def test_the_owner_of_the_tables_need_be_nothing_more(owner_alone: str) -> None:
    """It migrates an empty database, and raises the walls anew where they stand already: keys are
    proven over tables whose rows it would not see itself.
    """
    told = {"PATH": os.environ["PATH"], **ENVIRONMENT, "DATABASE_URL": owner_alone}
    migrate = [sys.executable, "manage.py", "migrate", "-v", "0"]
    for _ in range(2):
        ended = subprocess.run(
            migrate, env=told, capture_output=True, text=True, timeout=300, check=False
        )
        assert (ended.returncode, ended.stderr) == (0, "")
        with psycopg.connect(owner_alone, autocommit=True) as owner:
            forced = owner.execute(
                "SELECT relrowsecurity AND relforcerowsecurity FROM pg_class"
                " WHERE oid = 'doors_site'::regclass"
            )
            assert forced.fetchone() == (True,)
            owner.execute("COMMENT ON FUNCTION app_organization() IS 'other walls than these'")


SAID = "import django; django.setup(); from config.database import *; print(unsafe_database())"


def test_the_runtime_role_on_walled_tables_is_served() -> None:
    """The refusals below are not vacuous."""
    asked = run("-c", SAID, role=settings.RUNTIME_ROLE)
    assert (asked.stdout.strip(), asked.returncode) == ("[]", 0), asked.stderr


def test_one_who_may_become_the_owner_is_refused(member: str) -> None:
    """However many steps away."""
    said = run("-c", SAID, role=member).stdout
    assert "owner of tables" in said
    assert "passes every wall" in said


def test_the_web_process_ends_and_opens_no_port() -> None:
    """As a superuser, within ten seconds, with the reason."""
    port = free_port()
    web = run(
        "-m", "gunicorn", "-c", "python:config.gunicorn", "config.wsgi",
        role=OWNER, BIND=f"127.0.0.1:{port}",
    )  # fmt: skip
    assert web.returncode != 0
    assert "passes every wall" in web.stderr
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", port)) != 0


@pytest.mark.parametrize("what", ["worker", "beat"])
def test_the_worker_and_the_beat_end(what: str) -> None:
    """Before they take or ring anything."""
    ended = run("-m", "celery", "-A", "config", what, role=OWNER)
    assert ended.returncode != 0
    assert "passes every wall" in ended.stderr


def test_the_deployment_check_fails() -> None:
    """With one error for each reason."""
    checked = run("manage.py", "check", "--deploy", role=OWNER)
    assert checked.returncode != 0
    assert "config.walls" in checked.stderr


def test_no_request_is_kept_for_an_unsafe_database(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """This very session may become a superuser again."""
    monkeypatch.setattr(settings, "PRODUCTION", True)
    monkeypatch.setattr(settings, "SECURE_SSL_REDIRECT", False, raising=False)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["parts"]["walls"]) == (503, "failing")


@pytest.mark.parametrize(
    ("statement", "wrong"),
    [
        ("ALTER TABLE doors_site NO FORCE ROW LEVEL SECURITY", "row security: doors_site"),
        ("ALTER TABLE doors_site DISABLE ROW LEVEL SECURITY", "row security: doors_site"),
        ("CREATE TABLE forgotten (id int)", "row security: forgotten"),
        ("CREATE VIEW shown AS SELECT * FROM doors_site", "may see: shown"),
        ("CREATE MATERIALIZED VIEW shown AS SELECT 1", "may see: shown"),
        (
            "CREATE FUNCTION lets() RETURNS int LANGUAGE sql SECURITY DEFINER AS 'SELECT 1'",
            "reviewed: lets",
        ),
        (
            "ALTER FUNCTION app_enter_ledger() SET search_path = public",
            "reviewed: app_enter_ledger",
        ),
    ],
)
def test_each_hole_in_the_walls_is_named(statement: str, wrong: str) -> None:
    """Whoever made it."""
    with connection.cursor() as cursor:
        assert wrong not in "\n".join(unsafe_database())
        cursor.execute("RESET ROLE")
        cursor.execute(statement)
    assert wrong in "\n".join(unsafe_database())


def test_a_view_that_shows_what_the_reader_may_see_is_no_hole() -> None:
    """It asks the walls as who reads it."""
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")
        cursor.execute("CREATE VIEW shown WITH (security_invoker=true) AS SELECT * FROM doors_site")
    assert "shown" not in "\n".join(unsafe_database())
