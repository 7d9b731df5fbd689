"""The document against the running service: every example, and thousands of bodies of its shapes.

`LONG=1` asks each operation as each kind of caller a hundred times, else three.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, NamedTuple
from urllib.parse import quote
from uuid import UUID, uuid4

import pytest
import schemathesis
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from hypothesis import HealthCheck, Phase, given, seed
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from rest_framework.test import APIClient

from config.http.examples import EXAMPLES, NAMED
from doors.services.jobs import run_waiting_jobs
from doors.tenancy import acting_for
from inspections.services.owings import expand_waiting_owings
from inspections.services.sandboxes import make_sandbox
from inspections.services.submittals import ask_for_submittal
from tests.cast import TOWN, Cast
from tests.clients import client_of
from tests.config.test_schema import METHODS
from tests.doors.callers import Answer, caller
from tests.doors.pictures import png
from tests.walls.test_other_tenants import stage  # noqa: F401 (a fixture)

TIMES = 100 if os.environ.get("LONG") == "1" else 3
KINDS = ("owner", "firm", "authority", "neighbour", "reader")
# What must have happened before an operation can succeed here.
BEFORE = {"offer_custody": "/v1/custody-offers/{offer_id}/withdrawal"}
# What is no JSON is sent as it is.
FILES = {"keep_blob": ("name,floor\nA-1,1\n", "text/csv")}
# Of which thing an operation can succeed here, where it is not the usual one.
AS = {
    "file_submittal": {"submittal_id": "unfiled"},
    "make_door_fail": {"sandbox_id": "town"},
    "plot_trace": {"visit_id": "drawn_visit_id"},
    "withdraw_import": {"import_id": "taken_import_id"},
    "verify_file": {"sha256": "file_sha256"},
}
# What must be asked beside the address.
QUERIES = {"read_visit_plan": "activity=operation_test"}
Ids = dict[str, Any]


class Operation(NamedTuple):
    """One operation of the document."""

    path: str
    method: str
    described: dict[str, Any]

    @property
    def id(self) -> str:
        """Its id in the document."""
        return str(self.described["operationId"])


def document() -> dict[str, Any]:
    """Return the document as it is served."""
    served: dict[str, Any] = json.loads(Client().get("/openapi.json").content)
    return served


DOCUMENT = document()
OPERATIONS = [
    Operation(path, method, item[method])
    for path, item in sorted(DOCUMENT["paths"].items())
    for method in sorted(METHODS & set(item))
]


@pytest.fixture
def callers(
    stage: tuple[dict[str, APIClient], dict[str, UUID]],  # noqa: F811 (the fixture)
    cast: Cast,
) -> tuple[dict[str, APIClient], Ids]:
    """A client of each kind of key, and an id for each part of an address."""
    clients, ids = stage
    expand_waiting_owings()
    reader = caller("Wick Insurance", capabilities=["reader"], scopes=[])
    clients["reader"] = client_of(reader.organization)
    found = clients["firm"].get(f"/v1/submittals/{ids['submittal']}").json()
    named: Ids = {f"{name}_id": id_ for name, id_ in ids.items()}
    with acting_for(cast.firm.id, write=True):
        job = ask_for_submittal(site_id=cast.site.id)
    run_waiting_jobs()
    named["unfiled"] = clients["firm"].get(f"/v1/jobs/{job.id}").json()["result"]["submittal"]
    named |= {"code": TOWN, "file_sha256": found["file_sha256"], "sha256": ids["sha256"]}
    named |= {"table_sha256": ids["table_sha256"], "kind": "openings"}
    named["quantity"] = "set_in_motion_force"
    named["photo_sha256"] = _picture(clients["firm"])
    named["claim_token"] = _invitation(clients["firm"])
    named |= {"site": cast.site.id, "opening": cast.opening.id, "deficiency": ids["deficiency"]}
    named |= {"index": 0, "code_id": ids["door_code"]}
    with acting_for(cast.owner.id, write=True):
        named["town"] = make_sandbox(name="Trial")[0].id
    named["webhook_url"] = "http://127.0.0.1:9/hooks"
    named["lately"] = datetime.now(UTC).isoformat()
    named |= {"stranger": cast.stranger.id, "neighbour": cast.neighbour.id}
    named["person"] = ids["person"]
    return clients, named


def _picture(client: APIClient) -> str:
    """Keep a picture of its own, and return its digest."""
    content: Any = png((8, 8))  # the framework's types know text alone
    kept = client.generic("POST", "/v1/blobs", content, content_type="image/png")
    return str(kept.json()["sha256"])


def _invitation(client: APIClient) -> str:
    """Make an owner, invite somebody to claim it, and return the token."""
    owner = client.post("/v1/organizations", {"reference": "here", "name": "Not here yet"}).json()
    sent = {"email": "somebody@mill.example"}
    return str(client.post(f"/v1/organizations/{owner['id']}/invitations", sent).json()["token"])


@contextmanager
def undone() -> Iterator[None]:
    """Leave nothing of what is done within, so that operations do not meet."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def send(client: APIClient, operation: Operation, ids: Ids, **sent: Any) -> Answer:
    """Ask for an operation, on the things that `ids` name."""
    address = operation.path.format(
        **ids | {a: ids[b] for a, b in AS.get(operation.id, {}).items()}
    )
    if sent.get("query"):
        address += "?" + sent["query"]
    headers = {"Idempotency-Key": uuid4().hex, "If-Match": "*"} | sent.get("headers", {})
    body = sent.get("body")
    text = "" if body is None else json.dumps(body)
    with undone():
        if (first := BEFORE.get(operation.id)) is not None:
            client.post(first.format(**ids))
        method = operation.method.upper()
        content, kind = FILES.get(operation.id, (text, "application/json"))
        answer = client.generic(method, address, content, content_type=kind, headers=headers)
        return _whole(answer) if answer.streaming else answer


