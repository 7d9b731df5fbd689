"""`manage.py work`: the scans of the schedule in this process, where there is no broker.

It runs the very functions that a Celery worker runs. For an installation on one machine; a second
runner beside it, or a real worker, does no harm.
"""

from __future__ import annotations

import signal
import threading
import time
from argparse import ArgumentParser
from typing import Any

import structlog
from django.core.management.base import BaseCommand
from django.db import close_old_connections

from inspections.management.runner import run_until_idle, scans

log = structlog.get_logger(__name__)


class Command(BaseCommand):
    """Does the waiting work until it is told to stop."""

    help = "Run the scheduled scans in this process, without a broker, until SIGTERM or SIGINT."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take how often, and whether only once."""
        parser.add_argument("--once", action="store_true", help="do what waits now, and end")
        parser.add_argument("--every", type=float, help="seconds between two runs of each scan")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the due scans; between them wait, and stop at once when told to."""
        found = scans(options["every"])
        if options["once"]:
            run_until_idle(found)
            return
        stop = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: stop.set())
        log.info("working", scans=len(found))
        while not stop.is_set():
            if [scan for scan in found if scan.due <= time.monotonic() and scan.run()]:
                for scan in found:
                    scan.due = 0.0  # what one leaves, another picks up
            close_old_connections()
            stop.wait(max(0.0, min(scan.due for scan in found) - time.monotonic()))
        log.info("stopped")
