"""Importing a table: asked for, run chunk by chunk, each row's fate kept by its number."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError
from doors.models import Import, ImportRow, Job
from doors.selectors.keys import refuse_dead_key
from doors.selectors.sight import sight_of
from doors.selectors.visible import named_at, visible
from doors.services.blobs import named_blob, original_bytes
from doors.services.import_chunks import chunk_of
from doors.services.import_kinds import kind_of_import
from doors.services.jobs import Step, ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.tables import Table, read_table
from doors.tenancy import acting_organization, current

CHUNK = 100  # rows, where nobody says otherwise: others write between two chunks
MOST_IN_A_CHUNK = 1_000


@transaction.atomic
def ask_for_import(
    *,
    kind: str,
    source_sha256: str,
    mapping: Mapping[str, str],
    options: Mapping[str, Any],
    dry_run: bool,
    follows: UUID | None = None,
) -> Import:
    """Leave the reading of a table to a worker; what can be seen at once is refused at once.

    A real import names the dry run of the same table, read the same way, that it follows, unless
    the options say `without_dry_run`.
    """
    blob = named_blob(source_sha256, ("text/csv",), "/source_sha256")
    content = original_bytes(blob.organization_id, source_sha256)
    table = read_table(content, options.get("separator"))
    if options.get("site"):
        with named_at("/site"):
            sight_of(UUID(options["site"]), "manage", "record")
    _refuse_mapping(kind, table, mapping)
    wanted = Import(
        organization_id=acting_organization(),
        kind=kind,
        source_sha256=source_sha256,
        mapping=dict(mapping),
        options=dict(options),
        dry_run=dry_run,
        columns=list(table.columns),
        created_at=current().now,
    )
    wanted.follows = None if dry_run else _followed(wanted, follows)
    wanted.job = ask_for_job(kind="import_table", arguments={"import": str(wanted.id)})
    wanted.save(force_insert=True)
    content_of = {"kind": kind, "source_sha256": source_sha256, "dry_run": dry_run}
    line = LedgerLine("import_asked_for", wanted.id, None, content_of)
    write_ledger(custodian_id=wanted.organization_id, lines=[line])
    return wanted


def _refuse_mapping(kind: str, table: Table, mapping: Mapping[str, str]) -> None:
    """Refuse a mapping from columns that are not there, to fields that are not, or not enough."""
    columns = kind_of_import(kind).by_name
    for column, field in mapping.items():
        if column not in table.columns:
            raise RefusedError.at("/mapping", f"The table has no column {column[:60]!r}.")
        if field and field not in columns:
            raise RefusedError.at("/mapping", f"There is no field {field[:60]!r} to be mapped to.")
    given = list(fields_of(table, mapping).values())
    twice = sorted({field for field in given if given.count(field) > 1})
    if twice:
        raise RefusedError.at("/mapping", f"Two columns give {twice[0]!r}.")
    unknown = [c for c in table.columns if c not in mapping and c not in columns]
    if unknown:
        detail = f"The column {unknown[0][:60]!r} is no field: map it, to an empty name to skip it."
        raise RefusedError.at("/mapping", detail)
    missing = [c.name for c in columns.values() if c.required and c.name not in given]
    if missing:
        raise RefusedError.at("/mapping", f"No column gives {', '.join(missing)}.")


def fields_of(table: Table, mapping: Mapping[str, str]) -> dict[str, str]:
    """Which field each column gives; a column mapped to an empty name is skipped."""
    named = {column: mapping.get(column, column) for column in table.columns}
    return {column: field for column, field in named.items() if field}


def _followed(wanted: Import, follows: UUID | None) -> Import | None:
    if follows is None:
        if wanted.options.get("without_dry_run"):
            return None
        raise RefusedError.at("/follows", "Name the dry run it follows, or say without_dry_run.")
    dry = Import.objects.select_related("job").filter(id=follows, dry_run=True).first()
    if dry is None or dry.job.state != Job.State.DONE:
        raise RefusedError.at("/follows", "No dry run of yours that has ended has this id.")
    same = ("kind", "source_sha256", "mapping")
    if any(getattr(dry, name) != getattr(wanted, name) for name in same):
        raise RefusedError.at("/follows", "That was a dry run of another table, or read otherwise.")
    reading = ("site", "separator", "date_order", "values")
    if any(dry.options.get(name) != wanted.options.get(name) for name in reading):
        raise RefusedError.at("/follows", "That dry run was read with other options.")
    return dry


def import_by_id(import_id: UUID) -> Import:
    """The acting organization's import, or nothing by this address."""
    return visible(Import.objects.select_related("job").filter(id=import_id))


def import_table(job: Job) -> Step | Mapping[str, Any]:
    """Read the next chunk: all of its rows or, where one cannot be taken, none. Runs in a worker.

    The key that asked must still stand, and each row's leave is looked for as it is done.
    """
    refuse_dead_key(job.key, "imports:write")
    asked = Import.objects.get(id=UUID(job.arguments["import"]))
    table = read_table(
        original_bytes(asked.organization_id, asked.source_sha256), asked.options.get("separator")
    )
    cursor = job.cursor or {"row": 0, "done": 0, "total": sum(1 for _ in table.rows())}
    chunk = chunk_of(asked, table, after=cursor["row"], fields=fields_of(table, asked.mapping))
    fates = chunk.run()
    ImportRow.objects.bulk_create(fates)
    _count(asked, cursor["total"], fates)
    if not chunk.numbers:
        return asked.counts
    done = cursor["done"] + len(fates)
    return Step(done, cursor["total"], cursor | {"row": chunk.numbers[-1], "done": done})


def _count(asked: Import, total: int, fates: list[ImportRow]) -> None:
    counts = dict.fromkeys(ImportRow.Outcome.values, 0) | asked.counts
    for fate in fates:
        counts[fate.outcome] += 1
    asked.counts = counts | {"rows": total}
    asked.save(update_fields=["counts"])
