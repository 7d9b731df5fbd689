"""Whatever comes in, the command line answers or refuses: it never breaks."""

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rules.command_line import main

OPENING: dict[str, Any] = {
    "jurisdiction": "us",
    "facts": {
        "door_type": "accordion",
        "operation": "power",
        "fire_door": True,
        "installed_on": "2019-05-01",
        "required_clear_width": {"value": "32", "unit": "in"},
    },
    "listed_instructions": [
        {
            "target": "common-practice/closing-speed",
            "low": "8 in/s",
            "high": "12 in/s",
            "citation": {"publication": "instructions", "edition": "C", "clause": "4.2"},
        }
    ],
}
FINDINGS: dict[str, Any] = {
    "on": "2026-03-01",
    "activity": "periodic_inspection",
    "readings": [
        {
            "quantity": "closing_speed",
            "value": "24",
            "unit": "in/s",
            "uncertainty": "0.2",
            "repeat": 1,
            "instrument": {"resolution": "0.1", "calibration_due_on": "2027-01-01"},
            "history": ["20", {"value": "1", "unit": "ft/s"}],
        },
        {"quantity": "opening_force", "result": "not_tested", "reason": "x"},
    ],
    "checks": [{"check": "label-legible", "result": "conforms", "remarks": "x"}],
    "sequences": [
        {
            "sequence": "obstruction",
            "result": "conforms",
            "steps": [{"step": "stops", "seen": True}],
            "times": [{"quantity": "pause_time", "value": "2", "unit": "s"}],
        }
    ],
}
CASES: dict[str, tuple[Any, list[str]]] = {
    "requirements": ({**OPENING}, ["--on", "2026-03-01"]),
    "judge": ({**OPENING, **FINDINGS}, []),
    "compare": (
        {**OPENING, "visits": [{"findings": FINDINGS}]},
        ["--from", "ibc-2018", "--to", "ibc-2021", "--on", "2026-03-01"],
    ),
    "measure": (
        {
            "kind": "stopwatch",
            "travel": {"value": "24", "unit": "ft"},
            "times": ["14"],
            "unit": "s",
        },
        [],
    ),
}
JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**25), 10**25),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from(("", "NaN", "1e999", "-1", "\x00", "\ud800", "2026-02-30", "us", "9" * 5000)),
    st.text(max_size=5),
    st.sampled_from(([], {}, [[]], [{}], {"value": "1"}, {"value": "1", "unit": "lbf"}, [None])),
)


def places(document: object, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in a document."""
    yield path
    named = document.items() if isinstance(document, dict) else ()
    for key, part in enumerate(document) if isinstance(document, list) else named:
        yield from places(part, (*path, key))


def replaced(document: object, path: tuple[Any, ...], junk: object) -> object:
    """The document with something else in one place."""
    if not path:
        return junk
    changed: Any = copy.deepcopy(document)
    inner = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = junk
    return changed


@pytest.mark.parametrize("verb", CASES)
@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_one_place_spoilt(
    verb: str,
    data: st.DataObject,
    tmp_path: Path,
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    """With anything at all in any one place there is an answer and status 0, or a refusal that
    names a place and status 2.
    """
    document, arguments = CASES[verb]
    spoilt = replaced(document, data.draw(st.sampled_from(list(places(document)))), data.draw(JUNK))
    path = tmp_path / "input.json"
    path.write_text(json.dumps(spoilt), encoding="utf-8")
    status = main([verb, str(path), *arguments])
    out, err = (part.decode() for part in capsysbinary.readouterr())
    if status == 0:
        assert json.loads(out) is not None
        assert not err
    else:
        assert status == 2
        assert not out
        assert f"{path}: /" in err


@pytest.mark.parametrize("verb", CASES)
def test_the_unspoilt_document_is_answered(
    verb: str, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    """What is spoilt above is sound to begin with."""
    document, arguments = CASES[verb]
    path = tmp_path / "input.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert main([verb, str(path), *arguments]) == 0
    assert not capsysbinary.readouterr().err
