"""That every worked example and every conflict stands here, with where it comes from."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).parent
LABELS = [f"W{number}" for number in (*range(1, 24), 25)]
KNOWN_AS = re.compile(
    r"secondary|from memory|computed|definition|published|printed|plain division",
    re.IGNORECASE,
)


def told() -> Iterator[tuple[str, str]]:
    """Each test of this folder, alone and with what its module says."""
    for path in sorted(set(HERE.glob("test_*.py")) - {Path(__file__)}):
        text = path.read_text("utf-8")
        module = ast.parse(text)
        for node in module.body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                begins = min([node.lineno, *(d.lineno for d in node.decorator_list)])
                own = "\n".join(text.splitlines()[begins - 1 : node.end_lineno])
                yield f"{node.name}\n{own}", f"{ast.get_docstring(module)}\n{own}"


@pytest.mark.parametrize("label", LABELS)
def test_worked_example_stands_here_with_its_source(label: str) -> None:
    """W1 to W23 and W25, each in a test that says how its figures are known."""
    named = re.compile(rf"{label}(?!\d)", re.IGNORECASE)
    found = [said for own, said in told() if named.search(own.replace("_", " "))]
    assert found
    assert all(KNOWN_AS.search(said) for said in found)


@pytest.mark.parametrize("number", range(1, 14))
def test_conflict_stands_here_with_its_source(number: int) -> None:
    """The thirteen conflicts, by number."""
    found = [own for own, _ in told() if own.startswith(f"test_{number}_")]
    assert found
    assert all(re.search("secondary|from memory", own, re.IGNORECASE) for own in found)
