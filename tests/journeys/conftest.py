"""The invented town, or the cast, behind a live server, and who does the waiting work."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import pytest
from django.conf import settings
from django.db import connection
from pytest_django.fixtures import Settings
from pytest_django.live_server_helper import LiveServer

from inspections.management.loading import load_town
from inspections.management.narrator import Narrator
from inspections.management.runner import run_until_idle, scans
from inspections.management.stage import Stage
from tests import worker
from tests.cast import assemble

if TYPE_CHECKING:
    from tests.journeys.field import Field

Found = TypeVar("Found")


class Heard:
    """Keeps what was told."""

    def __init__(self) -> None:
        """Nothing yet."""
        self.lines: list[str] = []

    def write(self, msg: str) -> None:
        """Keep one line."""
        self.lines.append(msg)


def until(what: str, probe: Callable[[], Found | None]) -> Found:
    """Do the waiting work, after which the thing must be there."""
    run_until_idle(scans())
    found = probe()
    assert found is not None, f"{what} did not come"
    return found


@pytest.fixture
def stage(
    transactional_db: None, live_server: LiveServer, settings: Settings, tmp_path: Path
) -> Iterator[Stage]:
    """Return the stage of a walk: the service over HTTP, and a key for each party."""
    settings.EMAIL_BACKEND = "config.mail.EmlFileBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path)
    settings.PUBLIC_URL = live_server.url
    town = load_town(lambda *_: None)
    stage = Stage(live_server.url, town.keys, Narrator(Heard()), until, tmp_path)
    yield stage
    stage.close()
    _let_rows_go()


@pytest.fixture(scope="session")
def settle(
    django_db_setup: None, live_server: LiveServer, redis_url: str
) -> Iterator[Callable[[], None]]:
    """Have the waiting work done by a real worker over Redis, on PostgreSQL."""
    files = settings.EMAIL_FILE_PATH.rpartition("/")[0]
    with worker.started(redis_url, live_server.url, files) as started:
        yield started.until_idle


@pytest.fixture
def field(
    transactional_db: None,
    live_server: LiveServer,
    settle: Callable[[], None],
    settings: Settings,
) -> Iterator[Field]:
    """Everybody of the cast over HTTP, with an empty mailbox."""
    from tests.journeys.field import field_at  # noqa: PLC0415 (models need the settings first)

    settings.EMAIL_BACKEND = "config.mail.EmlFileBackend"
    mail = Path(settings.EMAIL_FILE_PATH)
    shutil.rmtree(mail, ignore_errors=True)
    with field_at(live_server.url, assemble(), settle, mail) as field:
        yield field


def _let_rows_go() -> None:
    """Take away what keeps SQLite's append-only rows; clearing the tables raises it again."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%append_only%'"
        )
        for (name,) in cursor.fetchall():
            cursor.execute(f'DROP TRIGGER "{name}"')
