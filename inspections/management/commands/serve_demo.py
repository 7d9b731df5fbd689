"""`manage.py serve_demo`: the invented town standing, to be tried with a client of one's own."""

from __future__ import annotations

import signal
import socket
import sys
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from doors.models import Opening, Organization
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.management.client import UnexpectedAnswer
from inspections.management.commands.demo import prepare
from inspections.management.home import LOADED, alone_in, demo_home
from inspections.management.loading import fresh_key
from inspections.management.narrator import Narrator
from inspections.management.processes import service
from inspections.selectors.scenario import Party, parties, table

WORK_EVERY = "1"
PORT = 8000
ROLES = ("owner", "firm", "authority")


class Command(BaseCommand):
    """Serves what the last demonstration left; loads the town where there is none."""

    help = "Serve the demonstration's data with fresh keys until interrupted."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the port."""
        parser.add_argument("--port", type=int, help=f"default {PORT}, or a free one")

    def handle(self, *args: Any, **options: Any) -> None:
        """Start the service, say how to reach it, and wait."""
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))  # so that children are ended
        home = demo_home()
        try:
            with alone_in(home):
                self._serve(home, options["port"] or (PORT if _free(PORT) else 0))
        except (UnexpectedAnswer, OSError) as trouble:
            raise CommandError(str(trouble)) from trouble
        except KeyboardInterrupt:
            self.stdout.write("\nStopped; the data stays.")

    def _serve(self, home: Path, port: int) -> None:
        if (home / LOADED).exists():
            call_command("migrate", verbosity=0)
        else:
            prepare(home, Narrator(self.stdout))
        keys = {role: _key(role) for role in ROLES}
        with service(home, port, WORK_EVERY) as (address, alive):
            self._say(address, keys, home)
            while True:
                alive()
                time.sleep(1)

    def _say(self, address: str, keys: dict[str, str], home: Path) -> None:
        lines = [
            f"The service answers at {address}; its documentation is at {address}/docs",
            "One key for each kind of organization, good for thirty days:",
            "",
            f"  export ADDRESS={address}",
            *(f"  export {role.upper()}_KEY={key}" for role, key in keys.items()),
            f"  export OPENING={_opening()}",
            "",
            f"Mail is kept in {home / 'notices'}; nobody is written to. Ctrl-C stops it.",
        ]
        self.stdout.write("\n".join(lines))


def _free(port: int) -> bool:
    with socket.socket() as trial:
        return trial.connect_ex(("127.0.0.1", port)) != 0


def _party(role: str) -> Party:
    return next(party for party in parties().organization if party.role == role)


def _organization(role: str) -> Organization:
    with looking_up(Purpose.SET_UP):
        return Organization.objects.get(name=_party(role).name)


def _key(role: str) -> str:
    with acting_for(_organization(role).id, write=True):
        return fresh_key(_party(role))


def _opening() -> str:
    with acting_for(_organization("firm").id, write=False):
        return str(Opening.objects.get(tag=table("walk")["opening"]).id)
