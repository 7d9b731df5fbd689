"""The layout check finds what lies in the wrong place, is too long, or names a package index."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """Return an empty git checkout."""
    subprocess.run(["git", "init", "--quiet", tmp_path], check=True)
    return tmp_path


def layout(checkout: Path, files: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """Run the check over `files` (path and content)."""
    for name, content in files.items():
        path = checkout / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content)
    subprocess.run(["git", "add", "."], cwd=checkout, check=True)
    command = [sys.executable, str(ROOT / ".ci" / "layout.py")]
    return subprocess.run(command, cwd=checkout, check=False, capture_output=True, text=True)


def function(lines: int) -> str:
    """Return a function of `lines` lines of code."""
    return "def long():\n" + "    print()\n" * (lines - 1)


INDEX = "https://" + "pypi.example/simple"  # in two pieces, or this file would be found


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("notes.txt", "", "notes.txt: outside the layout"),
        ("scripts/run.py", "", "the folder scripts/ is outside the layout"),
        ("doors/utils.py", "", "`utils.py` does not say what it is"),
        ("doors/common/sites.py", "", "`common` does not say what it is"),
        ("Makefile", "x:\n\tpip install -i " + INDEX, "Makefile:2: names a package index"),
        (".ci/pip.conf", "extra-index" + "-url = x", ".ci/pip.conf:1: names a package index"),
        ("a.lock", "x @ https:" + "//example.org/x.whl", "a.lock:1: names a package index"),
        ("doors/sites.py", function(41), "doors/sites.py:1: long has 41 lines, more than 40"),
        ("rules/judge.py", "x = 1\n" * 251, "rules/judge.py: 251 lines of code, more than 250"),
    ],
)
def test_out_of_place(checkout: Path, name: str, content: str, said: str) -> None:
    """Each thing out of place is named with its file, and the check fails."""
    answer = layout(checkout, {name: content})
    assert answer.returncode == 1
    assert said in answer.stdout
    assert "1 files looked at, 1 things out of place" in answer.stdout


def test_in_place(checkout: Path) -> None:
    """What the design lays out passes; comments and blank lines are not counted as length."""
    files = {
        "README.md": "words",
        "requirements.lock": "six==1",
        ".ci/run": "true",
        "fixtures/a.json": "{}",
        "doors/models/sites.py": function(40) + "\n# why\n" * 300,
        "tests/doors/test_sites.py": "x = 1\n" * 300,
    }
    answer = layout(checkout, files)
    assert answer.returncode == 0, answer.stdout
