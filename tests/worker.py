"""A real Celery worker for tests that need one: a process of its own on the database under test."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import quote, urlunsplit
from uuid import uuid4

from celery import Celery
from django.conf import settings
from django.db import connection

READY_WITHIN = 60  # seconds
ANSWER_WITHIN = 120


class Worker:
    """Hears only this test run: its queue has a name of its own, and only `ring` sends to it."""

    def __init__(self, redis_url: str) -> None:
        """No process yet; `started` makes it."""
        self.queue = f"test-{uuid4().hex}"
        self._bell = Celery("bell", broker=redis_url, backend=redis_url)

    def ring(self) -> bool:
        """Have the worker run each scan of the schedule once; whether any found something."""
        names = [str(entry["task"]) for entry in settings.CELERY_BEAT_SCHEDULE.values()]
        rung = [
            self._bell.send_task(n, queue=self.queue, ignore_result=False, expires=ANSWER_WITHIN)
            for n in names
        ]
        found = [each.get(timeout=ANSWER_WITHIN) for each in rung]  # all are done before the next
        return any(found)

    def until_idle(self) -> None:
        """Ring until no scan finds anything: what one leaves, another picks up."""
        while self.ring():
            pass

    def wait_until_ready(self, process: subprocess.Popen[bytes]) -> None:
        """Return when the worker answers; raises where it has ended or takes too long."""
        give_up = time.monotonic() + READY_WITHIN
        while not self._bell.control.inspect([f"{self.queue}@here"], timeout=1).ping():
            if process.poll() is not None or time.monotonic() > give_up:
                raise RuntimeError(f"the worker did not come up (exit code {process.poll()})")


@contextmanager
def started(redis_url: str, public_url: str, files: str) -> Iterator[Worker]:
    """A worker as the runtime role of the database under test, ended by its own id afterwards."""
    worker = Worker(redis_url)
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "-P", "solo"]
    named = ["-Q", worker.queue, "-n", f"{worker.queue}@here", "--without-gossip"]
    told = {
        "DATABASE_URL": _as_runtime_role(),
        "RUNTIME_ROLE": settings.RUNTIME_ROLE,
        "REDIS_URL": redis_url,
        "CELERY_RESULT_BACKEND": redis_url,
        "DJANGO_SETTINGS_MODULE": "config.settings.test",
        "PUBLIC_URL": public_url,
        "TESTS_FILES": files,
    }
    with tempfile.NamedTemporaryFile("w+", prefix="doors-worker-", suffix=".log") as log:
        process = subprocess.Popen(
            [*command, *named], env=os.environ | told, stdout=log, stderr=subprocess.STDOUT
        )
        try:
            worker.wait_until_ready(process)
            yield worker
        finally:
            process.terminate()
            process.wait(30)


def _as_runtime_role() -> str:
    database = connection.settings_dict
    place = f"{quote(settings.RUNTIME_ROLE)}@{database['HOST']}:{database['PORT'] or 5432}"
    return urlunsplit(("postgres", place, f"/{database['NAME']}", "", ""))
