"""What a wall is, and which tables have one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.db import models

from doors.tenancy import Purpose
from doors.unwalled import UNWALLED


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
    `chained` lets a row in only as the next of its organization's chain, whose head it moves.
    Purposes named in `open_to` read every row, those in `written_by` also write.
    `one_at_a_time` names a column: rows that agree on it never overlap, from `begins_on` to the
    day before `ends_on`.
    `circle` are (column, table) pairs that must all lie in one sandbox, or all in none: an
    organization, an account, a site by its author, or a jurisdiction.
    """

    read: str
    write: str
    change: str = ""
    changeable: tuple[str, ...] = ()
    kin: tuple[tuple[str, str], ...] = ()
    rising: str = ""
    one_at_a_time: str = ""
    circle: tuple[tuple[str, str], ...] = ()
    homes: tuple[tuple[str, str], ...] = ()
    append_only: bool = False
    frozen_once: str = ""
    once: tuple[str, ...] = ()
    deletable: bool = False
    chained: bool = False
    open_to: frozenset[Purpose] = frozenset()
    written_by: frozenset[Purpose] = frozenset()


CIRCLE_OF = {  # SQL: the sandbox in which the row of that id lies
    "doors_organization": "(SELECT c.sandbox_id FROM doors_organization c WHERE c.id = {id})",
    "doors_account": "(SELECT c.sandbox_id FROM doors_account c WHERE c.id = {id})",
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