def _whole(answer: Answer) -> Answer:
    """Return an answer that comes in pieces as one."""
    content = b"".join(answer.streaming_content)
    return HttpResponse(content, status=answer.status_code, headers=dict(answer.items()))


def mistakes(operation: Operation, answer: Answer) -> list[str]:
    """Return how an answer breaks what the document says of it."""
    found = operation.described["responses"].get(str(answer.status_code))
    if answer.status_code >= 500 or found is None:
        return [f"{answer.status_code}: {answer.content[:300]!r}"]
    if "$ref" in found:
        found = DOCUMENT["components"]["responses"][found["$ref"].rpartition("/")[2]]
    kind = answer.headers.get("Content-Type", "").partition(";")[0]
    if not answer.content:
        return []
    if kind not in found.get("content", {}):
        return [f"{answer.status_code} is {kind}, said to be {sorted(found.get('content', {}))}"]
    schema = found["content"][kind].get("schema", {})
    if not kind.endswith("json") or answer.status_code == 304:
        return []
    whole = {**schema, "components": DOCUMENT["components"]}
    errors = Draft202012Validator(whole).iter_errors(json.loads(answer.content))
    return [f"{each.json_path}: {each.message[:200]}" for each in errors]


def with_ids(value: object, ids: Ids) -> object:
    """Return an example with the ids of things that stand."""
    text = json.dumps(value)
    for name, example in NAMED.items():
        text = text.replace(example, str(ids[name]))
    return json.loads(text)


def test_every_body_has_its_example() -> None:
    """And none is left over."""
    with_body = {
        each.id
        for each in OPERATIONS
        if any(
            kind.endswith("json")
            for kind in each.described.get("requestBody", {}).get("content", {})
        )
    }
    assert with_body == set(EXAMPLES)


def test_every_operation_is_reached_and_answers_as_described(
    callers: tuple[dict[str, APIClient], Ids],
) -> None:
    """With its example, by some kind of key: success, in the shape that the document says."""
    clients, ids = callers
    wrong = {}
    for operation in OPERATIONS:
        told = []
        for kind in KINDS:
            body = with_ids(EXAMPLES.get(operation.id), ids)
            asked = QUERIES.get(operation.id)
            answer = send(clients[kind], operation, ids, body=body, query=asked)
            found = mistakes(operation, answer)
            said = answer.content[:150]
            told.append((kind, answer.status_code, found or said))
            if found or 200 <= answer.status_code < 300:
                break
        if found or not 200 <= answer.status_code < 300:
            wrong[operation.id] = told
    assert not wrong, json.dumps(wrong, indent=1, default=str)


SCHEMA = schemathesis.openapi.from_dict(DOCUMENT)


def test_whatever_is_sent_is_answered_as_described(
    callers: tuple[dict[str, APIClient], Ids],
) -> None:
    """Bodies and queries made of the schema, right and wrong, as each kind of key."""
    wrong: dict[str, str] = {}
    for operation in OPERATIONS:
        try:
            _ask_anything(operation, *callers)
        except AssertionError as error:
            wrong[operation.id] = str(error)[:1_000]
    assert not wrong, json.dumps(wrong, indent=1)


def _ask_anything(operation: Operation, clients: dict[str, APIClient], ids: Ids) -> None:
    cases = SCHEMA[operation.path][operation.method.upper()].as_strategy()

    @seed(20_260_301)
    @hypothesis_settings(
        max_examples=TIMES,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=cases, kind=st.sampled_from(KINDS), real=st.booleans())
    def holds(case: schemathesis.Case, kind: str, real: bool) -> None:  # noqa: FBT001 (it is drawn)
        named = ids if real else ids | (case.path_parameters or {})
        body = case.body if isinstance(case.body, dict | list) else None
        query = "&".join(f"{name}={value}" for name, value in _flat(case.query or {}))
        answer = send(clients[kind], operation, _safe(named), body=body, query=query)
        found = mistakes(operation, answer)
        assert not found, f"{found} as {kind}: {body} ?{query}"

    holds()


def _flat(params: Mapping[str, Any]) -> Iterator[tuple[str, str]]:

    for name, value in params.items():
        for each in value if isinstance(value, list) else [value]:
            yield quote(str(name)), quote(str(each))


def _safe(ids: Ids) -> Ids:

    return {name: quote(str(value), safe="") or "x" for name, value in ids.items()}
