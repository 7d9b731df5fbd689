"""What SQL shows, what the managers show and what plain Python says are the same, whatever
happened: random histories, each looked at a microsecond before, at and after one of its edges.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from random import Random
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.db import connection, models, transaction
from django.db.models import Value

from doors import tenancy
from doors.models import Custody, Grant, LedgerEntry, Opening, Organization, Site
from doors.services.sight import derive_sight
from doors.tenancy import acting_for
from inspections.models import Deficiency, Filing, ReadLine, Submittal, Visit
from tests.services import seed
from tests.walls.histories import INSTANT, History, Reference, history

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]
THEN = datetime(2024, 1, 1, tzinfo=UTC)
SEEN: dict[str, type[models.Model]] = {
    "organization": Organization,
    "entry": LedgerEntry,
    "site": Site,
    "custody": Custody,
    "grant": Grant,
    "visit": Visit,
    "deficiency": Deficiency,
    "submittal": Submittal,
    "filing": Filing,
    "read": ReadLine,
}
ALL_ROWS = " UNION ALL ".join(
    f"SELECT '{kind}', id FROM {model._meta.db_table}" for kind, model in SEEN.items()
)
SOMEBODY, SOME_TIME = UUID(int=1), datetime(1999, 1, 1, tzinfo=UTC)
PARTIES = {"owners": 3, "firms": 2, "authorities": 2}
CLOCK = (  # the test's own: what the service asks for the time has no such way in
    "CREATE OR REPLACE FUNCTION app_now() RETURNS timestamptz LANGUAGE sql STABLE AS $$"
    " SELECT coalesce(nullif(current_setting('tests.now', true), '')::timestamptz,"
    " statement_timestamp()) $$"
)


@pytest.fixture
def parties() -> Iterator[dict[str, list[UUID]]]:
    """Everybody who takes part, and a clock that the test can set, in this transaction alone."""
    made = {kind: [uuid4() for _ in range(count)] for kind, count in PARTIES.items()}
    with unwalled():
        connection.cursor().execute(CLOCK)
        Organization._base_manager.bulk_create(
            Organization(id=id_, name="x", created_at=THEN) for ids in made.values() for id_ in ids
        )
    with connection.cursor() as cursor:  # planned once: planning is most of the work
        cursor.execute("SET LOCAL plan_cache_mode = force_generic_plan")
        cursor.execute(f"PREPARE by_sql AS {ALL_ROWS}")
        cursor.execute(f"PREPARE by_managers (uuid, timestamptz) AS {managers_query()}")
        yield made
        cursor.execute("DEALLOCATE by_sql; DEALLOCATE by_managers")


@contextmanager
def unwalled() -> Iterator[None]:
    """Write as who holds the database, without triggers and keys: histories come by the thousand.

    After an error nothing is restored but by the rollback.
    """
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE; SET LOCAL session_replication_role = replica")
        yield
        cursor.execute(
            f"SET LOCAL session_replication_role = DEFAULT;SET LOCAL ROLE {settings.RUNTIME_ROLE}"
        )


def keep(told: History) -> None:
    """Store a history and derive sight from it, by the service's own code."""
    openings = {site["id"]: uuid4() for site in told.sites}
    doors = [{"id": id_, "site": site} for site, id_ in openings.items()]
    kinds: dict[type[models.Model], list[dict[str, Any]]] = {
        Organization: [a | {"reference": str(a["id"])} for a in told.aliases],
        LedgerEntry: told.entries,
        Site: [s | {"reference": str(s["id"])} for s in told.sites],
        Opening: doors,
        Custody: told.custodies,
        Grant: told.grants,
        Visit: [_at(v, openings) | {"client_ref": str(v["id"])} for v in told.visits],
        Deficiency: [_at(d, openings) | {"subject": str(d["id"])} for d in told.deficiencies],
        Submittal: told.submittals,
        Filing: told.filings,
        ReadLine: told.reads,
    }
    with unwalled():
        for model, rows in kinds.items():
            model._base_manager.bulk_create(_filled(model, row) for row in rows)
    derive_sight(site_ids=openings)


def _at(row: dict[str, Any], openings: dict[UUID, UUID]) -> dict[str, Any]:
    return {**row, "opening": openings[row["site"]]}


