"""Files with a few bytes or keys spoilt: every verb answers or refuses, and names the file.

`SPOILT=20000 pytest tests/rules/test_spoilt_bytes.py` tries as many; the suite tries fewer.
"""

from __future__ import annotations

import json
import os
import random
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from rules.command_line import main
from tests.rules.test_command_line_hostile import CASES, OPENING

HISTORY: list[dict[str, Any]] = [
    {"activity": "periodic_inspection", "on": "2025-06-15", "complete": True, "id": "a"},
    {"event": "repair", "on": "2025-07-01"},
]
TRACE = {
    "kind": "travel",
    "units": {"t": "s", "position": "m"},
    "samples": [[n / 10, n / 50] for n in range(60)],
}
PLACE = (files("rules") / "data" / "jurisdictions" / "us-mn.toml").read_text("utf-8")
TOWN = PLACE.replace('code = "us-mn"\nparent = "us"', 'code = "us-town"\nparent = "us"')
FILES: dict[str, str] = {
    **{verb: json.dumps(document) for verb, (document, _) in CASES.items()},
    "duties": json.dumps(HISTORY),
    "travel": json.dumps(TRACE),
    "lint": PLACE,
    "override": TOWN,
}
TRIED = int(os.environ.get("SPOILT", "500")) // len(FILES)
PIECES = (
    *(b"NaN", b"1e999", b"-1", b"-Infinity", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"\\ud800"'),
    *(b"9" * 5000, b"[" * 3000, b'{"a":' * 200, b"null", b"true", b'""', b"{}", b"[]", b"'''"),
    *(b"2026-02-30", b"2026-W10-1", b"0001-01-01", b"9999-12-31", b"P5M", b"P0D", b"lbf", b"1 h"),
    *(
        "\u202e".encode(),
        "\u0665".encode(),
        b"a." * 50,
        b"\r",
        b"\n[[add]]\n",
        b"[x]\n",
        b"=",
        b"/",
    ),
)


def spoilt(raw: bytes, chance: random.Random) -> bytes:
    """The bytes with one to three places cut out, doubled, changed, or filled with a piece."""
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(raw) + 1)
        end = min(len(raw), at + chance.choice((1, 1, 2, 5, 40)))
        piece = chance.choice(
            (b"", raw[at:end] * 2, bytes([chance.randrange(256)]), chance.choice(PIECES))
        )
        raw = raw[:at] + piece + raw[end:]
    return raw


def swapped(raw: bytes, chance: random.Random) -> bytes:
    """The bytes with one word, number or text in the place of another of the same file."""
    words = raw.decode(errors="ignore").replace(",", " ").split()
    old, new = chance.choice(words), chance.choice(words)
    return raw.replace(old.encode(), new.encode(), 1)


def arguments(verb: str, path: Path, sound: Path) -> list[str]:
    """How the verb is called with the spoilt file."""
    day = ["--on", "2026-03-01"]
    called: dict[str, Callable[[], list[str]]] = {
        "duties": lambda: ["duties", str(sound), "--history", str(path), *day],
        "travel": lambda: ["measure", str(path)],
        "lint": lambda: ["lint", str(path)],
        "override": lambda: ["requirements", str(sound), "--override", str(path), *day],
    }
    if verb in called:
        return called[verb]()
    return [verb, str(path), *CASES[verb][1]]


@pytest.mark.parametrize("verb", FILES)
def test_spoilt_files(
    verb: str, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    """Status 0 with an answer, or 2 with the file and a place on every line; never a traceback."""
    chance = random.Random(verb)
    path, sound = tmp_path / "spoilt", tmp_path / "sound"
    sound.write_text(json.dumps(OPENING), encoding="utf-8")
    seen = set()
    for number in range(max(TRIED, 20)):
        spoil = chance.choice((spoilt, spoilt, swapped))
        raw = spoil(FILES[verb].encode(), chance) if number else FILES[verb].encode()
        path.write_bytes(raw)
        status = main(arguments(verb, path, sound))
        out, err = (part.decode() for part in capsysbinary.readouterr())
        seen.add(status)
        assert status in {0, 2}, raw
        if status == 0:
            assert json.loads(out) is not None
        else:
            assert err.strip(), raw
            assert all(
                line.startswith((f"{path}: /", f"{sound}: /")) for line in err.splitlines()
            ), err
            assert not out or json.loads(out)["problems"]
    assert seen == {0, 2}
