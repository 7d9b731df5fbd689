"""Every field that can be written, with every value of the corpus: told, or kept as it was sent.

`LONG=1` sends all of them, else a sample by a fixed seed.
"""

from __future__ import annotations

import copy
import json
import os
import random
import unicodedata
from collections.abc import Iterator
from datetime import datetime
from typing import Any, NamedTuple

import pytest
from rest_framework.test import APIClient

from config.http.examples import EXAMPLES
from tests.journeys.corpus import literals
from tests.journeys.test_contract import (
    AS,
    BEFORE,
    DOCUMENT,
    OPERATIONS,
    Ids,
    Operation,
    callers,  # noqa: F401 (a fixture)
    mistakes,
    undone,
    with_ids,
)
from tests.walls.test_other_tenants import stage  # noqa: F401 (a fixture)

SAMPLE = 400
HERE = "@@HERE@@"
MOST_DEEP = 4
WRITER = {
    "draft_override": "authority",
    "file_submittal": "firm",
    "add_photo": "firm",
    "withdraw_reported_visit": "firm",
}

# Where in the answer stands what was sent, if the answer is the thing that it hangs on.
HANGS = {"record_interim_measure": "interim_measures", "record_repair": "repairs"}


class Field(NamedTuple):
    """A place in the body of an operation."""

    operation: Operation
    at: tuple[str, ...]

    @property
    def pointer(self) -> str:
        """Return it as in a problem."""
        return "/" + "/".join(self.at)


def resolved(schema: dict[str, Any]) -> dict[str, Any]:
    """Return a schema with its reference followed."""
    while True:
        if len(schema.get("allOf", ())) == 1:
            schema = schema["allOf"][0]
        if "$ref" not in schema:
            return schema
        found: Any = DOCUMENT
        for part in schema["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        schema = found


def places(schema: dict[str, Any], at: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield every place that a body of this schema has, lists by their first item."""
    schema = resolved(schema)
    if at:
        yield at
    if len(at) >= MOST_DEEP:
        return
    for name, inner in schema.get("properties", {}).items():
        yield from places(inner, (*at, name))
    if "items" in schema:
        yield from places(schema["items"], (*at, "0"))


def fields() -> list[Field]:
    """Return every field of every body that the document describes."""
    found = []
    for operation in OPERATIONS:
        content = operation.described.get("requestBody", {}).get("content", {})
        if "application/json" in content:
            schema = content["application/json"]["schema"]
            found += [Field(operation, at) for at in places(schema)]
    return found


def placed(body: Any, at: tuple[str, ...]) -> Any:  # noqa: ANN401 (any JSON)
    """Return `body` with the mark at a place, made where it is not there."""
    body = copy.deepcopy(body)
    here = body
    for part, following in zip(at, (*at[1:], None), strict=True):
        value: Any = HERE if following is None else [] if following == "0" else {}
        if isinstance(here, list):
            if not here:
                here.append(value)
            key: Any = 0
        else:
            key = part
            here.setdefault(part, value)
        if following is None or not isinstance(here[key], dict | list):
            here[key] = value
        here = here[key]
    return body


def kept_as_sent(sent: Any, told: Any) -> bool:  # noqa: ANN401 (any JSON)
    """Whether an answer holds what was sent: exactly, but for a text's normal form and a zone."""
    if sent == told or (sent is None and told in ("", [], {})):
        return type(sent) is type(told) or sent is None
    if not isinstance(sent, str) or not isinstance(told, str):
        return False
    if unicodedata.normalize("NFC", sent) == told or sent.lower() == told:
        return True
    try:
        return datetime.fromisoformat(sent) == datetime.fromisoformat(told)
    except ValueError:
        return False


def found_at(answer: Any, at: tuple[str, ...]) -> list[Any]:  # noqa: ANN401 (any JSON)
    """Return what stands at a place of an answer; nothing where there is no such place."""
    for part in at:
        if isinstance(answer, list) and answer:
            answer = answer[0]
        elif isinstance(answer, dict) and part in answer:
            answer = answer[part]
        else:
            return []
    return [answer]


def changed_silently(field: Field, literal: str, answer: Any) -> str:  # noqa: ANN401 (any JSON)
    """Return how an accepted value reads otherwise than it was sent; empty where it does not. Of
    what hangs on the thing answered, one of them was sent.
    """
    if (hangs := HANGS.get(field.operation.id)) is None:
        return _otherwise(field, literal, answer)
    found = [_otherwise(field, literal, each) for each in answer[hangs]]
    return "" if "" in found else "; ".join(found)


def _otherwise(field: Field, literal: str, answer: Any) -> str:  # noqa: ANN401 (any JSON)
    sent = json.loads(literal)
    for within in (answer, answer.get("findings", {}), answer.get("data", {})):
        for told in found_at(within, field.at):
            if not isinstance(told, dict | list) and not kept_as_sent(sent, told):
                return f"sent {literal[:80]}, reads {told!r}"
    return ""


def cases() -> list[tuple[Field, str]]:
    """Return what is sent: everything, or a sample that is always the same."""
    every = [(field, literal) for field in fields() for literal in literals()]
    if os.environ.get("LONG") == "1":
        return every
    return random.Random(20_260_301).sample(every, SAMPLE)


def test_the_corpus_and_the_fields_are_what_they_should_be() -> None:
    """Three hundred values or more, none twice; every body has its fields."""
    values = list(literals())
    assert len(values) == len(set(values)) >= 300
    assert len(fields()) >= 100
    assert {field.operation.id for field in fields()} == set(EXAMPLES)


def test_every_field_refuses_or_keeps_what_it_is_sent(
    callers: tuple[dict[str, APIClient], Ids],  # noqa: F811 (the fixture)
) -> None:
    """No failure, no undocumented answer, no silent change."""
    clients, ids = callers
    wrong, accepted = [], 0
    for field, literal in cases():
        operation = field.operation
        body = placed(with_ids(EXAMPLES[operation.id], ids), field.at)
        text = json.dumps(body).replace(json.dumps(HERE), literal)
        answer = _sent(clients[WRITER.get(operation.id, "owner")], operation, ids, text)
        found = "; ".join(mistakes(operation, answer))
        if not found and 200 <= answer.status_code < 300 and answer.content:
            accepted += 1
            found = changed_silently(field, literal, json.loads(answer.content))
        if found:
            wrong.append(f"{operation.id} {field.pointer} {literal[:60]}: {found[:300]}")
    print(f"{len(cases())} values sent, {accepted} accepted, {len(wrong)} wrong")  # noqa: T201
    assert not wrong, "\n".join(wrong)


def _sent(client: APIClient, operation: Operation, ids: Ids, text: str) -> Any:  # noqa: ANN401
    instead = {part: ids[name] for part, name in AS.get(operation.id, {}).items()}
    address = operation.path.format(**ids | instead)
    headers = {"Idempotency-Key": "k", "If-Match": "*"}
    with undone():
        if (first := BEFORE.get(operation.id)) is not None:
            client.post(first.format(**ids))
        return client.generic(
            operation.method.upper(),
            address,
            text,
            content_type="application/json",
            headers=headers,
        )


pytestmark = pytest.mark.slow