def _filled(model: type[models.Model], row: dict[str, Any]) -> models.Model:
    """A row of the model; what the history does not tell of is filled with anything."""
    values: dict[str, Any] = {}
    for each in model._meta.concrete_fields:
        if each.name in row:
            values[each.attname] = row[each.name]
        elif not (each.null or each.has_default() or each.empty_strings_allowed):
            values[each.attname] = next(
                v for kind, v in _ANYTHING.items() if isinstance(each, kind)
            )
    return model(**values)


_ANYTHING: dict[type[models.Field[Any, Any]], object] = {
    models.ForeignKey: UUID(int=0),
    models.DateTimeField: THEN,
    models.DateField: THEN.date(),
    models.BooleanField: False,
    models.IntegerField: 1,
    models.JSONField: {},
    models.UUIDField: UUID(int=0),
}


def managers_query() -> str:
    """What the managers ask over every kind: $1 is the party, $2 the moment."""
    with acting_for(SOMEBODY, write=False) as context, connection.cursor() as cursor:
        token = tenancy._context.set(replace(context, now=SOME_TIME))  # noqa: SLF001
        first, *others = [
            model.objects.values_list(Value(kind), "id")  # type: ignore[attr-defined]
            for kind, model in SEEN.items()
        ]
        sql, values = first.union(*others, all=True).query.sql_with_params()
        tenancy._context.reset(token)  # noqa: SLF001
        asked: str = cursor.mogrify(sql, values)
    for stand_in, place in ((SOMEBODY, "$1"), (SOME_TIME, "$2")):
        with connection.cursor() as cursor:
            asked = asked.replace(cursor.mogrify("%s", [stand_in]), place)
    return asked


def shown_by_sql(party: UUID, now: datetime) -> list[tuple[str, UUID]]:
    """What raw SQL shows to the runtime role: row security alone."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT set_config('tests.now', %s, true), set_config('app.organization', %s, true)",
            [now.isoformat(), str(party)],
        )
        cursor.execute("EXECUTE by_sql")
        return cursor.fetchall()


def shown_by_managers(party: UUID, now: datetime) -> list[tuple[str, UUID]]:
    """What the managers show where no row security stands behind them."""
    with connection.cursor() as cursor:
        cursor.execute("EXECUTE by_managers (%s, %s)", [party, now])
        return cursor.fetchall()


def compare(seed: int, parties: dict[str, list[UUID]]) -> int:
    """Make the history of a seed, compare all three around one edge, and undo it; answers how
    many rows were seen.
    """
    random = Random(seed)
    told = history(random, parties)
    standing = [id_ for ids in parties.values() for id_ in ids]
    reference, edge = Reference(told, standing), random.choice(told.edges())
    everybody = [*standing, *(alias["id"] for alias in told.aliases)]
    moments = [(p, now) for now in (edge - INSTANT, edge, edge + INSTANT) for p in everybody]
    with transaction.atomic():
        keep(told)
        by_sql = [shown_by_sql(*moment) for moment in moments]
        with unwalled():
            by_managers = [shown_by_managers(*moment) for moment in moments]
        transaction.set_rollback(True)
    expected = [sorted(reference.seen_by(*moment)) for moment in moments]
    for moment, *seen in zip(moments, expected, by_sql, by_managers, strict=True):
        told_alike = [sorted(each) for each in seen]
        assert (seed, moment, told_alike) == (seed, moment, [told_alike[0]] * 3)
    return sum(map(len, expected))


@pytest.mark.parametrize("chunk", range(4))
def test_rows_seen_are_those_of_the_reference(parties: dict[str, list[UUID]], chunk: int) -> None:
    """Two hundred on every run; a failure names its seed, the run's first line all of them."""
    run(parties, chunk, 50)


@pytest.mark.long
@pytest.mark.parametrize("chunk", range(200))
def test_rows_seen_are_those_of_the_reference_in_ten_thousand_histories(
    parties: dict[str, list[UUID]], chunk: int
) -> None:
    """Two hundred times fifty: what is undone fills the tables until its transaction ends."""
    run(parties, chunk, 50)


def run(parties: dict[str, list[UUID]], chunk: int, count: int) -> None:
    """Compare that many histories from the run's seed on; they are not all empty."""
    first = seed() + chunk * count
    assert sum(compare(first + n, parties) for n in range(count)) > count
