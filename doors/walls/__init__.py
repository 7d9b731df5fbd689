"""The second wall: what PostgreSQL itself refuses, declared once beside the models.

Every tenant model carries a `WALL`. `raise_walls` turns the declarations into forced row-level
security, composite keys that carry the home, and append-only triggers; it runs after every
migration and is idempotent. SQLite has no row security: there the composite keys and the
append-only rule are triggers, and the scoping manager is the only other wall, which is why
production refuses it.
"""

from __future__ import annotations

from django.db import connections

from doors.walls.clauses import (
    AUTHORED,
    ORGANIZATION,
    OWN,
    OWN_SANDBOX,
    SOMEBODY,
    in_own_time,
    in_sight,
)
from doors.walls.postgresql import raise_on_postgresql
from doors.walls.sqlite import triggers
from doors.walls.wall import Wall, unwalled_models, walled_models

__all__ = [
    "AUTHORED",
    "ORGANIZATION",
    "OWN",
    "OWN_SANDBOX",
    "SOMEBODY",
    "Wall",
    "in_own_time",
    "in_sight",
    "raise_walls",
    "unwalled_models",
    "walled_models",
]


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
            raise_on_postgresql(cursor, present, tables)
            return
        for table, wall in present:
            for statement in triggers(table, wall, tables):
                cursor.execute(statement)
