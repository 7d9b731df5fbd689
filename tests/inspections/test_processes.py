"""The demonstration's children: ended whatever happens, and heard when they end by themselves."""

from __future__ import annotations

import sys
import time
from io import StringIO
from pathlib import Path

import pytest
from django.core.management.base import CommandError

from inspections.management.client import Client, UnexpectedAnswer
from inspections.management.commands import demo
from inspections.management.home import MADE, alone_in, empty
from inspections.management.narrator import Narrator
from inspections.management.processes import child

SLEEPS = [sys.executable, "-c", "import time; time.sleep(600)"]
FAILS = [sys.executable, "-c", "raise SystemExit('no such door')"]


def test_a_child_is_ended_when_the_parent_fails(tmp_path: Path) -> None:
    """By its own id, before the failure goes on."""
    with pytest.raises(KeyError), child("sleeper", SLEEPS, tmp_path, {}) as sleeper:
        raise KeyError(sleeper.process.pid)
    assert sleeper.process.poll() is not None


def test_a_child_that_ends_by_itself_is_heard(tmp_path: Path) -> None:
    """Its last words say why."""
    with child("failure", FAILS, tmp_path, {}) as failure:
        failure.process.wait(timeout=60)
        with pytest.raises(UnexpectedAnswer, match="failure process ended: no such door"):
            failure.expect_alive()


def test_only_one_demonstration_uses_a_folder(tmp_path: Path) -> None:
    """The second would take the data away under the first."""
    with alone_in(tmp_path), pytest.raises(CommandError, match="already"), alone_in(tmp_path):
        pytest.fail("two are in")
    with alone_in(tmp_path):
        pass


def test_only_what_a_demonstration_made_is_removed(tmp_path: Path) -> None:
    """A file of somebody else's stays."""
    for name in (*MADE, "mine.txt"):
        (tmp_path / name).touch()
    empty(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_step_that_takes_too_long_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the name of what did not come."""
    monkeypatch.setattr(demo, "PATIENCE", 0)

    def never() -> None:
        time.sleep(0.01)

    with pytest.raises(UnexpectedAnswer, match="the mail did not come within 0 s"):
        demo.wait(Narrator(StringIO()), lambda: None, "the mail", never)


def test_a_service_that_is_not_there_is_an_unexpected_answer() -> None:
    """No traceback of a library, but what was asked."""
    with pytest.raises(UnexpectedAnswer, match="GET /v1/me: no answer"):
        Client("http://127.0.0.1:9").get("/v1/me")


def test_progress_is_told_at_each_quarter() -> None:
    """Four lines, however many items there are."""
    out = StringIO()
    tell = Narrator(out).progress("visits")
    for done in range(1, 101):
        tell(done, 100)
    assert out.getvalue().count("of 100 visits") == 4
