"""What README.md shows is what happens: its call is made, its answer is compared."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
import urllib3
from django.conf import settings

from inspections.management.stage import Stage

ANYTHING = "…"  # stands in the shown answer for what is left out


def blocks(language: str) -> list[str]:
    """The fenced blocks of that language in README.md."""
    text = Path(settings.BASE_DIR, "README.md").read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.DOTALL | re.MULTILINE)


def asked(command: str, known: dict[str, str]) -> tuple[str, dict[str, str], str]:
    """Address, headers and body of a curl command, with its shell variables filled in."""
    one_line = command.replace("\\\n", " ")
    words = [re.sub(r"\$([A-Z_]+)", lambda n: known[n[1]], w) for w in shlex.split(one_line)]
    program, silent, address, *options = words
    assert (program, silent) == ("curl", "-s")
    headers, body = {}, ""
    for option, value in zip(options[::2], options[1::2], strict=True):
        if option == "-d":
            body = value
        else:
            assert option == "-H"
            name, _, content = value.partition(": ")
            headers[name] = content
    return address, headers, body


def shows(shown: object, actual: object) -> bool:
    """Whether what is shown stands in the answer; what is left out may be anything."""
    if shown == ANYTHING:
        return True
    if isinstance(shown, dict):
        return isinstance(actual, dict) and all(
            name == ANYTHING or (name in actual and shows(value, actual[name]))
            for name, value in shown.items()
        )
    if isinstance(shown, list):
        rest = iter(actual if isinstance(actual, list) else [])
        return all(item == ANYTHING or any(shows(item, other) for other in rest) for item in shown)
    return bool(shown == actual)


@pytest.mark.django_db(transaction=True)
def test_the_first_call_of_the_readme_gets_the_answer_it_shows(stage: Stage) -> None:
    """A newcomer who pastes it sees what the page promised."""
    opening = stage.firm.get("/v1/openings", tag=stage.plan["opening"])["data"][0]
    known = {
        "ADDRESS": stage.address,
        "FIRM_KEY": stage.keys["firm"],
        "OPENING": opening["id"],
    }
    call = next(block for block in blocks("sh") if block.startswith("curl"))
    address, headers, body = asked(call, known)
    with urllib3.PoolManager() as pool:
        response = pool.request("POST", address, headers=headers, body=body.encode())
        answer = json.loads(response.data)
    assert response.status == 201, answer
    (shown,) = (json.loads(block) for block in blocks("json"))
    assert len(json.dumps(shown)) > 500
    assert shows(shown, answer), json.dumps(answer, indent=2, ensure_ascii=False)


def test_only_what_stands_in_the_answer_is_shown_by_it() -> None:
    """The comparison refuses a wrong value, a missing name and a missing item."""
    actual = {"a": 1, "b": [{"c": "x"}, {"c": "y"}]}
    assert shows({"a": 1, "b": [{"c": "y"}, "…"], "…": "…"}, actual)
    assert not shows({"a": 2}, actual)
    assert not shows({"d": "…"}, actual)
    assert not shows({"b": [{"c": "z"}]}, actual)
    assert not shows({"b": [{"c": "y"}, {"c": "x"}]}, actual)


def test_every_make_target_that_the_readme_names_exists() -> None:
    """A command on the page that does not exist would be the first thing tried."""
    text = Path(settings.BASE_DIR, "README.md").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z]+):", Path("Makefile").read_text(), re.MULTILINE))
    assert set(re.findall(r"\bmake ([a-z]+)\b", text)) - {"their"} <= targets
