"""What SQLite can hold of the walls: triggers for homes and for what is never changed."""

from __future__ import annotations

from collections.abc import Iterator

from doors.walls.wall import CIRCLE_OF, Wall


def triggers(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
    """The statements that guard one table, each made anew."""
    yield from (*_circle(table, wall, tables), *_one_at_a_time(table, wall))
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
    yield from _homes(table, wall, tables)
    if wall.chained:
        name = f"{table}_chained"
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield (
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} BEGIN"
            " UPDATE doors_ledgerhead SET position = NEW.position,"
            " entry_sha256 = NEW.entry_sha256 WHERE organization_id = NEW.organization_id"
            " AND position = NEW.position - 1;"
            " SELECT RAISE(ABORT, 'a line of the ledger follows the last') WHERE changes() = 0;"
            " END"
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


def _one_at_a_time(table: str, wall: Wall) -> Iterator[str]:
    for verb in ("INSERT", "UPDATE"):
        name = f"{table}_one_at_a_time_{verb.lower()}"
        yield f"DROP TRIGGER IF EXISTS {name}"
        if wall.one_at_a_time:
            yield (
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table} WHEN EXISTS (SELECT 1 FROM {table}"
                f" o WHERE o.id <> NEW.id AND o.{wall.one_at_a_time} = NEW.{wall.one_at_a_time}"
                " AND max(o.begins_on, NEW.begins_on)"
                " < min(coalesce(o.ends_on, '9999-12-31'), coalesce(NEW.ends_on, '9999-12-31')))"
                f" BEGIN SELECT RAISE(ABORT, 'OVERLAP {name}'); END"
            )


def _homes(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
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


def _circle(table: str, wall: Wall, tables: set[str]) -> Iterator[str]:
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
