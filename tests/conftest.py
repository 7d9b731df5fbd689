"""What every test run says and obeys about PostgreSQL and Redis.

A test marked `postgres` runs only where the database under test is PostgreSQL, one marked `redis`
only where a Redis answers; the others are left out of the run (deselected, not skipped) and the
first lines of the run say so. With REQUIRE_SERVICES=1 an absent service stops the run.

On PostgreSQL each test runs as a role like the service's own: it owns nothing and passes no wall.
"""

import secrets
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from django.conf import settings
from django.db import connection
from pytest_django import DjangoDbBlocker

from tests import services

if TYPE_CHECKING:
    from tests.cast import Cast

REDIS = pytest.StashKey[str | None]()


def pytest_configure(config: pytest.Config) -> None:
    """Find Redis once a process; refuse to start where one is required and none answers."""
    url = services.redis_url()
    config.stash[REDIS] = url if services.redis_answers(url) else None
    if services.required() and config.stash[REDIS] is None:
        raise pytest.UsageError(
            f"REQUIRE_SERVICES=1, but no Redis answers on {services.place(url)}; "
            "`python -m tests` starts one"
        )


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Say plainly which of the two parts this run holds."""
    return [
        f"PostgreSQL part: {_postgres_part()}",
        f"Redis part: {_redis_part(config)}",
        f"Browser part: {_browser_part()}",
        f"Random histories begin at SEED={services.seed()}",
    ]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what this run cannot show."""
    without = set()
    if not _on_postgres():
        without.add("postgres")
    if config.stash[REDIS] is None:
        without.add("redis")
    if shutil.which("chromium") is None:
        without.add("browser")
    left_out = [item for item in items if any(item.get_closest_marker(name) for name in without)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


@pytest.fixture
def cast(db: None) -> "Cast":
    """Everybody, with their sites, openings and the one grant."""
    from tests.cast import assemble  # noqa: PLC0415 (models need the settings first)

    return assemble()


@pytest.fixture(scope="session")
def redis_url(pytestconfig: pytest.Config) -> str:
    """Return the URL of the Redis that answers, for tests marked `redis`.

    It may be anyone's: use keys of your own, and never flush it.
    """
    url = pytestconfig.stash[REDIS]
    assert url is not None, "mark the test `redis`"
    return url


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[None]:
    """Make the role that the walls are granted to, before the tables, and drop it after them."""
    if not _on_postgres():
        yield
        return
    settings.RUNTIME_ROLE = f"doors_test_{secrets.token_hex(6)}"
    with django_db_blocker.unblock():
        _on_server(f"CREATE ROLE {settings.RUNTIME_ROLE} NOSUPERUSER NOBYPASSRLS LOGIN")
    yield
    with django_db_blocker.unblock():
        _on_server(f"DROP ROLE {settings.RUNTIME_ROLE}")


@pytest.fixture(autouse=True)
def _as_runtime_role(request: pytest.FixtureRequest) -> Iterator[None]:
    """Take the runtime role for the test alone: only an owner may clear the tables after it."""
    touches = {"db", "transactional_db"} & set(request.fixturenames)
    marked = request.node.get_closest_marker("django_db")
    if not _on_postgres() or not (touches or marked):
        yield
        return
    request.getfixturevalue("_django_db_helper")
    options = connection.settings_dict["OPTIONS"]
    options["assume_role"] = settings.RUNTIME_ROLE  # for connections that the test opens
    with connection.cursor() as cursor:
        cursor.execute(f"SET ROLE {settings.RUNTIME_ROLE}")
    yield
    del options["assume_role"]
    if connection.connection is not None and not connection.needs_rollback:
        with connection.cursor() as cursor:
            cursor.execute("RESET ROLE")


def _on_server(statement: str) -> None:
    """Run a statement that concerns the whole server, beside any database under test."""
    with connection._nodb_cursor() as cursor:  # noqa: SLF001 (the only way Django has)
        cursor.execute(statement)


def _on_postgres() -> bool:
    return str(settings.DATABASES["default"]["ENGINE"]).endswith("postgresql")


def _postgres_part() -> str:
    if _on_postgres():
        database = settings.DATABASES["default"]
        return f"running against {database['HOST']}:{database['PORT']}"
    return "NOT run here, the database under test is SQLite (`make test` runs both where it can)"


def _browser_part() -> str:
    found = shutil.which("chromium")
    return f"running with {found}" if found else "NOT run (no chromium here)"


def _redis_part(config: pytest.Config) -> str:
    url = config.stash[REDIS]
    if url is None:
        return f"NOT run (nothing answers on {services.place(services.redis_url())})"
    return f"running against {services.place(url)}"
