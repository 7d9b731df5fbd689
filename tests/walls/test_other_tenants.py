"""Every operation with every caller and every place an id can stand: what is another's was never.

The table is in `calls.py`, the world in `world.py`. On PostgreSQL all of it is sent as the
runtime role, through a pooler with one connection where a PgBouncer is there.
"""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple
from uuid import UUID, uuid4

import pytest
from django.db import connection, transaction
from django.http.response import HttpResponseBase
from django.test import override_settings
from drf_spectacular.generators import SchemaGenerator
from pytest_django import DjangoDbBlocker
from pytest_django.fixtures import Settings
from rest_framework.test import APIClient

from tests.cast import Cast, assemble
from tests.clients import client_of
from tests.walls.calls import CALLS, NOTHING_OF_ANOTHERS, WITH_A_KEY, WITHOUT, Call, Json
from tests.walls.conftest import Pooled
from tests.walls.world import World, fill, people

pytestmark = pytest.mark.django_db  # else a run of these alone is given no database
CANARY = secrets.token_hex(16)
# Of an answer what differs from one request to the next, whatever is asked.
OF_THE_REQUEST = re.compile(r"x-request-id|date|ratelimit.*|retry-after", re.IGNORECASE)
PLACED = re.compile(r"\{(\w+)\}")


@pytest.fixture(scope="module")
def world(django_db_blocker: DjangoDbBlocker, pooled: Pooled) -> Iterator[World]:
    """The owner's world and everybody who calls, made once; each call is undone."""
    with (
        django_db_blocker.unblock(),
        override_settings(WEBHOOKS_TO_LOOPBACK=True),
        pooled(),
        transaction.atomic(),
    ):
        made = people(assemble(CANARY))
        yield made
        transaction.set_rollback(True)


@pytest.fixture
def stage(cast: Cast, settings: Settings) -> tuple[dict[str, APIClient], dict[str, UUID]]:
    """A client for each of the cast, and the ids of what belongs to the owner's site."""
    settings.WEBHOOKS_TO_LOOPBACK = True
    ids = fill(cast)
    names = ("owner", "firm", "authority", "neighbour", "stranger")
    return {name: client_of(getattr(cast, name)) for name in names}, ids


def filled(template: Json, values: Mapping[str, Any]) -> Json:
    """The template with everything in braces put in."""
    if isinstance(template, str):
        return PLACED.sub(lambda found: str(values[found[1]]), template)
    if isinstance(template, Mapping):
        return {name: filled(value, values) for name, value in template.items()}
    if isinstance(template, list):
        return [filled(value, values) for value in template]
    return template


def never(things: Mapping[str, Any]) -> dict[str, str]:
    """Names of things that never were, of the same shapes."""
    return {
        name: str(uuid4()) if isinstance(thing, UUID) else secrets.token_hex(32)
        for name, thing in things.items()
    }


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    content: str

    @property
    def said(self) -> str:
        """Body and headers."""
        return self.content + json.dumps(self.headers)


def send(world: World, call: Call, who: str, values: Mapping[str, Any]) -> Answer:
    """Send it, read all of the answer, and undo what it did."""
    values = {**world.plain, **values}
    with transaction.atomic():
        answer: HttpResponseBase = world.clients[who].generic(
            call.method,
            filled(call.address, values),
            "" if call.body is None else json.dumps(filled(call.body, values)),
            content_type="application/json",
            **filled(call.headers, values),
        )
        content = answer.getvalue()
        transaction.set_rollback(True)
    return Answer(answer.status_code, dict(answer.items()), content.decode(errors="replace"))


def names_a_thing(call: Call) -> bool:
    """Whether anything of the owner's stands anywhere in it."""
    return bool(PLACED.search(json.dumps([call.address, call.body, dict(call.headers)])))


def told(answer: Answer, values: Mapping[str, Any]) -> tuple[int, Any, Any]:
    """Status, headers and body, but for what is each request's own; ids by their names."""
    headers = {n: v for n, v in answer.headers.items() if not OF_THE_REQUEST.fullmatch(n)}
    text = json.dumps([headers, answer.content])
    for name, value in values.items():
        text = text.replace(str(value), f"{{{name}}}")
    return answer.status, *json.loads(re.sub(r"urn:uuid:[0-9a-f-]{36}", "", text))


