"""The second wall: what PostgreSQL itself refuses, declared once beside the models.

Every tenant model carries a `WALL`. `raise_walls` turns the declarations into forced row-level
security, composite keys that carry the home, and append-only triggers; it runs after every
migration and is idempotent. SQLite has no row security: there the composite keys and the
append-only rule are triggers, and the scoping manager is the only other wall, which is why
production refuses it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.db import connections, models
from django.db.backends.utils import CursorWrapper

from doors.tenancy import Purpose
from doors.unwalled import UNWALLED

ORGANIZATION = "(SELECT app_organization())"
OWN = f"organization_id = {ORGANIZATION}"
AUTHORED = f"author_id = {ORGANIZATION}"


SOMEBODY = f"{ORGANIZATION} IS NOT NULL"
OWN_SANDBOX = f"(SELECT o.sandbox_id FROM doors_organization o WHERE o.id = {ORGANIZATION})"


def in_sight(
    may: str = "read", column: str = "site_id", table: str = "{table}", *, custodian: bool = False
) -> str:
    """SQL: the acting organization has sight of the row's site now, with this action; where
    `custodian` is asked for, under the custodian that the row names.
    """
    named = f" AND s.custodian_id = {table}.custodian_id" if custodian else ""
    return (
        "EXISTS (SELECT 1 FROM doors_sight s WHERE"
        f" s.organization_id = {ORGANIZATION} AND s.site_id = {table}.{column}"
        f" AND s.may_{may} AND s.begins_at <= statement_timestamp()"
        f" AND (s.ends_at IS NULL OR s.ends_at > statement_timestamp()){named})"
    )


@dataclass(frozen=True, slots=True)
class Wall:
    """What may be read and written of one table, as SQL over its row.

    `change` is what an UPDATE must leave behind, where that differs from what may be added.
    `changeable` are the columns an UPDATE may touch; the runtime role is granted these alone.
    `homes` are composite keys: (column, parent table) pairs that must agree on `site_id`; `kin`
    are the same for `organization_id`. `rising` names a counter that only grows.
    `append_only` forbids UPDATE and DELETE to everybody; `frozen_once` names a column that, once
    it holds a value, does the same to its row; `once` names columns that keep the value they once
    got; `deletable` allows DELETE of what is readable.
    Purposes named in `open_to` read every row, those in `written_by` also write.
    `circle` are (column, table) pairs that must all lie in one sandbox, or all in none: an
    organization, a site by its author, or a jurisdiction.
    """

    read: str
    write: str
    change: str = ""
    changeable: tuple[str, ...] = ()
    kin: tuple[tuple[str, str], ...] = ()
    rising: str = ""
    circle: tuple[tuple[str, str], ...] = ()
    homes: tuple[tuple[str, str], ...] = ()
    append_only: bool = False
    frozen_once: str = ""
    once: tuple[str, ...] = ()
    deletable: bool = False
    open_to: frozenset[Purpose] = frozenset()
    written_by: frozenset[Purpose] = frozenset()


_PURPOSES = ", ".join(f"'{purpose}'" for purpose in Purpose)
FUNCTIONS = f"""
CREATE OR REPLACE FUNCTION app_purpose() RETURNS text LANGUAGE plpgsql STABLE AS $body$
DECLARE found text := coalesce(current_setting('app.purpose', true), '');
BEGIN
  IF found = '' OR found IN ({_PURPOSES}) THEN RETURN found; END IF;
  RAISE EXCEPTION 'no such purpose' USING ERRCODE = 'insufficient_privilege';
END $body$;
CREATE OR REPLACE FUNCTION app_organization() RETURNS uuid LANGUAGE plpgsql STABLE AS $body$
DECLARE found text := coalesce(current_setting('app.organization', true), '');
BEGIN
  IF found <> '' THEN RETURN found::uuid; END IF;
  IF app_purpose() <> '' THEN RETURN NULL; END IF;
  RAISE EXCEPTION 'a tenant table was touched without saying on whose behalf'
    USING ERRCODE = 'insufficient_privilege';
END $body$;
CREATE OR REPLACE FUNCTION app_one_circle() RETURNS trigger LANGUAGE plpgsql
SET app.purpose = 'custody' SET app.organization = '' AS $body$
DECLARE
  added jsonb := to_jsonb(NEW);
  circle uuid;
  first uuid;
BEGIN
  FOR i IN 0..TG_NARGS / 2 - 1 LOOP
    CONTINUE WHEN added ->> TG_ARGV[2 * i] IS NULL;
    EXECUTE 'SELECT ' || replace(TG_ARGV[2 * i + 1], '{{id}}', '$1')
      INTO circle USING (added ->> TG_ARGV[2 * i])::uuid;
    IF i = 0 THEN first := circle;
    ELSIF circle IS DISTINCT FROM first THEN
      RAISE EXCEPTION 'CIRCLE: rows of % stay within one sandbox, or outside all', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
    END IF;
  END LOOP;
  RETURN NEW;
END $body$;
CREATE OR REPLACE FUNCTION app_append_only() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
  RAISE EXCEPTION 'rows of % are never changed', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $body$;
