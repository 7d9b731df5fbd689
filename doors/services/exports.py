"""Exporting: asked for, written in pieces that each look for leave, handed out whole or not."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from tempfile import TemporaryFile
from typing import IO, Any
from uuid import UUID

from django.conf import settings
from django.core.files.base import ContentFile, File
from django.core.files.storage import default_storage
from django.db import transaction

from doors.errors import NotAllowedError, NotVisibleError, RefusedError
from doors.models import Export, Job, Sight
from doors.selectors.keys import refuse_dead_key
from doors.selectors.sight import sight_of
from doors.selectors.visible import named_at, visible
from doors.services.archives import write_archive
from doors.services.export_kinds import ExportedTable, tables_of
from doors.services.jobs import Step, ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.records import csv_lines, json_lines
from doors.tenancy import Purpose, acting_organization, current, looking_up

CHUNK = 500  # rows in one transaction, or fewer:
LARGEST_PIECE = 8_000_000  # bytes after which a transaction ends, for a row may hold many traces
ACCOUNT = "account"


@transaction.atomic
def ask_for_export(*, kind: str, form: str, site_id: UUID | None = None) -> Export:
    """Leave the writing of what is in sight, or of one site of it, to a worker."""
    if (kind == ACCOUNT) is not (form == Export.Form.ZIP):
        raise RefusedError.at("/form", "A whole account comes as zip, a table as csv or jsonl.")
    if site_id is not None:
        with named_at("/site"):
            sight_of(site_id, "read")
    export = Export(
        organization_id=acting_organization(),
        kind=kind,
        form=form,
        filters={"site": str(site_id)} if site_id else {},
        sites=sorted(_sites_now(site_id)),
        created_at=current().now,
    )
    export.job = ask_for_job(kind="write_export", arguments={"export": str(export.id)})
    export.save(force_insert=True)
    content = {"kind": kind, "form": form, "site": str(site_id) if site_id else None}
    line = LedgerLine("export_asked_for", export.id, site_id, content)
    write_ledger(custodian_id=export.organization_id, lines=[line])
    return export


def _sites_now(site_id: UUID | None) -> set[str]:
    sights = Sight.active(acting_organization(), current().now).filter(may_read=True)
    found = sights.filter(site_id=site_id) if site_id else sights
    return {str(each) for each in found.values_list("site_id", flat=True)}


def _refuse_lost_leave(export: Export) -> None:
    """What has been begun under more leave than there is now is not handed out."""
    named = export.filters.get("site")
    lost = set(export.sites) - _sites_now(UUID(named) if named else None)
    if lost:
        detail = f"Your leave for {len(lost)} of the sites has ended meanwhile: ask again."
        raise NotAllowedError(detail)


def export_by_id(export_id: UUID) -> Export:
    """The acting organization's export, or nothing by this address."""
    return visible(Export.objects.select_related("job").filter(id=export_id))


def write_export(job: Job) -> Step | Mapping[str, Any]:
    """Write the next piece in a transaction of its own, having looked for leave; at last put the
    pieces together. Runs in a worker; a piece written twice is the same piece.
    """
    refuse_dead_key(job.key, "exports:write")
    export = Export.objects.get(id=UUID(job.arguments["export"]))
    _refuse_lost_leave(export)
    tables = tables_of(export.kind)
    at: dict[str, Any] = job.cursor or {"table": 0, "after": None, "rows": [], "pieces": []}
    if at["table"] == len(tables):
        return _finished(export, tables, at)
    table = tables[at["table"]]
    rows = _next_rows(export, table, at["after"])
    heading = at["after"] is None
    piece, taken = _written(export, table, rows, heading=heading)
    if heading:
        at = at | {"rows": [*at["rows"], 0], "pieces": [*at["pieces"], 0]}
    _put(_piece(export, at["table"], at["pieces"][-1]), piece)
    at["rows"][-1] += len(taken)
    at["pieces"][-1] += 1
    more = len(rows) == CHUNK or len(taken) < len(rows)
    moved = {"after": str(taken[-1].pk)} if more else {"table": at["table"] + 1, "after": None}
    done = sum(at["rows"])
    return Step(done, done + 1, at | moved)


