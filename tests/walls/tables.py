"""What must hold of each table by itself, as functions that fail: run by `test_tables.py`, and by
`test_mutants.py` with one wall broken at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, IntegrityError, connection, models, transaction
from psycopg import sql
from psycopg.types.json import Jsonb

from doors.models import Organization
from doors.tenancy import acting_for
from doors.walls import walled_models
from tests.cast import Cast

Row = Mapping[str, Any]
TABLES = dict(walled_models())
MODELS = {m._meta.db_table: m for m in apps.get_models() if m._meta.db_table in TABLES}
HOMES = sorted(
    (table, column, parent, carrier)
    for table, wall in TABLES.items()
    for pairs, carrier in ((wall.homes, "site_id"), (wall.kin, "organization_id"))
    for column, parent in pairs
)
# Everybody may know what places there are; a feed's counter is moved by whoever files.
PUBLIC = {"doors_jurisdiction", "inspections_feedhead"}
CHANGED = sorted(
    table
    for table, wall in TABLES.items()
    if wall.changeable and not wall.append_only and table not in PUBLIC
)
ADDED = sorted(set(TABLES) - PUBLIC)
DELETED = sorted(table for table, wall in TABLES.items() if wall.deletable)
ANYTHING: dict[type[models.Field[Any, Any]], Any] = {
    models.ForeignKey: None,
    models.DateTimeField: datetime(2024, 1, 1, tzinfo=UTC),
    models.DateField: datetime(2024, 1, 1, tzinfo=UTC).date(),
    models.DurationField: timedelta(0),
    models.BooleanField: False,
    models.IntegerField: 1,
    models.DecimalField: 1,
    models.JSONField: {},
    models.UUIDField: UUID(int=0),
}


@contextmanager
def owner_of_tables() -> Iterator[None]:
    """Leave the runtime role for a block: the tables' owner is bound by no wall here."""
    run("RESET ROLE")
    yield
    run(f"SET LOCAL ROLE {settings.RUNTIME_ROLE}")


def run(statement: str) -> int:
    """Run a statement; answers how many rows it reached."""
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.rowcount


def ids(table: str) -> set[UUID]:
    """The ids of all rows in sight."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT id FROM {table}")
        return {id_ for (id_,) in cursor.fetchall()}


def both_walls_agree(table: str, everybody: Sequence[Organization]) -> None:
    """Row security alone and the manager alone show the same rows to each; somebody sees some,
    and not everybody sees all.
    """
    seen = []
    for who in everybody:
        with acting_for(who.id, write=False):
            by_sql = ids(table)
            with owner_of_tables():
                manager = MODELS[table].objects  # type: ignore[attr-defined]
                by_manager = set(manager.values_list("id", flat=True))
        assert (who.name, by_sql) == (who.name, by_manager)
        seen.append(by_sql)
    with owner_of_tables():
        stored = ids(table)
    if table not in PUBLIC:
        assert set().union(*seen), "nobody sees any, so this shows nothing"
        assert any(each < stored for each in seen), "everybody sees everything"


def an_outsider_adds_nothing(table: str, outsider: Organization, cast: Cast) -> None:
    """Another's row is refused by row security, whatever else would refuse it."""
    with transaction.atomic():
        with owner_of_tables():
            loosen(table)
        with acting_for(outsider.id, write=True):
            why = "an outsider added a row"
            try:
                with transaction.atomic():
                    insert(table, row_of(table, cast))
            except DatabaseError as refused:
                why = str(refused)
            assert "row-level security" in why, why
        transaction.set_rollback(True)


def an_outsider_changes_nothing(table: str, outsider: Organization) -> None:
    """A blind UPDATE, which needs no sight of a row, reaches no row but its own."""
    column = TABLES[table].changeable[0]
    value = sql.Literal(anything(field_of(table, column))).as_string(None)
    _reaches_its_own(table, outsider, f"UPDATE {table} SET {column} = {value}")


def an_outsider_deletes_nothing(table: str, outsider: Organization) -> None:
    """Nor a blind DELETE."""
    _reaches_its_own(table, outsider, f"DELETE FROM {table}")