"""


CIRCLE_OF = {  # SQL: the sandbox in which the row of that id lies
    "doors_organization": "(SELECT c.sandbox_id FROM doors_organization c WHERE c.id = {id})",
    "doors_jurisdiction": "(SELECT c.sandbox_id FROM doors_jurisdiction c WHERE c.id = {id})",
    "doors_site": (
        "(SELECT c.sandbox_id FROM doors_site s JOIN doors_organization c ON c.id = s.author_id"
        " WHERE s.id = {id})"
    ),
    "doors_sandbox": "(SELECT c.id FROM doors_sandbox c WHERE c.id = {id})",
}


def walled_models() -> Iterator[tuple[str, Wall]]:
    """Every table of ours with its wall, in a fixed order."""
    for model in sorted(apps.get_models(), key=lambda m: m._meta.db_table):
        wall: Wall | None = getattr(model, "WALL", None)
        if wall is not None:
            yield model._meta.db_table, wall


def unwalled_models() -> list[type[models.Model]]:
    """Models without a wall that nobody has reviewed: there must be none."""
    tables = apps.get_models()
    return [m for m in tables if not hasattr(m, "WALL") and m._meta.db_table not in UNWALLED]


def raise_walls(using: str = "default") -> None:
    """Make the database hold what the models declare.

    PostgreSQL keeps the digest of what it holds, so that raising the same walls again locks no
    table. SQLite drops triggers when a table is altered, so there they are always made anew.
    """
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    present = [(table, wall) for table, wall in walled_models() if table in tables]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            _raise_on_postgresql(cursor, present, tables)
            return
        for table, wall in present:
            for statement in _sqlite(table, wall, tables):
                cursor.execute(statement)


def _raise_on_postgresql(
    cursor: CursorWrapper, present: list[tuple[str, Wall]], tables: set[str]
) -> None:
    statements = [FUNCTIONS]
    for table, wall in present:
        statements += _postgresql(table, wall, tables)
    statements += _grants(cursor, present, tables)
    digest = hashlib.sha256("\n".join(statements).encode()).hexdigest()
    cursor.execute("SELECT obj_description(to_regprocedure('app_organization()'), 'pg_proc')")
    if cursor.fetchone() == (digest,):
        return
    for statement in statements:
        cursor.execute(statement)
    cursor.execute(f"COMMENT ON FUNCTION app_organization() IS '{digest}'")


def _postgresql(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
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
    yield from _keys_and_triggers(table, wall, tables)


def _keys_and_triggers(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
    for column, parent in wall.homes:
        if parent in tables:
            yield from _composite_key(table, column, parent, "site_id")
    for column, parent in wall.kin:
        if parent in tables:
            yield from _composite_key(table, column, parent, "organization_id")
    yield from _circle(table, wall)
    yield from _guards(table, wall)


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


def _sqlite(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
    yield from _sqlite_circle(table, wall, tables)
    if wall.rising:
        name = f"{table}_rising"
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield (
            f"CREATE TRIGGER {name} BEFORE UPDATE ON {table}"
            f" WHEN NEW.{wall.rising} <= OLD.{wall.rising}"
            f" BEGIN SELECT RAISE(ABORT, '{wall.rising} of {table} only grows'); END"
        )
    for column in wall.once:
        name = f"{table}_once_{column}"
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield (
            f"CREATE TRIGGER {name} BEFORE UPDATE ON {table}"
            f" WHEN OLD.{column} IS NOT NULL AND NEW.{column} IS NOT OLD.{column}"
            f" BEGIN SELECT RAISE(ABORT, '{column} of {table} is kept'); END"
        )
    keys = [(c, p, "site_id") for c, p in wall.homes]
    keys += [(c, p, "organization_id") for c, p in wall.kin]
    for column, parent, carrier in keys:
        if parent not in tables:
            continue
        for verb in ("INSERT", "UPDATE"):
            name = f"{table}_{column}_home_{verb.lower()}"
            yield f"DROP TRIGGER IF EXISTS {name}"
            yield (
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table} WHEN NEW.{column} IS NOT NULL"
                f" AND NOT EXISTS (SELECT 1 FROM {parent} p WHERE p.id = NEW.{column}"
                f" AND p.{carrier} = NEW.{carrier})"
                f" BEGIN SELECT RAISE(ABORT, 'FOREIGN KEY {name}'); END"
            )
    if wall.append_only or wall.frozen_once:
        when = f" WHEN OLD.{wall.frozen_once} IS NOT NULL" if wall.frozen_once else ""
        for verb in ("UPDATE", "DELETE"):
            name = f"{table}_append_only_{verb.lower()}"
            yield f"DROP TRIGGER IF EXISTS {name}"
            yield (
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table}{when}"
                f" BEGIN SELECT RAISE(ABORT, 'rows of {table} are never changed'); END"
            )


def _sqlite_circle(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
    if not wall.circle or not {parent for _, parent in wall.circle} <= tables:
        return
    (column, parent), *others = wall.circle
    first = CIRCLE_OF[parent].format(id=f"NEW.{column}")
    apart = " OR ".join(
        f"(NEW.{c} IS NOT NULL AND {CIRCLE_OF[p].format(id=f'NEW.{c}')} IS NOT {first})"
        for c, p in others
    )
    for verb in ("INSERT", "UPDATE"):
        name = f"{table}_one_circle_{verb.lower()}"
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield (
            f"CREATE TRIGGER {name} BEFORE {verb} ON {table} WHEN {apart}"
            f" BEGIN SELECT RAISE(ABORT, 'CIRCLE: rows of {table} stay within one sandbox,"
            " or outside all'); END"
        )
