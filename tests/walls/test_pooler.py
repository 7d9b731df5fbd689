"""Through a pooler in transaction mode nothing of one tenant's context reaches the next."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from random import Random

import pytest
from django.db import DatabaseError, connection, connections
from rest_framework.test import APIClient

from doors.models import Opening, Organization
from doors.tenancy import acting_for
from tests.cast import Cast, assemble
from tests.clients import client_of
from tests.services import seed
from tests.walls.conftest import Pooled

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
THREADS = 16


@pytest.fixture
def cast() -> Cast:
    """Everybody, committed, so that every connection sees them."""
    return assemble()


def test_two_tenants_by_turns_on_one_connection(cast: Cast, pooled: Pooled) -> None:
    """Two thousand requests, some of which fail or time out half way: no row of the other's."""
    by_turns(cast, pooled, 2_000)


@pytest.mark.long
def test_two_tenants_by_turns_ten_thousand_times(cast: Cast, pooled: Pooled) -> None:
    """The same, longer."""
    by_turns(cast, pooled, 10_000)


def by_turns(cast: Cast, pooled: Pooled, requests: int) -> None:
    """Send so many requests of two owners from sixteen threads."""
    sides = [
        (cast.owner, client_of(cast.owner), {str(cast.opening.id)}),
        (cast.neighbour, client_of(cast.neighbour), {str(cast.neighbours_opening.id)}),
    ]

    def some(thread: int) -> list[set[str]]:
        random = Random(seed() + thread)
        try:
            return [one(random) for _ in range(requests // THREADS)]
        finally:
            connections.close_all()

    def one(random: Random) -> set[str]:
        who, client, own = random.choice(sides)
        return random.choices([seen, broken, timed_out, nobody], [7, 1, 1, 1])[0](who, client) - own

    with pooled() as through:
        if not through:
            pytest.skip("no PgBouncer here")
        with ThreadPoolExecutor(THREADS) as pool:
            foreign = [rows for some_ in pool.map(some, range(THREADS)) for rows in some_]
        assert len(foreign) == requests
        assert set().union(*foreign) == set()
        with connection.cursor() as cursor:
            for name in ("app.organization", "app.purpose", "app.author"):
                cursor.execute("SELECT coalesce(current_setting(%s, true), '')", [name])
                assert (name, cursor.fetchone()) == (name, ("",))


Deed = Callable[[Organization, APIClient], set[str]]


def seen(who: Organization, client: APIClient) -> set[str]:
    """Ask over HTTP for the openings."""
    answer = client.get("/v1/openings")
    assert answer.status_code == 200
    rows = {row["id"] for row in answer.json()["data"]}
    assert rows
    return rows


def broken(who: Organization, client: APIClient) -> set[str]:
    """Fail in the middle."""
    rows: set[str] = set()
    with suppress(LookupError), acting_for(who.id, write=True):
        rows = _openings()
        _fail()
    return rows


def _fail() -> None:
    raise LookupError


def timed_out(who: Organization, client: APIClient) -> set[str]:
    """Be cut off by the database in the middle."""
    rows: set[str] = set()
    try:
        with acting_for(who.id, write=True), connection.cursor() as cursor:
            rows = _openings()
            cursor.execute("SET LOCAL statement_timeout = 1")
            cursor.execute("SELECT pg_sleep(1)")
    except DatabaseError:
        return rows
    pytest.fail("nothing was cut off")


def nobody(who: Organization, client: APIClient) -> set[str]:
    """Forget to say on whose behalf."""
    with connection.cursor() as cursor, pytest.raises(DatabaseError, match="on whose behalf"):
        cursor.execute("SELECT id FROM doors_opening")
    return set()


def _openings() -> set[str]:
    return {str(id_) for id_ in Opening.objects.values_list("id", flat=True)}
