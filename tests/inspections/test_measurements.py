"""A trace measured over HTTP: the library's own answer, and nothing of it is kept."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

import rules
from inspections.models import Reading, Visit
from rules.shapes import schema
from tests.cast import Cast
from tests.clients import client_of

TRACES = {
    f"{name}-{n}": example
    for name, shape in schema("trace")["$defs"].items()
    for n, example in enumerate(shape.get("examples", []))
    if isinstance(example, dict) and "kind" in example
}
KINDS = set(schema("trace")["properties"]["kind"]["enum"])


def test_every_kind_has_an_example() -> None:
    """None is left out below."""
    assert {trace["kind"] for trace in TRACES.values()} == KINDS


@pytest.mark.parametrize("name", TRACES)
def test_it_answers_what_the_library_answers(cast: Cast, name: str) -> None:
    """Of each kind, for whoever has a key: no more and no less than `measure`."""
    answer = client_of(cast.firm).post("/v1/measurements", {"trace": TRACES[name]})
    assert answer.status_code == 200, answer.json()
    assert answer.json() == {
        "library_version": rules.__version__,
        "measurement": rules.measure(TRACES[name]),
    }


def test_nothing_is_written(cast: Cast) -> None:
    """Neither a visit nor a reading, nor any line of a ledger: no row is inserted at all."""
    client = client_of(cast.firm)
    client.get("/v1/me")  # so that the use of the key has been noted
    with CaptureQueriesContext(connection) as queries:
        answer = client.post("/v1/measurements", {"trace": TRACES["stopwatch-0"]})
    assert answer.status_code == 200
    assert not [q["sql"] for q in queries if q["sql"].startswith("INSERT")]
    assert not Visit._base_manager.exists()
    assert not Reading._base_manager.exists()


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"kind": "weather"}, "/trace/kind"),
        ({"times": []}, "/trace/times"),
        ({"times": ["14.4", "-1"]}, "/trace/times/1"),
        ({"unit": "lbf"}, "/trace/unit"),
        ({"times": ["NaN"]}, "/trace/times/0"),
        ({"colour": "red"}, "/trace/colour"),
    ],
)
def test_what_is_no_trace_is_refused_with_its_place(
    cast: Cast, changed: dict[str, Any], pointer: str
) -> None:
    """A pointer into the body, as everywhere."""
    trace = TRACES["stopwatch-0"] | changed
    answer = client_of(cast.firm).post("/v1/measurements", {"trace": trace})
    assert answer.status_code in {400, 422}
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_a_number_with_a_fraction_is_written_as_text(cast: Cast) -> None:
    """As in a visit, so that a trace tried here can be sent there."""
    sent = '{"trace": {"kind": "stopwatch", "times": [14.4], "unit": "s"}}'
    answer = client_of(cast.firm).generic(
        "POST", "/v1/measurements", sent, content_type="application/json"
    )
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == ["/trace/times/0"]


def test_it_has_a_budget_of_its_own(cast: Cast) -> None:
    """Who measures much is not kept from recording."""
    answer = client_of(cast.firm).post("/v1/measurements", {"trace": TRACES["stopwatch-0"]})
    assert '"measurements"' in answer["RateLimit-Policy"]
    assert '"key"' not in answer["RateLimit-Policy"]
