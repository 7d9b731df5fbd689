"""The OpenAPI document: valid, complete, and about this service alone."""

import json
import re
from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.test.utils import override_settings
from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.generators import SchemaGenerator
from openapi_spec_validator import validate

from config.http.library import shipped
from doors.api.base import PublicView, TenantView
from doors.api.problems import PROBLEMS
from rules.shapes import schema

# What the assembly answers itself: for people and for the platform, not for integrators.
BESIDE_THE_API = {
    "/docs",
    "/docs/guide",
    "/docs/problems",
    "/livez",
    "/metrics",
    "/openapi.json",
    "/readyz",
}
METHODS = {"get", "post", "put", "patch", "delete"}


def routes(
    patterns: list[URLPattern | URLResolver], prefix: str = "/"
) -> Iterator[tuple[str, Any]]:
    """Yield every address of the URL table, written as OpenAPI does, with its view class."""
    for pattern in patterns:
        path = prefix + re.sub(
            r"<(?:\w+:)?(\w+)>|\^?\(\?P<(\w+)>[^)]*\)\$?",
            lambda found: "{" + (found[1] or found[2]) + "}",
            str(pattern.pattern),
        ).replace("^", "").replace("$", "")
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns, path)
        else:
            yield (
                path,
                getattr(pattern.callback, "view_class", getattr(pattern.callback, "cls", None)),
            )


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    """The document as it is served."""
    served: dict[str, Any] = json.loads(Client().get("/openapi.json").content)
    return served


def operations(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each operation with its method and path."""
    for path, item in document["paths"].items():
        for method in METHODS & set(item):
            yield f"{method.upper()} {path}", item[method]


def test_the_document_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    """A validator that did not write it agrees."""
    assert document["openapi"] == "3.1.0"
    validate(document)


def test_nothing_had_to_be_guessed() -> None:
    """Each view and field says what it is; the generator warns of none."""
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=StringIO())


def test_the_document_and_the_url_table_are_one_list(document: dict[str, Any]) -> None:
    """No address is undocumented, and none is documented that does not exist."""
    table = {path for path, _ in routes(get_resolver().url_patterns)}
    assert {path for path in table if path.startswith("/v1/")} == set(document["paths"])
    assert table >= BESIDE_THE_API


def test_each_method_an_address_takes_is_documented(document: dict[str, Any]) -> None:
    """What a view answers and what the document says of its address are the same methods."""
    for path, view in routes(get_resolver().url_patterns):
        if path.startswith("/v1/"):
            answered = {method for method in METHODS if hasattr(view, method)}
            assert answered == METHODS & set(document["paths"][path]), path


def test_each_address_of_the_api_stands_behind_the_wall() -> None:
    """Every view is a TenantView with its scope, or plainly takes no key."""
    for path, view in routes(get_resolver().url_patterns):
        if path.startswith("/v1/"):
            walled = issubclass(view, TenantView) and view.scope
            assert walled or issubclass(view, PublicView), path


def test_each_operation_says_what_it_does_and_how_it_fails(document: dict[str, Any]) -> None:
    """A summary, an id of its own, and a problem for every error status."""
    found = dict(operations(document))
    ids = [operation["operationId"] for operation in found.values()]
    assert len(ids) == len(set(ids))
    for name, operation in found.items():
        assert operation["summary"], name
        expected = {"400", "406", "500", "503"}
        if "security" in operation:
            expected |= {"401", "403"}
        assert set(operation["responses"]) >= expected, name
        for status, response in operation["responses"].items():
            if status >= "4":
                assert response == {"$ref": f"#/components/responses/Problem{status}"}, name


def test_every_field_and_parameter_is_described(document: dict[str, Any]) -> None:
    """What it means, and its unit; the library's own schemas describe themselves."""
    schemas = document["components"]["schemas"].items()
    bare = [
        f"{name}.{field}: give it a help_text, or its name a word in WORDS"
        for name, schema in schemas
        if not name.startswith("rules_")
        for field, described in schema.get("properties", {}).items()
        if not described.get("description")
    ]
    for name, operation in operations(document):
        said = [operation, *operation.get("parameters", ())]
        bare += [f"{name}: {each}" for each in said if not each.get("description")]
    assert not bare


def test_each_problem_has_its_example(document: dict[str, Any]) -> None:
    """Every code of the table stands in the response of its status."""
    for problem in PROBLEMS.values():
        response = document["components"]["responses"][f"Problem{problem.status}"]
        examples = response["content"]["application/problem+json"]["examples"]
        assert examples[problem.code]["value"]["code"] == problem.code


def test_the_librarys_schemas_stand_in_it_word_for_word(document: dict[str, Any]) -> None:
    """What the library checks by and what the document says are one text, references apart."""
    assert set(shipped()) >= {"facts", "findings", "verdicts"}
    for name in shipped():
        component = f"rules_{name}"
        placed = json.dumps(document["components"]["schemas"][component])
        original = schema(name)
        del original["$schema"], original["$id"]
        assert json.loads(placed.replace(f"#/components/schemas/{component}/", "#/")) == original


def test_the_document_is_not_sent_twice() -> None:
    """Whoever has it already is told so."""
    first = Client().get("/openapi.json")
    again = Client().get("/openapi.json", headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_manners_are_described_where_they_hold() -> None:
    """Pages, headers and parameters of an operation come from the code that obeys them."""
    generated = SchemaGenerator(urlconf="tests.doors.routes").get_schema(request=None, public=True)
    notes = generated["paths"]["/v1/notes"]
    assert notes["get"]["security"] == [{"key": []}]
    names = {each["name"]: each for each in notes["get"]["parameters"]}
    assert set(names) == {"order", "visit", "since", "limit", "cursor", "If-None-Match"}
    assert names["limit"]["schema"]["maximum"] == 200
    page = notes["get"]["responses"]["200"]
    assert "Link" in page["headers"]
    reference = page["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
    assert set(generated["components"]["schemas"][reference]["properties"]) == {"data", "next"}
    (key,) = notes["post"]["parameters"]
    assert (key["name"], key["in"], key["required"]) == ("Idempotency-Key", "header", True)
    assert "Idempotency-Replayed" in notes["post"]["responses"]["201"]["headers"]
    assert re.search(key["schema"]["pattern"], '"two words"')
    assert not re.search(key["schema"]["pattern"], "two words")
    body = generated["components"]["schemas"]["NoteInRequest"]
    assert body["additionalProperties"] is False
    assert body["properties"]["key"] == {"type": "string", "minLength": 1, "maxLength": 40}
    optional = generated["paths"]["/v1/notes/{note_id}"]["post"]["parameters"]
    assert "required" not in next(each for each in optional if each["in"] == "header")
