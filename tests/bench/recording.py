# ruff: noqa: E402 - models need the settings first
"""How fast one visit is recorded, beside one statement that stores as much of it; ratios.

    DATABASE_URL=postgres://… python -m tests.bench.recording [rounds]

On a database of its own, as the runtime role, row security and synchronous commit on. Every round
runs each arm once, in shuffled order, and each time at a door that has two earlier visits:

* Baseline: one psycopg statement, committed: the visit's row with the same JSON, 20 readings by
  `unnest`, one line of the ledger, hashed; answers the visit's row. The same tables and walls.
* Ours: `record_visit` as the firm: judged, with its duties, untested items, owing, ledger.
* Again: the baseline once more, for the noise of the machine.
"""

from __future__ import annotations

import cProfile
import json
import os
import pstats
import random
import secrets
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from statistics import median
from typing import Any
from uuid import uuid4

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.test")

import django

django.setup()

import psycopg
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext
from psycopg.types.json import Jsonb

from doors.clock import Instant
from doors.models import Opening
from doors.services.openings import add_opening
from doors.tenancy import acting_for
from inspections.models import Visit
from inspections.services.visits import record_visit
from tests.bench.judging import FOUND
from tests.cast import FACTS, SINCE, Cast, assemble

ROUNDS, PROFILED = 25, 10
INSTRUMENT = {
    "ref": "gauge",
    "kind": "force gauge",
    "serial": "4411",
    "resolution": {"value": "0.1", "unit": "lbf"},
    "calibration_due_on": "2090-01-01",
}
COLUMNS = tuple(str(field.column) for field in Visit._meta.concrete_fields)
JSON = {"findings", "basis", "judgement", "difference", "warnings"}
STATEMENT = f"""
WITH head AS (
  SELECT organization_id, position + 1 AS position, entry_sha256 FROM doors_ledgerhead
  WHERE organization_id = %(custodian)s
), line AS (
  SELECT organization_id, position, json_build_object(
    'organization', organization_id, 'position', position, 'previous', entry_sha256,
    'kind', 'visit_recorded', 'subject', %(id)s::text, 'site', %(site_id)s::text,
    'actor', %(author_id)s::text, 'recorded_at', now(),
    'content', json_build_object('content_sha256', %(content_sha256)s::text)
  )::text AS body FROM head
), entered AS (
  INSERT INTO doors_ledgerentry
    (id, organization_id, position, kind, subject, site_id, body, entry_sha256, recorded_at)
  SELECT gen_random_uuid(), organization_id, position, 'visit_recorded', %(id)s, %(site_id)s,
    body, encode(sha256(convert_to(body, 'UTF8')), 'hex'), now() FROM line
), measured AS (
  INSERT INTO inspections_reading
    (id, site_id, author_id, author_name, visit_id, opening_id, index, quantity, value, unit, si,
     performed_at, performed_on)
  SELECT gen_random_uuid(), %(site_id)s, %(author_id)s, %(author_name)s, %(id)s, %(opening_id)s,
    index - 1, quantity, value, unit, value::numeric, %(performed_at)s, %(performed_on)s
  FROM unnest(%(quantities)s::text[], %(values)s::text[], %(units)s::text[])
    WITH ORDINALITY AS each (quantity, value, unit, index)
)
INSERT INTO inspections_visit ({", ".join(COLUMNS)})
VALUES ({", ".join(f"%({name})s" for name in COLUMNS)}) RETURNING *
"""


@contextmanager
def database() -> Iterator[None]:
    """A database of its own with the walls raised, and the runtime role taken."""
    if connection.vendor != "postgresql":
        sys.exit("name a PostgreSQL in DATABASE_URL")
    settings.RUNTIME_ROLE = f"doors_bench_{secrets.token_hex(6)}"
    with connection._nodb_cursor() as cursor:  # noqa: SLF001 (the only way Django has)
        cursor.execute(f"CREATE ROLE {settings.RUNTIME_ROLE} NOSUPERUSER NOBYPASSRLS LOGIN")
    connection.settings_dict["TEST"]["NAME"] = settings.RUNTIME_ROLE
    before = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"SET ROLE {settings.RUNTIME_ROLE}")
        yield
    finally:
        connection.close()
        connection.creation.destroy_test_db(before, verbosity=0)
        with connection._nodb_cursor() as cursor:  # noqa: SLF001
            cursor.execute(f"DROP ROLE {settings.RUNTIME_ROLE}")


def sent(on: datetime) -> dict[str, Any]:
    """The body of a visit: 20 readings, forces by one gauge, none failing; some 5.6 KB."""
    by_gauge = {"lbf": {"instrument": "gauge"}}
    readings: list[dict[str, Any]] = [
        {"quantity": q, "value": v, "unit": u, "remarks": NOTE} | by_gauge.get(u, {})
        for q, v, u in FOUND
    ]
    return {
        "attestation": {"name": "Noor Vale", "at": on.isoformat()},
        "people": [{"name": "Noor Vale", "role": "inspector", "qualification": "fire doors"}],
        "instruments": [INSTRUMENT],
        "readings": readings,
    }


