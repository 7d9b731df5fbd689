"""The walls as PostgreSQL holds them: policies, composite keys, triggers, rights."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from django.conf import settings
from django.db import transaction
from django.db.backends.utils import CursorWrapper

from doors.tenancy import Purpose
from doors.unwalled import UNWALLED
from doors.walls.functions import FUNCTIONS
from doors.walls.wall import CIRCLE_OF, Wall


def raise_on_postgresql(
    cursor: CursorWrapper, present: list[tuple[str, Wall]], tables: set[str]
) -> None:
    """Make it so, unless the digest of the same statements says that it is so already."""
    statements = [FUNCTIONS]
    if any(wall.one_at_a_time for _, wall in present):
        statements.append("CREATE EXTENSION IF NOT EXISTS btree_gist")  # an id = another, in GiST
    # Whether a key holds for the rows that stand is asked as the tables' owner, who must see them.
    statements += [f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY" for table, _ in present]
    for table, wall in present:
        statements += _keys_and_triggers(table, wall, tables)
    for table, wall in present:
        statements += _policies(table, wall)
    statements += _grants(cursor, present, tables)
    digest = hashlib.sha256("\n".join(statements).encode()).hexdigest()
    cursor.execute("SELECT obj_description(to_regprocedure('app_organization()'), 'pg_proc')")
    if cursor.fetchone() == (digest,):
        return
    with transaction.atomic(using=cursor.db.alias):  # a wall is never seen half raised
        for statement in statements:
            cursor.execute(statement)
        cursor.execute(f"COMMENT ON FUNCTION app_organization() IS '{digest}'")


def _policies(table: str, wall: Wall) -> Iterator[str]:
    yield f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY"
    yield f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY"
    reading = f"(SELECT app_purpose()) IN ({_listed(wall.open_to)})"
    writing = f"(SELECT app_purpose()) IN ({_listed(wall.written_by)})"
    read = f"({wall.read.format(table=table)}) OR {reading}"
    write = f"({wall.write.format(table=table)}) OR {writing}"
    change = f"({(wall.change or wall.write).format(table=table)}) OR {writing}"
    rules = {
        "reading": f"FOR SELECT USING ({read})",
        "adding": f"FOR INSERT WITH CHECK ({write})",
        "changing": f"FOR UPDATE USING ({read}) WITH CHECK ({change})",
        "deleting": f"FOR DELETE USING ({write})" if wall.deletable else "",
    }
    for name, rule in rules.items():
        yield f"DROP POLICY IF EXISTS {name} ON {table}"
        if rule:
            yield f"CREATE POLICY {name} ON {table} {rule}"


def _keys_and_triggers(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
    for column, parent in wall.homes:
        if parent in tables:
            yield from _composite_key(table, column, parent, "site_id")
    for column, parent in wall.kin:
        if parent in tables:
            yield from _composite_key(table, column, parent, "organization_id")
    yield from _one_at_a_time(table, wall)
    yield from _circle(table, wall)
    yield from _guards(table, wall)


def _one_at_a_time(table: str, wall: Wall) -> Iterator[str]:
    name = f"{table}_one_at_a_time"
    yield f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {name}"
    if wall.one_at_a_time:
        yield (
            f"ALTER TABLE {table} ADD CONSTRAINT {name} EXCLUDE USING gist"
            f" ({wall.one_at_a_time} WITH =, daterange(begins_on, ends_on) WITH &&)"
        )


def _circle(table: str, wall: Wall) -> Iterator[str]:
    yield f"DROP TRIGGER IF EXISTS one_circle ON {table}"
    if wall.circle:
        pairs = ", ".join(f"'{c}', '{CIRCLE_OF[t]}'" for c, t in wall.circle)
        yield (
            f"CREATE TRIGGER one_circle BEFORE INSERT OR UPDATE ON {table}"
            f" FOR EACH ROW EXECUTE FUNCTION app_one_circle({pairs})"
        )


def _guards(table: str, wall: Wall) -> Iterator[str]:
    yield f"DROP TRIGGER IF EXISTS rising ON {table}"
    if wall.rising:
        yield (
            f"CREATE TRIGGER rising BEFORE UPDATE ON {table} FOR EACH ROW"
            f" WHEN (NEW.{wall.rising} <= OLD.{wall.rising}) EXECUTE FUNCTION app_append_only()"
        )
    for column in wall.once:
        yield f"DROP TRIGGER IF EXISTS once_{column} ON {table}"
        yield (
            f"CREATE TRIGGER once_{column} BEFORE UPDATE ON {table} FOR EACH ROW"
            f" WHEN (OLD.{column} IS NOT NULL AND NEW.{column} IS DISTINCT FROM OLD.{column})"
            " EXECUTE FUNCTION app_append_only()"
        )
    yield f"DROP TRIGGER IF EXISTS chained ON {table}"
    if wall.chained:
        yield (
            f"CREATE TRIGGER chained BEFORE INSERT ON {table}"
            " FOR EACH ROW EXECUTE FUNCTION app_enter_ledger()"
        )
    yield f"DROP TRIGGER IF EXISTS append_only ON {table}"
    if wall.append_only or wall.frozen_once:
        when = f" WHEN (OLD.{wall.frozen_once} IS NOT NULL)" if wall.frozen_once else ""
        yield (
            f"CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON {table}"
            f" FOR EACH ROW{when} EXECUTE FUNCTION app_append_only()"
        )


def _listed(purposes: frozenset[Purpose]) -> str:
    return ", ".join(f"'{purpose}'" for purpose in sorted(purposes)) or "NULL"


def _composite_key(table: str, column: str, parent: str, carrier: str) -> Iterator[str]:
    name = f"{table}_{column}_home"
    yield f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {name}"
    yield (
        f"ALTER TABLE {table} ADD CONSTRAINT {name} FOREIGN KEY ({column}, {carrier})"
        f" REFERENCES {parent} (id, {carrier}) DEFERRABLE INITIALLY DEFERRED"
    )


def _grants(
    cursor: CursorWrapper, present: list[tuple[str, Wall]], tables: set[str]
) -> Iterator[str]:
    """Give the runtime role what it needs and nothing more, where that role exists."""
    role = settings.RUNTIME_ROLE
    cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role])
    if cursor.fetchone() is None:
        return
    yield f"GRANT USAGE ON SCHEMA public TO {role}"
    yield f"GRANT SELECT ON django_migrations TO {role}"
    for table, exempt in UNWALLED.items():
        if table in tables:
            yield f"REVOKE ALL ON {table} FROM {role}"
            if exempt.granted:
                yield f"GRANT {exempt.granted} ON {table} TO {role}"
    for table, wall in present:
        yield f"REVOKE ALL ON {table} FROM {role}"
        verbs = ["SELECT", "INSERT", *(["DELETE"] if wall.deletable else [])]
        if wall.changeable:
            verbs.append(f"UPDATE ({', '.join(wall.changeable)})")
        yield f"GRANT {', '.join(verbs)} ON {table} TO {role}"
