"""The worker and the beat find what the schedule names."""

import os
import subprocess
import sys
import time
import uuid

import pytest
from django.conf import settings

import config
from config.celery import app

SCANS = {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()}


def test_every_scan_is_a_task_of_this_service() -> None:
    """A misspelt name would ring for ever in vain."""
    app.loader.import_default_modules()
    assert set(app.tasks) >= SCANS != set()
    assert app.conf.beat_schedule == settings.CELERY_BEAT_SCHEDULE


def test_an_unanswered_doorbell_expires() -> None:
    """Workers that were away do not come back to hours of doorbells."""
    for entry in app.conf.beat_schedule.values():
        assert entry["options"]["expires"] <= entry["schedule"]


def test_a_web_process_sends_to_the_same_broker() -> None:
    """Whoever imports the settings has the application that the worker runs."""
    assert config.celery_app is app
    assert app.conf.broker_url == settings.REDIS_URL
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    assert app.conf.broker_transport_options == {"visibility_timeout": settings.VISIBILITY_TIMEOUT}


@pytest.mark.redis
def test_a_real_worker_takes_a_message(redis_url: str) -> None:
    """A worker of its own, on a queue of its own, hears its name called and answers."""
    queue = f"test-{uuid.uuid4().hex}"
    name = f"{queue}@here"
    env = os.environ | {"REDIS_URL": redis_url, "DJANGO_SETTINGS_MODULE": "config.settings.test"}
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "-P", "solo"]
    worker = subprocess.Popen(
        [*command, "-Q", queue, "-n", name, "--without-gossip"],
        env=env,
        stderr=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
    )
    try:
        give_up = time.monotonic() + 60
        answer: dict[str, list[str]] = {}
        while not answer and worker.poll() is None and time.monotonic() < give_up:
            answer = app.control.inspect([name], timeout=1).registered() or {}
        assert set(answer[name]) >= SCANS
    finally:
        worker.terminate()
        worker.wait(30)
