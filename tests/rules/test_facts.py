"""Facts of an opening: what is known, refused where it cannot be read, never assumed."""

from __future__ import annotations

import json
from datetime import date, datetime
from fractions import Fraction
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from rules.errors import InputError
from rules.facts import FACTS, FactKind, check_facts
from rules.quantities import UNITS

GOOD: dict[FactKind, Any] = {
    FactKind.FLAG: True,
    FactKind.TEXT: "I-2",
    FactKind.COUNT: 50,
    FactKind.DAY: "2020-02-29",
}


def good(name: str) -> object:
    """A value that the fact can have."""
    fact = FACTS[name]
    if fact.kind is FactKind.WORD:
        return fact.words[0]
    if fact.kind is FactKind.MEASURE:
        unit = next(unit for unit in UNITS.values() if unit.dimension is fact.dimension)
        return {"value": "2.5", "unit": unit.symbol}
    return GOOD[fact.kind]


def problem(facts: object) -> tuple[str, str]:
    """The place and code of the first mistake."""
    with pytest.raises(InputError) as refused:
        check_facts(facts)
    return refused.value.problems[0].pointer, refused.value.problems[0].code


def schema() -> dict[str, Any]:
    """The schema of facts that the package ships."""
    return json.loads((files("rules") / "schemas" / "facts.json").read_text("utf-8"))


@pytest.mark.parametrize("name", FACTS)
def test_every_fact_can_be_given_or_left_unknown(name: str) -> None:
    """A good value is kept; null is the same as not given."""
    assert name in check_facts({name: good(name)})
    assert name not in check_facts({name: None})


def test_measures_are_compared_in_exact_si() -> None:
    """A measure becomes an exact fraction: 36 in is 0.9144 m."""
    checked = check_facts({"required_clear_width": {"value": "36", "unit": "in"}})
    assert checked["required_clear_width"] == Fraction(9144, 10000)


def test_dates_are_dates() -> None:
    """A civil date is read; one that is already a date is kept."""
    assert check_facts({"installed_on": "2019-05-01"})["installed_on"] == date(2019, 5, 1)
    assert check_facts({"installed_on": date(2019, 5, 1)})["installed_on"] == date(2019, 5, 1)


def test_what_has_a_door_type_is_a_door() -> None:
    """Only a door has a door type, so it is no stair; a stated component stays."""
    assert check_facts({"door_type": "rolling"})["egress_component"] == "door"
    assert "egress_component" not in check_facts({"fire_door": True})
    assert check_facts({"egress_component": "stair"})["egress_component"] == "stair"


@pytest.mark.parametrize(
    ("facts", "pointer", "code"),
    [
        ({"colour": "red"}, "/facts/colour", "unknown_fact"),
        ({"a/b~c": 1}, "/facts/a~1b~0c", "unknown_fact"),
        ({"door_type": "lid"}, "/facts/door_type", "wrong_value"),
        ({"door_type": ["rolling"]}, "/facts/door_type", "wrong_value"),
        ({"fire_door": "yes"}, "/facts/fire_door", "wrong_value"),
        ({"fire_door": 1}, "/facts/fire_door", "wrong_value"),
        ({"occupant_load": -1}, "/facts/occupant_load", "wrong_value"),
        ({"occupant_load": True}, "/facts/occupant_load", "wrong_value"),
        ({"occupant_load": "12"}, "/facts/occupant_load", "wrong_value"),
        ({"occupant_load": 10**9}, "/facts/occupant_load", "wrong_value"),
        ({"occupancy_group": ""}, "/facts/occupancy_group", "wrong_value"),
        ({"occupancy_group": "x" * 100}, "/facts/occupancy_group", "wrong_value"),
        ({"installed_on": "2019-02-29"}, "/facts/installed_on", "not_a_date"),
        ({"installed_on": "2019-W01-1"}, "/facts/installed_on", "not_a_date"),
        ({"installed_on": datetime(2019, 1, 1)}, "/facts/installed_on", "not_a_date"),  # noqa: DTZ001
        ({"installed_on": 2019}, "/facts/installed_on", "not_a_date"),
        ({"opening_width": "36 in"}, "/facts/opening_width", "wrong_type"),
        ({"opening_width": {"value": "36"}}, "/facts/opening_width", "wrong_type"),
        (
            {"opening_width": {"value": "36", "unit": "lbf"}},
            "/facts/opening_width/unit",
            "wrong_dimension",
        ),
        (
            {"opening_width": {"value": "NaN", "unit": "in"}},
            "/facts/opening_width/value",
            "not_a_number",
        ),
        (
            {"opening_width": {"value": "1e999", "unit": "in"}},
            "/facts/opening_width/value",
            "out_of_range",
        ),
        (
            {"opening_width": {"value": "0", "unit": "in"}},
            "/facts/opening_width/value",
            "out_of_range",
        ),
        (
            {"installed_on": "2020-01-01", "altered_on": "2019-01-01"},
            "/facts/altered_on",
            "out_of_order",
        ),
        (
            {"installed_on": "2020-01-01", "removed_on": "2019-01-01"},
            "/facts/removed_on",
            "out_of_order",
        ),
        ([], "/facts", "wrong_type"),
        (None, "/facts", "wrong_type"),
    ],
)
def test_wrong_facts_are_refused_by_their_place(facts: object, pointer: str, code: str) -> None:
    """A wrong fact is named by its pointer, and why."""
    assert problem(facts) == (pointer, code)


def test_every_wrong_fact_is_named_at_once() -> None:
    """Three wrong facts are three problems in one refusal."""
    with pytest.raises(InputError) as refused:
        check_facts({"colour": 1, "fire_door": 2, "installed_on": 3})
    assert len(refused.value.problems) == 3


# --- the schema ------------------------------------------------------------------------------


def test_schema_lists_the_facts_and_their_words() -> None:
    """The schema has every fact, its words and its sense, and no other."""
    listed = schema()["$defs"]["facts"]["properties"]
    assert set(listed) == set(FACTS)
    for name, fact in FACTS.items():
        assert listed[name]["description"] == fact.sense
        if fact.kind is FactKind.WORD:
            assert listed[name]["enum"] == [*fact.words, None]


@pytest.mark.parametrize("name", FACTS)
def test_schema_takes_what_the_reader_takes(name: str) -> None:
    """A good value and null pass the schema; a value of another kind does not."""
    check = jsonschema.Draft202012Validator(schema())
    document = {"jurisdiction": "us", "facts": {name: good(name)}}
    assert check.is_valid(document)
    assert check.is_valid({"jurisdiction": "us", "facts": {name: None}})
    assert not check.is_valid({"jurisdiction": "us", "facts": {name: {"odd": 1}}})


def test_schema_examples_are_valid() -> None:
    """What the schema shows as an example is accepted by it and by the reader."""
    for example in schema()["examples"]:
        jsonschema.Draft202012Validator(schema()).validate(example)
        check_facts(example["facts"])
