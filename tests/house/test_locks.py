"""The locks say what pyproject.toml says, pinned by hash, and name no place to fetch from."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = ["requirements.lock", "requirements-dev.lock", "requirements-uv.lock"]
PIN = re.compile(r"^([a-z0-9.-]+)==(\S+)( ; [^\\]+)? \\$")


def pins(name: str) -> set[tuple[str, str, str]]:
    """Return (package, version, marker) of every pin in the lock `name`."""
    found = (PIN.match(line) for line in (ROOT / name).read_text().splitlines())
    return {(match[1], match[2], match[3] or "") for match in found if match}


def direct(group: str) -> set[tuple[str, str]]:
    """Return (package, version) of what pyproject.toml pins in `group` itself."""
    groups = tomllib.loads((ROOT / "pyproject.toml").read_text())["dependency-groups"]
    stated = [item for item in groups[group] if isinstance(item, str)]
    exact = (re.fullmatch(r"([A-Za-z0-9.-]+)(?:\[.*\])?==(.+)", item) for item in stated)
    return {(match[1], match[2]) for match in exact if match}


@pytest.mark.parametrize("name", LOCKS)
def test_every_pin_has_hashes(name: str) -> None:
    """Every requirement of a lock is an exact version followed by at least one SHA-256."""
    text = (ROOT / name).read_text()
    blocks = re.split(r"\n(?=[a-z0-9])", re.sub(r"^ *#.*\n", "", text, flags=re.MULTILINE))
    assert len(blocks) == len(pins(name)) > 0
    assert [block for block in blocks if "--hash=sha256:" not in block] == []


@pytest.mark.parametrize("name", LOCKS)
def test_no_address(name: str) -> None:
    """A lock holds no address and no option but hashes."""
    text = (ROOT / name).read_text()
    assert "://" not in text
    assert set(re.findall(r"--[a-z-]+", text)) == {"--hash"}


def test_dev_holds_runtime() -> None:
    """What is tested is what is run: every runtime pin stands in the dev lock unchanged."""
    assert pins("requirements.lock") <= pins("requirements-dev.lock")


@pytest.mark.parametrize(
    ("group", "name"),
    [
        ("runtime", "requirements.lock"),
        ("dev", "requirements-dev.lock"),
        ("xlsx", "requirements-dev.lock"),
        ("uv", "requirements-uv.lock"),
    ],
)
def test_lock_follows_pyproject(group: str, name: str) -> None:
    """A version changed in pyproject.toml without `make lock` is noticed."""
    locked = {(package, version) for package, version, _ in pins(name)}
    assert direct(group) - locked == set()
