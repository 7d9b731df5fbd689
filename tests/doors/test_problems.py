"""Every error is a problem document, and says where and why."""

import re
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, OperationalError
from django.test import Client
from rest_framework.exceptions import ValidationError

import inspections.models  # noqa: F401 (so that every refusal of the service is defined)
from config.http.problems import as_problem, in_body
from doors.api.problems import PROBLEMS, At
from doors.errors import ServiceError
from doors.models import Replay
from doors.tenancy import acting_for
from rules.errors import InputError, Problem, UnknownNameError
from tests.doors.callers import Answer, Caller, caller

STATUS_OF_KIND = {
    "malformed": 400,
    "forbidden": 403,
    "not_found": 404,
    "conflict": 409,
    "refused": 422,
    "stale": 412,
    "unavailable": 503,
}


def problem(response: Answer, status: int, code: str) -> dict[str, Any]:
    """Return the problem document that `response` must be."""
    assert response["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = response.json()
    assert (response.status_code, body["status"], body["code"]) == (status, status, code), body
    assert set(body) == {"type", "title", "status", "detail", "instance", "code", "errors"}
    assert body["type"] == f"/docs/problems#{code}"
    assert body["instance"] == f"urn:uuid:{response['X-Request-Id']}"
    assert body["detail"]
    return body


def refusals(kind: type[ServiceError] = ServiceError) -> Iterator[type[ServiceError]]:
    """Yield every refusal the service defines."""
    yield kind
    for below in kind.__subclasses__():
        yield from refusals(below)


def test_every_refusal_of_the_service_stands_in_the_table() -> None:
    """Each code has a page to read about it and the status that its kind asks for."""
    for refusal in refusals():
        assert PROBLEMS[refusal.code].status == STATUS_OF_KIND[refusal.kind], refusal


@pytest.mark.parametrize("path", ["/nowhere", "/v1/nowhere", "/v1/notes/", "/docs/", "/v1"])
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_an_address_that_is_none_is_a_problem(method: str, path: str) -> None:
    """Nothing redirects, and the slash at the end is no address."""
    response = Client().generic(method, path, "{}", content_type="application/json")
    problem(response, 404, "not_found")


def test_the_request_id_is_the_callers_where_it_is_a_uuid() -> None:
    """One id runs from the caller to the log; what is no UUID is never echoed."""
    given = str(uuid4())
    assert Client().get("/livez", headers={"X-Request-Id": given})["X-Request-Id"] == given
    other = Client().get("/livez", headers={"X-Request-Id": "a\tb<script>"})["X-Request-Id"]
    assert str(UUID(other)) == other


def test_a_foreign_host_is_a_problem() -> None:
    """What Django itself refuses is answered in the same shape."""
    problem(Client().get("/livez", headers={"Host": "elsewhere.example"}), 400, "malformed_request")


def test_the_page_explains_every_code() -> None:
    """The `type` of each problem is an address where its explanation stands."""
    response = Client().get("/docs/problems")
    page = response.content.decode()
    assert response.status_code == 200
    assert set(re.findall(r'<dt id="(\w+)">', page)) == set(PROBLEMS)
    assert "`" not in page
    assert "one JSON object in UTF-8" in page


def test_errors_of_nested_shapes_become_pointers() -> None:
    """Objects, lists, lists by number and odd names each keep their place."""
    detail: Any = ValidationError(
        {
            "non_field_errors": ["whole"],
            "readings": [{}, {"value": ["bad"], "non_field_errors": ["item"]}],
            "tags": {"2": ["third"]},
            "a/b~c": {"deep": ["odd"]},
        }
    ).detail
    assert [(each.pointer, each.detail) for each in in_body(detail)] == [
        ("", "whole"),
        ("/readings/1/value", "bad"),
        ("/readings/1", "item"),
        ("/tags/2", "third"),
        ("/a~1b~0c/deep", "odd"),
    ]


@pytest.mark.parametrize(
    ("codes", "code", "status"),
    [
        (["missing", "unknown_unit"], "invalid_body", 400),
        (["missing", "unknown_measurand"], "not_acceptable_by_rules", 422),
    ],
)
def test_the_rules_librarys_refusals_keep_their_places(
    codes: list[str], code: str, status: int
) -> None:
    """A wrong shape is 400, a thing that cannot be judged is 422."""
    problems = [Problem(f"/readings/{at}", each, "why") for at, each in enumerate(codes)]
    found = as_problem(InputError(problems))
    assert found is not None
    assert (found.problem.code, found.problem.status) == (code, status)
    assert found.errors == tuple(
        At(each, "why", f"/readings/{at}") for at, each in enumerate(codes)
    )


def test_an_unknown_name_of_the_rules_is_refused() -> None:
    """A place or requirement that does not exist is 422 with the library's words."""
    found = as_problem(UnknownNameError("there is no place us-xx"))
    assert found is not None
    assert (found.problem.status, found.detail) == (422, "there is no place us-xx")


def clash(cause: object) -> IntegrityError:
    """Return an IntegrityError as a database driver causes it."""
    error = IntegrityError("constraint")
    error.__cause__ = type("Cause", (Exception,), vars(cause))()
    return error


@pytest.mark.parametrize(
    "cause",
    [
        SimpleNamespace(sqlstate="23505"),
        SimpleNamespace(sqlstate="23P01"),
        SimpleNamespace(sqlite_errorname="SQLITE_CONSTRAINT_UNIQUE"),
        SimpleNamespace(sqlite_errorname="SQLITE_CONSTRAINT_PRIMARYKEY"),
    ],
)
def test_a_lost_race_is_a_conflict(cause: object) -> None:
    """Two that write the same at once: the second is told, on both databases."""
    found = as_problem(clash(cause))
    assert found is not None
    assert (found.problem.status, found.problem.code) == (409, "already_exists")


@pytest.mark.parametrize(
    "cause",
    [
        SimpleNamespace(sqlstate="23503"),
        SimpleNamespace(sqlstate="23514"),
        SimpleNamespace(sqlite_errorname="SQLITE_CONSTRAINT_TRIGGER"),
    ],
)
def test_a_broken_rule_of_the_database_is_a_fault_of_ours(cause: object) -> None:
    """A foreign key or check that refuses is a failure to be looked at, not a conflict."""
    assert as_problem(clash(cause)) is None


def test_a_silent_database_is_no_failure_of_the_request() -> None:
    """A time-out or a lock is answered 503 and may be repeated."""
    found = as_problem(OperationalError("canceling statement due to lock timeout"))
    assert found is not None
    assert (found.problem.status, found.headers) == (503, {"Retry-After": "1"})
    assert "lock" not in found.detail


# --- over the whole stack ----------------------------------------------------------------------


@pytest.fixture
def inspector(db: None) -> Caller:
    """An inspection firm with a key for visits."""
    return caller()


pytestmark = pytest.mark.urls("tests.doors.routes")


def test_each_bad_field_is_named(inspector: Caller) -> None:
    """One answer names all mistakes, with the code and the place of each."""
    body = {
        "key": "",
        "at": "2026-03-01T09:30:00",
        "extra": 1,
        "readings": [{"value": "1", "unit": "N"}, {"value": 13.6}],
    }
    response = inspector.post("/v1/notes", body, headers={"Idempotency-Key": "a"})
    found = problem(response, 400, "invalid_body")
    assert {(each["pointer"], each["code"]) for each in found["errors"]} == {
        ("/key", "blank"),
        ("/at", "offset_missing"),
        ("/extra", "unknown_field"),
        ("/readings/1/value", "not_a_string"),
        ("/readings/1/unit", "missing"),
    }


@pytest.mark.parametrize(
    ("raw", "content_type", "status", "code"),
    [
        ("{", "application/json", 400, "malformed_json"),
        ('{"a": NaN}', "application/json", 400, "malformed_json"),
        ("key=1", "application/x-www-form-urlencoded", 415, "unsupported_media_type"),
        ("{}", "text/plain", 415, "unsupported_media_type"),
        ('{"a": "' + "x" * 1_000_000 + '"}', "application/json", 413, "too_large"),
    ],
)
def test_a_body_that_cannot_be_read_is_refused(
    inspector: Caller, raw: str, content_type: str, status: int, code: str
) -> None:
    """Broken, foreign and oversized bodies each get their own answer."""
    response = inspector.generic(
        "POST", "/v1/notes", raw, content_type=content_type, headers={"Idempotency-Key": "a"}
    )
    problem(response, status, code)


def test_a_compressed_body_is_refused(inspector: Caller) -> None:
    """What unpacks to more than it says is never unpacked."""
    response = inspector.post(
        "/v1/notes", {}, headers={"Idempotency-Key": "a", "Content-Encoding": "gzip"}
    )
    problem(response, 415, "unsupported_media_type")


def test_a_method_an_address_does_not_take_is_refused(inspector: Caller) -> None:
    """405 lists what it takes; OPTIONS says the same without an error."""
    response = inspector.delete("/v1/notes")
    problem(response, 405, "method_not_allowed")
    options = inspector.options("/v1/notes")
    assert options.status_code == 204
    assert response["Allow"] == options["Allow"] == "GET, POST, HEAD, OPTIONS"


def test_only_json_is_answered(inspector: Caller) -> None:
    """A caller that admits no JSON is told so, in a problem document."""
    problem(inspector.get("/v1/notes", headers={"Accept": "text/html"}), 406, "not_acceptable")


@pytest.mark.parametrize(
    "accept", ["*/*", "application/*", "application/pdf", "text/html, */*;q=0.1"]
)
def test_another_media_type_is_asked_for_by_name(accept: str) -> None:
    """An address that answers a file is asked for it, without a key where it is public."""
    response = Client().get("/v1/file", headers={"Accept": accept})
    assert (response.status_code, response.content) == (200, b"%PDF-")


def test_a_public_address_has_the_same_manners() -> None:
    """It refuses what it does not answer, take or know, in problem documents."""
    problem(Client().get("/v1/file", headers={"Accept": "image/png"}), 406, "not_acceptable")
    problem(Client().post("/v1/file"), 405, "method_not_allowed")
    problem(Client().get("/v1/file?odd=1"), 400, "unknown_parameter")
    assert Client().options("/v1/file")["Allow"] == "GET, HEAD, OPTIONS"


@pytest.mark.parametrize(
    ("query", "code", "parameter"),
    [
        ("?since_when=1", "unknown_parameter", "since_when"),
        ("?format=json", "unknown_parameter", "format"),
        ("?limit=1&limit=2", "invalid_parameter", "limit"),
        ("?order=oldest", "invalid_parameter", "order"),
        ("?visit=7", "invalid_parameter", "visit"),
        ("?since=2026-02-30", "invalid_parameter", "since"),
        ("?cursor=%00", "invalid_parameter", "cursor"),
    ],
)
def test_a_bad_query_parameter_is_named(
    inspector: Caller, query: str, code: str, parameter: str
) -> None:
    """Nothing in a query is ignored or guessed."""
    found = problem(inspector.get(f"/v1/notes{query}"), 400, code)
    assert [each["parameter"] for each in found["errors"]] == [parameter]


def test_nothing_is_kept_of_a_request_that_was_refused_late(inspector: Caller) -> None:
    """A refusal after a write takes the write back."""
    body = {"key": "x", "refuse": True}
    response = inspector.post("/v1/notes", body, headers={"Idempotency-Key": "a"})
    found = problem(response, 422, "refused")
    assert [each["pointer"] for each in found["errors"]] == ["/refuse"]
    with acting_for(inspector.organization.id, write=False):
        assert not Replay.objects.exists()


def test_a_failure_says_nothing_of_the_inside(inspector: Caller) -> None:
    """An unforeseen error is 500, keeps its words to the log, and takes back what was written."""
    made = inspector.post("/v1/notes", {"key": "x"}, headers={"Idempotency-Key": "a"}).json()
    response = inspector.post(f"/v1/notes/{made['id']}")
    problem(response, 500, "internal_error")
    assert b"secret" not in response.content
    assert inspector.get(f"/v1/notes/{made['id']}").json()["key"] == "x"


def test_what_is_not_visible_is_as_what_never_was(inspector: Caller) -> None:
    """Another organization's row and no row at all get the same bytes, request ids apart."""
    made = inspector.post("/v1/notes", {"key": "x"}, headers={"Idempotency-Key": "a"}).json()
    assert inspector.get(f"/v1/notes/{made['id']}").status_code == 200
    stranger = caller("Lakeside Door Inspections")
    foreign, absent = (
        stranger.get(f"/v1/notes/{note_id}", headers={"X-Request-Id": str(UUID(int=1))})
        for note_id in (made["id"], uuid4())
    )
    problem(foreign, 404, "not_found")
    assert foreign.content == absent.content
    assert foreign.headers == absent.headers
