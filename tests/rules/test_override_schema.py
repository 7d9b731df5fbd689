"""The schema of overrides that the package ships agrees with the loader."""

from __future__ import annotations

import json
import tomllib
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from rules.facts import FACTS
from rules.loading.layers import readable_layer
from rules.measurands import MEASURANDS
from rules.vocabulary import Kind

SCHEMA: dict[str, Any] = json.loads(
    (files("rules") / "schemas" / "override.json").read_text("utf-8")
)
CHECK = jsonschema.Draft202012Validator(SCHEMA)
PLACES = sorted(entry.name for entry in (files("rules") / "data" / "jurisdictions").iterdir())


def document(name: str) -> object:
    """A packaged place as JSON would carry it: dates as text."""
    text = (files("rules") / "data" / "jurisdictions" / name).read_text("utf-8")
    return json.loads(json.dumps(tomllib.loads(text), default=str))


def test_schema_is_sound() -> None:
    """The schema is itself a valid one of its draft."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", PLACES)
def test_packaged_places_are_valid_under_it(name: str) -> None:
    """What the loader takes, the schema takes."""
    CHECK.validate(document(name))


def test_schema_lists_what_the_library_knows() -> None:
    """Quantities, facts and kinds are the library's own lists."""
    assert set(SCHEMA["$defs"]["limit"]["properties"]["quantity"]["enum"]) == set(MEASURANDS)
    names = SCHEMA["$defs"]["predicate"]["propertyNames"]["enum"]
    assert set(names) == {"any", "not", *FACTS}
    assert set(SCHEMA["properties"]["add"]["items"]["properties"]["kind"]["enum"]) == set(Kind)


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"jurisdiction": {"code": "x"}},
        {"jurisdiction": {"code": "x", "name": "X"}, "tigten": []},
        {"jurisdiction": {"code": "x", "name": "X"}, "withdraw": [{"target": "a/b"}]},
        {"jurisdiction": {"code": "x", "name": "X"}, "variance": {"number": "1"}},
    ],
)
def test_schema_refuses_what_the_loader_refuses(wrong: dict[str, Any]) -> None:
    """Missing heads, unknown tables and uncited amendments are refused by both."""
    assert not CHECK.is_valid(wrong)


@pytest.mark.parametrize(
    ("number", "stands"),
    [
        ("V-2026-17", True),
        ("BSA Cal. No. 12/26-A (2)", True),
        ("Ausnahme Nr. 7/ä", True),
        ("v-7", True),
        ("x" * 100, True),
        ("x" * 101, False),
        ("", False),
        (" ", False),
        (" V-1", False),
        ("V-1 ", False),
        ("V-1\n", False),
        ("V\t1", False),
        ("V\u200b1", False),
        ("V\u202e1", False),
        ("V\u00a01", False),
        ("V\u00ad1", False),
        ("V\U000e00411", False),
        (7, False),
    ],
)
def test_the_number_of_a_variance_is_what_its_authority_writes(
    number: object,
    stands: bool,  # noqa: FBT001 - a column of the table
) -> None:
    """The schema and the loader take the same numbers."""
    document = {"variance": {"number": number}}
    assert CHECK.is_valid(document) is stands
    layer, problems = readable_layer(document, file="v.toml")
    assert [problem.pointer for problem in problems] == ([] if stands else ["/variance/number"])
    assert layer is not None
    assert layer.code == f"variance:{number if stands else ''}"