def _written(
    export: Export, table: ExportedTable, rows: list[Any], *, heading: bool
) -> tuple[bytes, list[Any]]:
    """The next rows as bytes, and which of them these are: each is read as it is written, so that
    no more of them than one piece is in memory.
    """
    piece, taken = bytearray(), list[Any]()
    if export.form == Export.Form.CSV:
        piece += csv_lines(table.columns, [], heading=heading)
    for row in rows:
        if taken and len(piece) >= LARGEST_PIECE:
            break
        record = [table.record(row)]
        piece += (
            csv_lines(table.columns, record, heading=False)
            if export.form == Export.Form.CSV
            else json_lines(record)
        )
        taken.append(row)
    return bytes(piece), taken


def _next_rows(export: Export, table: ExportedTable, after: str | None) -> list[Any]:
    rows = table.rows()
    if table.born:
        rows = rows.filter(**{f"{table.born}__lte": export.created_at})
    column = "site_id" if table.of_sites else "id"
    if (table.of_sites or table.name == "sites") and export.filters:
        rows = rows.filter(**{column: export.filters["site"]})
    if after is not None:
        rows = rows.filter(pk__gt=after)
    return list(rows.order_by("pk")[:CHUNK])


def _place(export: Export) -> str:
    return f"exports/{export.organization_id}/{export.id}"


def _piece(export: Export, table: int, piece: int) -> str:
    return f"{_place(export)}/{table:03}-{piece:06}"


def file_of(export: Export) -> str:
    """Where the whole file lies in the storage."""
    return f"{_place(export)}/whole"


def _put(name: str, content: bytes) -> None:
    if default_storage.exists(name):
        default_storage.delete(name)  # a piece of an attempt that was lost
    default_storage.save(name, ContentFile(content))


def _finished(export: Export, tables: list[ExportedTable], at: dict[str, Any]) -> Mapping[str, Any]:
    """Put the pieces together, and say what the whole is."""
    pieces = {
        table.name: [_piece(export, number, each) for each in range(at["pieces"][number])]
        for number, table in enumerate(tables)
    }
    counts = {table.name: at["rows"][number] for number, table in enumerate(tables)}
    with TemporaryFile() as whole:
        if export.form == Export.Form.ZIP:
            write_archive(whole, export, pieces, counts)
        else:
            for name in pieces[tables[0].name]:
                copy_into(whole, name)
        size, digest = whole.tell(), _digest(whole)
        whole.seek(0)
        if default_storage.exists(file_of(export)):
            default_storage.delete(file_of(export))
        default_storage.save(file_of(export), File(whole))
    for name in (name for names in pieces.values() for name in names):
        default_storage.delete(name)
    export.file_sha256, export.file_size, export.rows = digest, size, sum(counts.values())
    export.expires_at = current().now + settings.EXPORTS_KEPT_FOR
    export.save(update_fields=["file_sha256", "file_size", "rows", "expires_at"])
    content = {"file_sha256": digest, "rows": export.rows}
    line = LedgerLine("export_written", export.id, None, content)
    write_ledger(custodian_id=export.organization_id, lines=[line])
    return {"export": str(export.id), "rows": counts}


def copy_into(whole: IO[bytes], name: str) -> None:
    """Append a stored file."""
    with default_storage.open(name) as part:
        for block in part.chunks():
            whole.write(block)


def _digest(whole: IO[bytes]) -> str:
    whole.seek(0)
    return hashlib.file_digest(whole, "sha256").hexdigest()  # type: ignore[arg-type]


def open_export(export_id: UUID) -> tuple[Export, File[bytes]]:
    """The whole file of an export, while it is kept and its leave still stands."""
    export = export_by_id(export_id)
    if not export.file_sha256 or export.expires_at is None or export.expires_at <= current().now:
        raise NotVisibleError("It is not written, or no longer kept: see the export itself.")
    _refuse_lost_leave(export)
    return export, default_storage.open(file_of(export))


def forget_old_exports() -> int:
    """Delete the files of exports kept longer than settings.EXPORTS_KEPT_FOR; answers how many."""
    with looking_up(Purpose.SWEEP, write=True):
        oldest = current().now - settings.EXPORTS_KEPT_FOR
        old = Export.objects.filter(created_at__lt=oldest).exclude(form="")
        gone = [export for export in old[:200] if _deleted(export)]
    return len(gone)


def _deleted(export: Export) -> bool:
    """Whether anything of it was still kept."""
    try:
        _, names = default_storage.listdir(_place(export))
    except FileNotFoundError:
        return False
    for name in names:
        default_storage.delete(f"{_place(export)}/{name}")
    return bool(names)
