"""Pages by key: every row once, in order, whatever happens meanwhile."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from doors.models import Replay
from doors.tenancy import acting_for
from tests.doors.callers import Caller, caller
from tests.doors.routes import ORDERS

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.doors.routes")]
THEN = datetime(2026, 3, 1, 12, 0, 0, 123_456, tzinfo=UTC)


@pytest.fixture
def inspector() -> Caller:
    """An inspection firm with a key for visits."""
    return caller()


def note(client: Caller, number: int, **given: Any) -> Replay:
    """Return a row of the caller's, not yet stored."""
    fields = {
        "organization": client.organization,
        "route": "note",
        "key": f"{number:06}",
        "fingerprint": "",
        "status": 200 + number % 3,
        "body": "",
        "created_at": THEN,
    }
    return Replay(**fields | given)


def store(client: Caller, rows: list[Replay]) -> None:
    """Store rows of the caller's."""
    with acting_for(client.organization.id, write=True):
        Replay.objects.bulk_create(rows)


def walk(client: Caller, address: str, at_most: int = 100) -> list[list[str]]:
    """Return the keys on each page, following `next` to the end."""
    pages = []
    following: str | None = address
    while following:
        response = client.get(following)
        assert response.status_code == 200, response.content
        body = response.json()
        pages.append([row["key"] for row in body["data"]])
        following = body["next"]
        assert response.get("Link") == (f'<{following}>; rel="next"' if following else None)
        assert len(pages) <= at_most, "the pages never end"
    return pages


def test_2500_equal_keys_are_walked_once(inspector: Caller) -> None:
    """The pages end, and every row stands on exactly one of them."""
    store(inspector, [note(inspector, number) for number in range(2_500)])
    pages = walk(inspector, "/v1/notes?limit=100")
    assert [len(page) for page in pages] == [100] * 25
    assert sorted(key for page in pages for key in page) == [f"{n:06}" for n in range(2_500)]


@pytest.mark.parametrize("order", sorted(ORDERS))
def test_each_order_is_the_databases_own(inspector: Caller, order: str) -> None:
    """Several columns, in mixed directions, one of them of another table: as one query has it."""
    rows = [
        note(inspector, number, created_at=THEN + timedelta(microseconds=number % 4))
        for number in range(40)
    ]
    store(inspector, rows)
    with acting_for(inspector.organization.id, write=False):
        expected = list(Replay.objects.order_by(*ORDERS[order]).values_list("key", flat=True))
    found = [key for page in walk(inspector, f"/v1/notes?order={order}&limit=7") for key in page]
    assert found == expected


def test_rows_added_meanwhile_neither_repeat_nor_hide_others(inspector: Caller) -> None:
    """Whatever stood at the beginning is seen once; a row added behind is seen too."""
    store(inspector, [note(inspector, n, id=UUID(int=2 * n + 2)) for n in range(9)])
    first = inspector.get("/v1/notes?limit=4").json()
    store(inspector, [note(inspector, 100, id=UUID(int=1)), note(inspector, 101, id=UUID(int=13))])
    rest = [key for page in walk(inspector, first["next"]) for key in page]
    seen = [row["key"] for row in first["data"]] + rest
    assert seen == [f"{n:06}" for n in (0, 1, 2, 3, 4, 5, 101, 6, 7, 8)]


def test_a_full_last_page_has_no_next(inspector: Caller) -> None:
    """No empty page follows, and an empty list is one page."""
    assert walk(inspector, "/v1/notes") == [[]]
    store(inspector, [note(inspector, number) for number in range(4)])
    assert [len(page) for page in walk(inspector, "/v1/notes?limit=2")] == [2, 2]


def test_a_page_holds_fifty_rows_unless_asked(inspector: Caller) -> None:
    """The default and the greatest page, and the filters that `next` keeps."""
    store(inspector, [note(inspector, number) for number in range(201)])
    assert len(inspector.get("/v1/notes").json()["data"]) == 50
    body = inspector.get("/v1/notes?order=mixed&limit=200").json()
    assert len(body["data"]) == 200
    assert body["next"].startswith("http://testserver/v1/notes?order=mixed&limit=200&cursor=")


@pytest.mark.parametrize(
    "limit", ["0", "-1", "201", "1000000000", "all", "1.5", "", "\u0665", "1e2"]
)
def test_a_limit_out_of_range_is_refused(inspector: Caller, limit: str) -> None:
    """Nothing is clamped."""
    response = inspector.get("/v1/notes", {"limit": limit})
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "limit"


def test_a_cursor_belongs_to_its_list(inspector: Caller) -> None:
    """Altered, of another order, filter or organization: refused, never half obeyed."""
    store(inspector, [note(inspector, number) for number in range(4)])
    cursor = inspector.get("/v1/notes?limit=2").json()["next"].partition("cursor=")[2]
    stranger = caller("Lakeside Door Inspections")
    answers = [
        inspector.get(f"/v1/notes?cursor={cursor[:-1]}"),
        inspector.get("/v1/notes?cursor=nonsense"),
        inspector.get("/v1/notes?cursor="),
        inspector.get(f"/v1/notes?order=mixed&cursor={cursor}"),
        inspector.get(f"/v1/notes?since=2026-01-01&cursor={cursor}"),
        stranger.get(f"/v1/notes?cursor={cursor}"),
    ]
    assert {(each.status_code, each.json()["code"]) for each in answers} == {
        (400, "cursor_invalid")
    }
    assert inspector.get(f"/v1/notes?limit=1&cursor={cursor}").status_code == 200


def test_a_page_costs_the_same_queries_however_long(inspector: Caller) -> None:
    """Neither the number of rows nor the depth of the page adds a query; the first request of a
    minute also writes down that the key was used.
    """
    assert inspector.get("/v1/notes?limit=1").status_code == 200
    store(inspector, [note(inspector, number) for number in range(200)])
    counts = set()
    for address in ("/v1/notes?limit=1", "/v1/notes?limit=100"):
        with CaptureQueriesContext(connection) as captured:
            following = inspector.get(address).json()["next"]
        counts.add(len(captured))
        with CaptureQueriesContext(connection) as captured:
            inspector.get(following)
        counts.add(len(captured))
    assert len(counts) == 1
