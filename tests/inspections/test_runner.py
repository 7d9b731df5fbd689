"""The runner in place of a broker: the very tasks of the schedule, until it is told to stop."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from celery import Task, current_app
from django.conf import settings

from inspections.management.runner import Scan, run_until_idle, scans


def test_the_runner_runs_the_tasks_of_the_schedule() -> None:
    """The same function objects that a worker would run, each at the schedule's own period."""
    entries = [(str(e["task"]), e["schedule"]) for e in settings.CELERY_BEAT_SCHEDULE.values()]
    assert [scan.task for scan in scans()] == [current_app.tasks[name] for name, _ in entries]
    assert [scan.every for scan in scans()] == [period for _, period in entries]
    assert {scan.every for scan in scans(every=0.3)} == {0.3}


def scan_of(*answers: int | Exception) -> Scan:
    """A scan whose task answers these, one after the other."""
    left = list(answers)

    @current_app.task(name=f"tests.{id(left)}")
    def task() -> int:
        answer = left.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    assert isinstance(task, Task)
    return Scan(task, every=60)


def test_what_one_scan_leaves_another_picks_up() -> None:
    """All are run again for as long as any of them finds something."""
    first, second = scan_of(2, 0, 1, 0), scan_of(0, 3, 0, 0)
    run_until_idle([first, second])
    with pytest.raises(IndexError):  # everything was asked for
        first.task()


def test_a_scan_that_fails_stops_nothing() -> None:
    """The failure is logged, the next run is due as ever."""
    scan = scan_of(ValueError("broken"), 0)
    before = time.monotonic()
    assert scan.run() is False
    assert scan.due >= before + 60


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_runner_ends_cleanly_when_told_to(number: signal.Signals, tmp_path: Path) -> None:
    """Exit code 0, soon, even where its database has no tables yet."""
    env = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{tmp_path / 'runner.sqlite3'}",
        "DJANGO_SETTINGS_MODULE": "config.settings.dev",
        "VAR_DIR": str(tmp_path),
    }
    command = [sys.executable, "manage.py", "work"]
    log = tmp_path / "log"
    with log.open("wb") as out:
        runner = subprocess.Popen(command, env=env, cwd=settings.BASE_DIR, stdout=out, stderr=out)
    try:
        ends = time.monotonic() + 60
        while b"working" not in log.read_bytes():
            assert time.monotonic() < ends, "it does not start"
            assert runner.poll() is None, log.read_text()
            time.sleep(0.1)
        runner.send_signal(number)
        assert runner.wait(timeout=20) == 0, log.read_text()
    finally:
        runner.kill()
        runner.wait()