NOTE = (
    "Taken three times by the leading edge, at the height of the handle, with the door warm; the "
    "middle one of the three is given here, and the others lay within a tenth of it, both times."
)


def door(cast: Cast, number: int) -> Opening:
    """A door of the cast's building that was visited a year ago, and half a year ago."""
    with acting_for(cast.owner.id, write=True):
        opening = add_opening(
            site_id=cast.site.id,
            tag=f"B-{number}",
            location="Corridor",
            door_type="accordion",
            facts=FACTS,
            in_place_since=SINCE,
        )
    for days in (365, 180):
        record(cast, opening, datetime.now(UTC) - timedelta(days=days))
    return opening


def record(cast: Cast, opening: Opening, at: datetime | None = None) -> Visit:
    """One visit as the firm, in a transaction of its own."""
    performed = at or datetime.now(UTC) - timedelta(hours=1)
    findings = sent(performed)
    with acting_for(cast.firm.id, write=True):
        return record_visit(
            opening_id=opening.id,
            client_ref=str(uuid4()),
            activity="periodic_inspection",
            performed_at=Instant(performed, performed.isoformat()),
            attested_by="Noor Vale",
            findings=findings,
        )


def baseline(cast: Cast, like: Visit) -> Callable[[Opening], object]:
    """The one statement, on a connection of its own where the firm is at work."""
    options = {"host": connection.settings_dict["HOST"], "port": connection.settings_dict["PORT"]}
    raw = psycopg.connect(
        dbname=settings.RUNTIME_ROLE, user=settings.RUNTIME_ROLE, autocommit=True, **options
    )
    raw.execute("SELECT set_config('app.organization', %s, false)", [str(cast.firm.id)])
    columns = {
        str(field.column): getattr(like, field.attname) for field in Visit._meta.concrete_fields
    }
    readings = like.findings["readings"]
    named = {"quantities": "quantity", "values": "value", "units": "unit"}
    lists = {many: [each[one] for each in readings] for many, one in named.items()}

    def run(opening: Opening) -> object:
        filled: dict[str, Any] = columns | {"id": uuid4(), "client_ref": str(uuid4())}
        filled |= {name: Jsonb(filled[name]) for name in JSON}
        filled |= {"opening_id": opening.id, "custodian": cast.owner.id} | lists
        return raw.execute(STATEMENT, filled).fetchone()

    return run


def main(rounds: int) -> None:
    """Print the ratio and the times, then where the time of ours goes."""
    cast = assemble()
    doors = iter([door(cast, number) for number in range(3 * rounds + PROFILED + 5)])
    like = record(cast, next(doors))
    plain = baseline(cast, like)
    arms: dict[str, Callable[[Opening], object]] = {
        "baseline": plain,
        "ours": lambda opening: record(cast, opening),
        "again": plain,
    }
    spent: dict[str, list[float]] = {name: [] for name in arms}
    plain(next(doors)), record(cast, next(doors))
    before = os.getloadavg()
    for _ in range(rounds):
        for arm in random.sample(list(arms), len(arms)):
            opening = next(doors)
            begun = time.perf_counter()
            arms[arm](opening)
            spent[arm].append(1000 * (time.perf_counter() - begun))
    size = len(json.dumps(like.findings))
    say(f"{len(FOUND)} readings, {size} bytes as sent; verdict {like.verdict}; n = {rounds}")
    say(f"load {before[0]:.1f} before, {os.getloadavg()[0]:.1f} after")
    for name, times in spent.items():
        ratios = [a / b for a, b in zip(spent["baseline"], times, strict=True)]
        took = f"{median(times):7.2f} ms ({min(times):.2f} - {max(times):.2f})"
        ratio = f"{median(ratios):.3f} ({min(ratios):.3f} - {max(ratios):.3f})"
        say(f"{name:9} {took:32} ratio {ratio}")
    queries(cast, next(doors))
    profile(cast, [next(doors) for _ in range(PROFILED)])


def queries(cast: Cast, opening: Opening) -> None:
    """What one recording asks of the database, with the milliseconds of each."""
    with CaptureQueriesContext(connection) as captured:
        record(cast, opening)
    for query in captured.captured_queries:
        say(f"{1000 * float(query['time']):5.0f} ms  {query['sql'][:150]}")
    whole = sum(float(query["time"]) for query in captured.captured_queries)
    say(f"{len(captured)} queries, {1000 * whole:.0f} ms")


def profile(cast: Cast, doors: list[Opening]) -> None:
    """The 25 functions in which most of the time of ours is spent, with all that they call."""
    profiler = cProfile.Profile()
    profiler.enable()
    for opening in doors:
        record(cast, opening)
    profiler.disable()
    pstats.Stats(profiler).sort_stats("tottime").print_stats(25)
    pstats.Stats(profiler).sort_stats("cumulative").print_stats(60)


def say(line: str) -> None:
    """Print it."""
    print(line)  # noqa: T201


if __name__ == "__main__":
    with database():
        main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
