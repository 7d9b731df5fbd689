"""The set-up in two commands: which Python it takes, and when it installs.

A copy of the Makefile with empty locks stands in a folder of its own, so nothing is fetched.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(folder: Path, *command: str, **env: str) -> subprocess.CompletedProcess[str]:
    """Run `command` in `folder` with the interpreter of these tests, unless `env` names another."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("MAKE")}
    return subprocess.run(
        command,
        cwd=folder,
        env=kept | {"PYTHON": sys.executable} | env,
        check=False,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
    )


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """Return a folder with the house's set-up, locks that hold nothing, and a demo of one line."""
    (tmp_path / ".ci").mkdir()
    shutil.copy(ROOT / "Makefile", tmp_path)
    shutil.copy(ROOT / ".ci" / "environment", tmp_path / ".ci")
    for name in ("requirements.lock", "requirements-dev.lock", "requirements-uv.lock"):
        (tmp_path / name).write_text("# nothing\n")
    (tmp_path / "manage.py").write_text("print('the demo ran')\n")
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "__main__.py").write_text("print('the tests ran')\n")
    return tmp_path


def pretend(tmp_path: Path, name: str, lines: str) -> dict[str, str]:
    """Return the environment in which every Python first runs `lines`, as module `name`."""
    folder = tmp_path / "pretend"
    folder.mkdir()
    (folder / f"{name}.py").write_text(lines)
    return {"PYTHONPATH": str(folder)}


@pytest.mark.parametrize("version", [(3, 10, 13), (3, 14, 0), (2, 7, 18)])
def test_python_out_of_range(checkout: Path, version: tuple[int, int, int]) -> None:
    """A Python too old or too new gets one line that names it and its version, and no venv."""
    env = pretend(checkout, "sitecustomize", f"import sys\nsys.version_info = {version}\n")
    answer = run(checkout, ".ci/environment", "runtime", **env)
    found = f"{sys.executable} is {version[0]}.{version[1]}"
    assert answer.returncode == 1
    assert answer.stderr.splitlines() == [
        f"Python 3.11, 3.12 or 3.13 is needed ({found}): install one or name it with PYTHON=..."
    ]
    assert not (checkout / ".venv").exists()


def test_python_missing(checkout: Path) -> None:
    """No Python at all gets one line that says what was looked for."""
    answer = run(checkout, str(checkout / ".ci/environment"), "runtime", PATH="/none", PYTHON="")
    assert answer.returncode == 1
    assert len(answer.stderr.splitlines()) == 1
    assert "found none of: python3.11 python3.12 python3.13 python3" in answer.stderr


def test_python_without_ensurepip(checkout: Path) -> None:
    """A system Python whose venv package is missing gets one line that says what to install."""
    env = pretend(checkout, "ensurepip", "raise ImportError\n")
    answer = run(checkout, ".ci/environment", "runtime", **env)
    assert answer.returncode == 1
    assert len(answer.stderr.splitlines()) == 1
    assert "python3-venv" in answer.stderr


def test_first_fitting_python_is_taken(checkout: Path) -> None:
    """A candidate that does not fit is passed over for the next that does."""
    answer = run(
        checkout, ".ci/environment", "runtime", PYTHON=f"/none/python3.11 {sys.executable}"
    )
    assert answer.returncode == 0, answer.stderr
    assert (checkout / ".venv" / "bin" / "python").exists()


def test_second_run_installs_nothing(checkout: Path) -> None:
    """`make demo` and `make test` install once each, whatever their order, and never undo it."""
    first = run(checkout, "make", "demo")
    assert first.returncode == 0, first.stderr
    assert "requirements.lock" in first.stdout
    assert run(checkout, "make", "demo").stdout == "the demo ran\n"
    assert "requirements-dev.lock" in run(checkout, "make", "test").stdout
    for target, line in (("demo", "the demo ran\n"), ("test", "the tests ran\n")):
        assert run(checkout, "make", target).stdout == line


def test_changed_lock_keeps_the_larger_set(checkout: Path) -> None:
    """After `make test`, a changed runtime lock has the dev set brought up to date, not removed."""
    assert run(checkout, "make", "test").returncode == 0
    later = (checkout / ".venv" / ".runtime-installed").stat().st_mtime + 10
    os.utime(checkout / "requirements.lock", (later, later))
    again = run(checkout, "make", "demo")
    assert again.returncode == 0, again.stderr
    assert "requirements-dev.lock" in again.stdout


def test_pip_stands_in_for_uv(checkout: Path) -> None:
    """Where uv cannot be had, the same lock is installed by pip, and the run says so."""
    answer = run(checkout, "make", "demo")
    assert "installing the same file with pip" in answer.stdout
    assert answer.stdout.endswith("the demo ran\n")


def test_unpinned_package_is_refused(checkout: Path) -> None:
    """A lock line without a hash installs nothing and leaves no stamp."""
    (checkout / "requirements.lock").write_text("six==1.17.0\n")
    answer = run(checkout, "make", "demo")
    assert answer.returncode != 0
    assert "hash" in answer.stderr.lower()
    assert not (checkout / ".venv" / ".runtime-installed").exists()


def test_help_lists_every_target() -> None:
    """`make help` has one line for every target that is a command."""
    listed = re.findall(r"^  ([a-z-]+)\s+\S", run(ROOT, "make", "help").stdout, re.MULTILINE)
    phony = re.findall(r"^\.PHONY: (\S+)", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert listed == phony
    assert run(ROOT, "make").stdout == run(ROOT, "make", "help").stdout