@pytest.mark.parametrize("call", CALLS, ids=str)
def test_only_those_who_may(
    world: World, call: Call, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    """Rightful access first; for all others it is as if it had never been, and no canary is in
    any body, header or log.
    """
    rightful = {who: send(world, call, who, world.things) for who in call.may}
    found = {who: answer.status for who, answer in rightful.items()}
    assert (str(call), found) == (str(call), dict(call.may)), {
        who: answer.content[:300] for who, answer in rightful.items() if found != call.may
    }
    others = [w for w in call.only or (*WITH_A_KEY, *WITHOUT) if w not in call.may]
    wrong = {who: why for who in others if (why := _leaks(world, call, who))}
    assert (str(call), wrong) == (str(call), {})
    said = capfd.readouterr()
    assert CANARY not in said.out + said.err + caplog.text


def _leaks(world: World, call: Call, who: str) -> object:
    """What is wrong with the answer to somebody who may not; nothing where all is well."""
    answer = send(world, call, who, world.things)
    if CANARY in answer.said:
        return "the canary"
    if call.anybody:
        return answer.status if answer.status != 200 else None
    if who in WITHOUT:
        return answer.status if answer.status != 401 else None
    if answer.status >= 500:
        return answer.status
    if not names_a_thing(call):
        return None
    absent = never(world.things)
    expected = told(send(world, call, who, absent), absent)
    given = told(answer, world.things)
    return (given, expected) if given != expected else None


def test_rightful_answers_bear_the_canary(world: World) -> None:
    """Else its absence from others' would show nothing."""
    for address in ("/v1/sites", "/v1/openings", "/v1/duties/calendar", "/v1/sites/{site}"):
        answer = send(world, Call("GET", address), "owner", world.things)
        assert CANARY in answer.content, address


def test_every_operation_succeeds_for_somebody() -> None:
    """A refusal shows nothing where nobody is let in."""
    known = set(_places())
    let_in = {
        _operation(call.method, call.address.partition("?")[0], known)
        for call in CALLS
        if call.anybody or any(status < 300 for status in call.may.values())
    }
    assert {place for place in known if place.count(" ") == 1} - let_in == NOTHING_OF_ANOTHERS


def test_every_operation_and_every_place_has_a_row() -> None:
    """Path, query and body, as the document has them; a new one without a row fails here."""
    places = set(_places())
    covered = set(NOTHING_OF_ANOTHERS)
    for call in CALLS:
        path, _, query = call.address.partition("?")
        operation = _operation(call.method, path, places)
        covered.add(operation)
        covered |= {f"{operation} ?{part.split('=')[0]}" for part in query.split("&") if part}
        covered |= {f"{operation} {pointer}" for pointer in _filled_places(call.body)}
    assert places - covered == set()
    operations = {p for p in places if p.count(" ") == 1}
    assert {c for c in covered if c.count(" ") == 1} == operations


def _operation(method: str, path: str, known: set[str]) -> str:
    """The document's name of what an address of the table calls."""
    fits = [
        name
        for name in known
        if name.count(" ") == 1
        and name.startswith(f"{method} ")
        and _same(name.split(" ")[1], path)
    ]
    exact = [name for name in fits if name.split(" ")[1] == path]
    assert exact or fits, f"no operation {method} {path}"
    return (exact or sorted(fits, key=lambda n: (n.count("{"), _unlike(n, path))))[0]


def _same(documented: str, path: str) -> bool:
    one, other = documented.split("/"), path.split("/")
    return len(one) == len(other) and all(
        a == b or a.startswith("{") for a, b in zip(one, other, strict=True)
    )


def _unlike(name: str, path: str) -> bool:
    """Of two operations at one place, the one whose parameter is called otherwise comes last."""
    parts = zip(name.split(" ")[1].split("/"), path.split("/"), strict=True)
    return any(a != b and a.strip("{}").split("_")[0] not in b for a, b in parts)


def _places() -> Iterator[str]:
    """Every operation of the document, and every place of it in which an id can stand."""
    document = SchemaGenerator().get_schema(request=None, public=True)
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            name = f"{method.upper()} {path}"
            yield name
            for given in operation.get("parameters", []):
                if given["in"] == "query" and given["schema"].get("format") == "uuid":
                    yield f"{name} ?{given['name']}"
            for content in operation.get("requestBody", {}).get("content", {}).values():
                for pointer in _ids(content["schema"], document, ""):
                    yield f"{name} {pointer}"


def _ids(schema: Json, document: Json, pointer: str) -> Iterator[str]:
    """JSON Pointers to what is an id, a list's item as `0`."""
    while "$ref" in schema:
        named = document["components"]["schemas"].get(schema["$ref"].split("/")[-1])
        if named is None:
            return  # the rules library's own, which names nothing of a tenant
        schema = named
    if schema.get("format") == "uuid":
        yield pointer
    for name, inner in schema.get("properties", {}).items():
        yield from _ids(inner, document, f"{pointer}/{name}")
    if isinstance(schema.get("items"), Mapping):
        yield from _ids(schema["items"], document, f"{pointer}/0")


def _filled_places(body: Json, pointer: str = "") -> Iterator[str]:
    if isinstance(body, str) and PLACED.search(body):
        yield pointer
    if isinstance(body, Mapping):
        for name, value in body.items():
            yield from _filled_places(value, f"{pointer}/{name}")
    if isinstance(body, list):
        for value in body[:1]:
            yield from _filled_places(value, f"{pointer}/0")


@pytest.mark.parametrize("address", ["/v1/sites", "/v1/visits", "/v1/me", "/v1/submittals/changes"])
@pytest.mark.parametrize("credentials", ["", "Bearer", "Bearer nonsense", "Basic eDp5"])
def test_without_a_key_there_is_nothing(db: None, address: str, credentials: str) -> None:
    """401 with the scheme, whatever is asked for."""
    client = APIClient()
    if credentials:
        client.credentials(HTTP_AUTHORIZATION=credentials)
    answer = client.get(address)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.postgres
def test_all_of_this_is_sent_as_the_runtime_role(world: World) -> None:
    """Through a pooler nobody has been anybody else before."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user")
        assert cursor.fetchone() == (False, False)
