"""The service's own processes, started as children on this machine and ended by their own ids."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from inspections.management.client import Client, UnexpectedAnswer

READY_WITHIN = 60  # seconds; a cold start compiles every module
END_WITHIN = 15


@dataclass(frozen=True, slots=True)
class Child:
    """A process of ours, and the file that holds what it says."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path

    def expect_alive(self) -> None:
        """Raise with its last words where it has ended by itself."""
        if self.process.poll() is not None:
            last = self.log.read_text(errors="replace").splitlines()[-5:]
            raise UnexpectedAnswer(f"the {self.name} process ended: " + " / ".join(last))


@contextmanager
def service(home: Path, port: int, work_every: str) -> Iterator[tuple[str, Callable[[], None]]]:
    """The web process and the in-process runner; gives their address, and a check that both are
    alive. Both are ended on the way out, whatever happens.
    """
    with ExitStack() as stack, _listening(port) as door:
        address = f"http://127.0.0.1:{door.getsockname()[1]}"
        web = [sys.executable, "-m", "gunicorn", "-c", "python:config.gunicorn", "config.wsgi"]
        work = [sys.executable, "manage.py", "work", "--every", work_every]
        told = {"PUBLIC_URL": address, "BIND": f"fd://{door.fileno()}", "WEB_WORKERS": "1"}
        children = [
            stack.enter_context(child("web", web, home, told, door.fileno())),
            stack.enter_context(child("work", work, home, told)),
        ]

        def alive() -> None:
            for child in children:
                child.expect_alive()

        _await_ready(address, alive)
        yield address, alive


@contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    """A port of the loopback that is ours from now on; 0 takes a free one."""
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("127.0.0.1", port))
        door.listen(64)
        yield door


@contextmanager
def child(
    name: str, command: list[str], home: Path, told: Mapping[str, str], *handed: int
) -> Iterator[Child]:
    """A process of ours with what it is told and handed beside our environment; ended on the way
    out, whatever happens.
    """
    log = home / f"{name}.log"
    with log.open("wb") as out:
        process = subprocess.Popen(  # noqa: S603 - our own commands, no shell
            command,
            cwd=settings.BASE_DIR,
            env={**os.environ, **told},
            pass_fds=handed,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,  # a Ctrl-C is for the parent, which ends its children itself
        )
    try:
        yield Child(name, process, log)
    finally:
        _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGINT)  # which both take as "quickly": nobody waits any more
    try:
        process.wait(timeout=END_WITHIN)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def _await_ready(address: str, alive: Callable[[], None]) -> None:
    client, ends = Client(address), time.monotonic() + READY_WITHIN
    while True:
        alive()
        try:
            client.get("/readyz")
        except UnexpectedAnswer:
            if time.monotonic() > ends:
                raise
            time.sleep(0.1)
        else:
            client.close()
            return
