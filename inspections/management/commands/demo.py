"""`manage.py demo`: the whole job on an invented town, over HTTP against the real service."""

from __future__ import annotations

import json
import signal
import sys
import time
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

from inspections.management.client import UnexpectedAnswer
from inspections.management.home import LOADED, alone_in, demo_home, empty
from inspections.management.loading import load_town
from inspections.management.narrator import Narrator
from inspections.management.processes import service
from inspections.management.stage import Stage
from inspections.management.summary import summarize
from inspections.management.walk import walk

WORK_EVERY = "0.3"  # seconds between two scans: nobody likes to wait for a demonstration
PATIENCE = 60  # seconds that a step may take
_PAUSE = 0.1
_TELL_AFTER = 3.0  # seconds of silence
Found = TypeVar("Found")


class Command(BaseCommand):
    """Leaves its results under var/demo and ends with 0, or says what came out otherwise."""

    help = "Do the whole job on invented data over HTTP; the results lie under var/demo."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load the town, start the service, do the job, write the results."""
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that children are ended
        home = demo_home()
        say = Narrator(self.stdout)
        try:
            with alone_in(home):
                made = self._do_the_job(home, prepare(home, say), say)
        except UnexpectedAnswer as unexpected:
            told = f"{unexpected} What the service itself says lies in {home}/*.log."
            raise CommandError(f"The demonstration ends here. {told}") from unexpected
        except KeyboardInterrupt:
            raise CommandError(
                "Interrupted; nothing of it runs any more.", returncode=130
            ) from None
        say.step("Done. What it made:")
        for path in made:
            say.line(str(path))

    def _do_the_job(self, home: Path, keys: dict[str, str], say: Narrator) -> list[Path]:
        say.step("The service starts: web process and worker, as for real, on this machine")
        with service(home, 0, WORK_EVERY) as (address, alive):
            say.line(f"It answers at {address}")
            until = partial(wait, say, alive)
            with closing(Stage(address, keys, say, until, home / "notices")) as stage:
                return self._results(home, walk(stage), stage)

    def _results(self, home: Path, pulled: bytes, stage: Stage) -> list[Path]:
        (home / "submittal.pdf").write_bytes(pulled)
        (home / "calendar.ics").write_bytes(stage.owner.file("/v1/duties/calendar"))
        summary = json.dumps(summarize(stage), indent=2, ensure_ascii=False)
        (home / "summary.json").write_text(f"{summary}\n", encoding="utf-8")
        results = [home / name for name in ("submittal.pdf", "calendar.ics", "summary.json")]
        return [*results, *sorted((home / "notices").glob("*.eml"))]


def prepare(home: Path, say: Narrator) -> dict[str, str]:
    """A fresh database with the town in it; answers the key of each party's client."""
    say.step(f"A fresh database in {home}")
    empty(home)
    call_command("migrate", verbosity=0)
    say.step("An invented town moves in: its people, its doors, and two years of visits")
    town = load_town(say.progress("visits recorded and judged"))
    connections.close_all()  # the children have the file to themselves
    (home / LOADED).touch()
    return town.keys


def wait(
    say: Narrator, alive: Callable[[], None], what: str, probe: Callable[[], Found | None]
) -> Found:
    """Ask until there is an answer; tell when it takes long, raise when it takes too long."""
    began = told = time.monotonic()
    while (found := probe()) is None:
        alive()
        now = time.monotonic()
        if now - began > PATIENCE:
            raise UnexpectedAnswer(f"{what} did not come within {PATIENCE} s")
        if now - told > _TELL_AFTER:
            told = now
            say.line(f"waiting for {what}, {now - began:.0f} s")
        time.sleep(_PAUSE)
    return found