def _reaches_its_own(table: str, outsider: Organization, statement: str) -> None:
    with transaction.atomic():
        with owner_of_tables():
            loosen(table)
        with acting_for(outsider.id, write=True):
            own = len(ids(table))
            try:
                with transaction.atomic():
                    reached = run(statement)
            except DatabaseError:
                reached = own + 1  # a row took offence, or what would be left of it
            assert reached <= own, "an outsider reached rows that it does not see"
        transaction.set_rollback(True)


def a_key_holds_its_home(table: str, column: str, parent: str, carrier: str) -> None:
    """A row that hangs under a parent of another home is refused by the composite key itself,
    and one under a parent of its own home is not.
    """
    home, foreign = uuid4(), uuid4()
    for where, held in ((home, True), (foreign, False)):
        above = anything_in(parent) | {carrier: where, "id": uuid4()}
        below = anything_in(table) | {carrier: home, "id": uuid4(), column: above["id"]}
        with owner_of_tables(), transaction.atomic():
            loosen(parent)
            loosen(table)
            run("SET LOCAL session_replication_role = replica")
            insert(parent, above)
            run("SET LOCAL session_replication_role = DEFAULT")
            insert(table, below)
            try:
                run(f"SET CONSTRAINTS {table}_{column}_home IMMEDIATE")
                taken = True
            except IntegrityError:
                taken = False
            transaction.set_rollback(True)
        assert taken == held, f"{table}.{column} under {parent} of its own home: {where == home}"


def loosen(table: str) -> None:
    """Leave of a table's guards its policies and its composite keys alone."""
    run("SET CONSTRAINTS ALL IMMEDIATE")
    run("SET CONSTRAINTS ALL DEFERRED")
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND (contype = 'c'"
            " OR contype = 'u' AND NOT EXISTS (SELECT 1 FROM pg_constraint f WHERE"
            " f.confrelid = pg_constraint.conrelid AND f.conindid = pg_constraint.conindid))",
            [table],
        )
        for (name,) in cursor.fetchall():
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
        cursor.execute(
            "SELECT i.relname FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid"
            " LEFT JOIN pg_constraint c ON c.conindid = x.indexrelid"
            " WHERE x.indrelid = %s::regclass AND x.indisunique AND c.oid IS NULL",
            [table],
        )
        for (name,) in cursor.fetchall():
            cursor.execute(f'DROP INDEX "{name}"')
        cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")


def field_of(table: str, column: str) -> models.Field[Any, Any]:
    """The field that a column holds."""
    return next(f for f in MODELS[table]._meta.concrete_fields if f.column == column)


def anything(field: models.Field[Any, Any]) -> Any:  # noqa: ANN401 - of whichever kind it is
    """A value that a column takes."""
    if isinstance(field, models.JSONField):
        return Jsonb({})
    found = (value for kind, value in ANYTHING.items() if isinstance(field, kind))
    return next(found, "x"[: field.max_length])


def anything_in(table: str) -> dict[str, Any]:
    """Something in each column that must hold something; keys lead nowhere."""
    return {
        str(f.column): uuid4() if isinstance(f, models.ForeignKey) else anything(f)
        for f in MODELS[table]._meta.concrete_fields
        if not f.null
    }


def row_of(table: str, cast: Cast) -> dict[str, Any]:
    """A row of the owner's, as the firm might have written it."""
    whose = {
        "id": uuid4(),
        "organization_id": cast.owner.id,
        "owner_id": cast.owner.id,
        "custodian_id": cast.owner.id,
        "site_id": cast.site.id,
        "author_id": cast.firm.id,
        "authority_id": cast.authority.id,
        "jurisdiction_id": cast.town.id,
        "opening_id": cast.opening.id,
    }
    held = {f.column for f in MODELS[table]._meta.concrete_fields}
    return anything_in(table) | {name: id_ for name, id_ in whose.items() if name in held}


def insert(table: str, row: Row) -> None:
    """Insert one row, by SQL alone."""
    statement = sql.SQL("INSERT INTO {} ({}) VALUES ({})").format(
        sql.Identifier(table),
        sql.SQL(", ").join(map(sql.Identifier, row)),
        sql.SQL(", ").join([sql.Placeholder()] * len(row)),
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, list(row.values()))
