"""The schemas of traces and histories say what the code takes."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from rules import measure
from rules.errors import InputError
from rules.history import MAX_HISTORY, Event, read_history
from rules.measurement import (
    battery,
    egress_width,
    force,
    samples,
    series,
    standby,
    stopwatch,
    travel,
)
from rules.measurement.fields import COMMON
from rules.quantities import UNITS, Dimension
from rules.shapes import schema
from rules.vocabulary import Activity

TRACE, HISTORY = schema("trace"), schema("history")
FIELDS = {
    "travel": travel.FIELDS,
    "force": force.FIELDS,
    "battery": battery.FIELDS,
    "series": series.FIELDS,
    "stopwatch": stopwatch.FIELDS,
    "egress_width": egress_width.FIELDS,
    "standby": standby.FIELDS,
}
EXAMPLES = [example for kind in FIELDS for example in TRACE["$defs"][kind]["examples"]]


def valid(document: object) -> bool:
    """Whether the trace schema takes the document."""
    return Draft202012Validator(TRACE).is_valid(document)


@pytest.mark.parametrize("document", [TRACE, HISTORY])
def test_is_a_schema_of_the_draft_it_names(document: dict) -> None:
    """JSON Schema, draft 2020-12."""
    assert document["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(document)


@pytest.mark.parametrize("kind", FIELDS)
def test_the_fields_of_each_kind_are_those_the_code_knows(kind: str) -> None:
    """Nothing is documented that is refused, nothing taken that is not documented."""
    assert set(TRACE["$defs"][kind]["properties"]) == FIELDS[kind] | COMMON
    assert TRACE["properties"]["kind"]["enum"] == list(FIELDS)


def test_units_and_greatest_lengths_are_those_of_the_code() -> None:
    """Each dimension's units, and how many samples, points, times and loads are read."""
    for dimension in ("force", "length", "time", "voltage", "charge", "current"):
        units = [u.symbol for u in UNITS.values() if u.dimension is Dimension(dimension)]
        assert TRACE["$defs"][f"{dimension}_unit"]["enum"] == units
    of = {kind: TRACE["$defs"][kind]["properties"] for kind in FIELDS}
    for kind in ("travel", "force", "battery"):
        assert of[kind]["samples"]["maxItems"] == samples.MAX_SAMPLES
    assert of["series"]["points"]["maxItems"] == series.MAX_POINTS
    assert of["stopwatch"]["times"]["maxItems"] == stopwatch.MAX_TIMES
    assert of["standby"]["loads"]["maxItems"] == standby.MAX_LOADS
    assert of["standby"]["factors"]["maxItems"] == standby.MAX_FACTORS
    assert HISTORY["maxItems"] == MAX_HISTORY


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["kind"])
def test_examples_are_valid_and_measured(example: dict) -> None:
    """Every example is one: the schema takes it and the code answers."""
    assert valid(example)
    assert measure(example)["kind"] == example["kind"]


def test_numbers_may_be_numbers_or_texts() -> None:
    """The same trace in JSON numbers is valid and gives the same answer."""
    example = EXAMPLES[0]
    rows = [[float(time), float(position)] for time, position in example["samples"]]
    assert valid({**example, "samples": rows})
    assert measure({**example, "samples": rows}) == measure(example)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["kind"])
def test_what_the_schema_refuses_the_code_refuses(example: dict) -> None:
    """An unknown field, and any needed field left out."""
    needed = TRACE["$defs"][example["kind"]]["required"]
    shorter = [{key: value for key, value in example.items() if key != field} for field in needed]
    for document in [{**example, "colour": "red"}, *shorter]:
        assert not valid(document)
        with pytest.raises(InputError):
            measure(document)


def test_the_history_schema_says_what_the_code_reads() -> None:
    """Its words are the code's, its examples are read."""
    visit = HISTORY["$defs"]["visit"]["properties"]
    assert visit["activity"]["enum"] == list(Activity)
    assert HISTORY["$defs"]["event"]["properties"]["event"]["enum"] == list(Event)
    for example in HISTORY["examples"]:
        assert Draft202012Validator(HISTORY).is_valid(example)
        assert read_history(example).visits
    mistakes: list[Any] = [[{"activity": "quarterly", "on": "2026-01-01"}], [{"on": "x"}], {}]
    for wrong in mistakes:
        assert not Draft202012Validator(HISTORY).is_valid(wrong)
        with pytest.raises(InputError):
            read_history(json.loads(json.dumps(wrong)))


HOSTILE: list[Any] = [
    *(None, True, 0, -1, 10**40, 1e-300, 1e300, float("nan"), float("-inf")),
    *("", "0", "-1", "1e30", "1e-30", "1e999", "NaN", "9" * 5000, "\x00", "lbf", "9999-12-31"),
    *([], {}, [[]], [None, None], [["1", "2"]], {"value": "1", "unit": "in"}, {"value": []}),
    *(Decimal("NaN"), Decimal("-Infinity"), Decimal("1E+5000"), Decimal("-0")),
]


def places(document: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a document, the whole first."""
    inside: list[tuple[Any, object]] = []
    if isinstance(document, dict):
        inside = list(document.items())
    elif isinstance(document, list):
        inside = list(enumerate(document))
    return [path, *(place for key, value in inside for place in places(value, (*path, key)))]


def changed(document: Any, path: tuple[Any, ...], value: object) -> Any:  # noqa: ANN401 - JSON
    """A copy of the document with another value at one place."""
    if not path:
        return value
    copy = document.copy()
    copy[path[0]] = changed(document[path[0]], path[1:], value)
    return copy


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_a_hostile_value_anywhere_is_an_answer_or_a_refusal(data: st.DataObject) -> None:
    """Never another error, whatever stands at whatever place, and never NaN in an answer."""
    example = data.draw(st.sampled_from(EXAMPLES))
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(places(example)))
        example = changed(example, path, data.draw(st.sampled_from(HOSTILE)))
    try:
        answer = measure(example)
    except InputError:
        return
    json.dumps(answer, allow_nan=False)
