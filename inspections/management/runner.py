"""The scans of the schedule, run in this process where there is no broker."""

from __future__ import annotations

import time
from typing import Any, cast

import structlog
from celery import Task, current_app
from celery.schedules import maybe_schedule
from django.conf import settings

log = structlog.get_logger(__name__)


class Scan:
    """One entry of the schedule: the task by its dotted name, and when it is due next."""

    def __init__(self, task: Task, every: float) -> None:
        """Due at once."""
        self.task, self.every, self.due = task, every, 0.0

    def run(self) -> bool:
        """Run it; True where it found something to do. A failure is logged, the next run is due."""
        self.due = time.monotonic() + self.every
        try:
            return bool(self.task())
        except Exception:
            log.exception("scan_failed", task=self.task.name)
            return False


def scans(every: float | None = None) -> list[Scan]:
    """The scans of settings.CELERY_BEAT_SCHEDULE; `every` seconds in place of their own."""
    current_app.loader.import_default_modules()
    found = []
    for entry in settings.CELERY_BEAT_SCHEDULE.values():
        own: Any = maybe_schedule(cast("Any", entry["schedule"]))  # its types name no `run_every`
        found.append(
            Scan(current_app.tasks[str(entry["task"])], every or own.run_every.total_seconds())
        )
    return found


def run_until_idle(found: list[Scan]) -> None:
    """Run all of them until none finds anything: what one leaves, another picks up."""
    while [scan for scan in found if scan.run()]:
        pass
