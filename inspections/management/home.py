"""The folder of the demonstration, and settings that keep everything of it in there."""

from __future__ import annotations

import fcntl
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError

_HOME = "DEMO_HOME"  # set once the process runs with the demonstration's own settings
DATABASE = "demo.sqlite3"
LOADED = "loaded"  # stands once the whole town has moved in
# What a demonstration makes, and so what the next one removes: nothing else in the folder.
MADE = (
    LOADED,
    DATABASE,
    f"{DATABASE}-wal",
    f"{DATABASE}-shm",
    "files",
    "notices",
    "web.log",
    "work.log",
    "submittal.pdf",
    "calendar.ics",
    "summary.json",
)


def demo_home() -> Path:
    """The folder `demo` under the folder for what changes.

    The settings of a process are read once, so the first call begins this program anew, in its
    own place, with a database, files and mail that lie in the folder.
    """
    if _HOME not in os.environ:
        _begin_anew(Path(settings.VAR_DIR).resolve() / "demo")
    return Path(os.environ[_HOME])


def _begin_anew(home: Path) -> None:
    home.mkdir(parents=True, exist_ok=True)
    own = {
        _HOME: str(home),
        "VAR_DIR": str(home),
        "DATABASE_URL": f"sqlite:///{home / DATABASE}",
        "EMAIL_FILE_PATH": str(home / "notices"),
        "LOG_LEVEL": "WARNING",
    }
    sys.stdout.flush()
    again = [sys.executable, *sys.argv]
    os.execve(sys.executable, again, {**os.environ, **own})  # noqa: S606 - the very same command


@contextmanager
def alone_in(home: Path) -> Iterator[None]:
    """Keep a second demonstration from taking the data away under the first."""
    with (home / "in-use").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError(f"A demonstration runs in {home} already; end it first.") from None
        yield


def empty(home: Path) -> None:
    """Remove what an earlier demonstration made."""
    for name in MADE:
        path = home / name
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
