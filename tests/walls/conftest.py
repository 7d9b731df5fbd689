"""Before the walls as the service stands before them: its own role, through a pooler."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

import pytest
from django.conf import settings
from django.db import connection

from tests import services

Pooled = Callable[[], AbstractContextManager[bool]]


@pytest.fixture(scope="session")
def pooled(django_db_setup: None) -> Iterator[Pooled]:
    """A block in which the database is reached as the runtime role through a pool of one, where
    a PgBouncer is there; it yields whether one was. SQLite is itself, in any block.
    """
    if connection.vendor != "postgresql":
        yield _as_it_is
        return
    server = dict(connection.settings_dict)
    url = f"postgres://{server['HOST']}:{server['PORT']}/{server['NAME']}"
    with services.pooler(url, [settings.RUNTIME_ROLE]) as port:
        yield lambda: _through(port) if port else _as_role()


@contextmanager
def _as_it_is() -> Iterator[bool]:
    yield False


@contextmanager
def _as_role() -> Iterator[bool]:
    """Where there is no pooler, take the role for the block."""
    options = connection.settings_dict["OPTIONS"]
    connection.close()
    options["assume_role"] = settings.RUNTIME_ROLE
    try:
        yield False
    finally:
        connection.close()
        del options["assume_role"]


@contextmanager
def _through(port: int) -> Iterator[bool]:
    """Reach the database otherwise; connections of other threads follow, since they are made
    from the same settings.
    """
    kept = dict(connection.settings_dict)
    options = {k: v for k, v in kept["OPTIONS"].items() if k != "assume_role"}
    connection.close()
    connection.settings_dict |= {
        "HOST": "127.0.0.1",
        "PORT": port,
        "USER": settings.RUNTIME_ROLE,
        "PASSWORD": "",
        "OPTIONS": options,
    }
    try:
        yield True
    finally:
        connection.close()
        connection.settings_dict |= kept


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many of the broken walls were noticed, where any was broken."""
    told = {
        outcome: sum("is_noticed" in each.nodeid for each in terminalreporter.getreports(outcome))
        for outcome in ("passed", "failed", "error")
    }
    if total := sum(told.values()):
        rate = 100 * told["passed"] / total
        terminalreporter.write_line(
            f"walls broken: {total}, noticed: {told['passed']} ({rate:g} %)"
        )
