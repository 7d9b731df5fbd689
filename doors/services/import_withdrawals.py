"""Taking back what an import made, as far as nothing has happened to it since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from doors.errors import ServiceError, WrongStateError
from doors.models import Import, ImportRow, Job
from doors.selectors.keys import refuse_dead_key
from doors.selectors.visible import visible
from doors.services.import_kinds import kind_of_import
from doors.services.jobs import Step, ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import acting_organization, current

_Outcome = ImportRow.Outcome


@transaction.atomic
def withdraw_import(*, import_id: UUID, reason: str) -> Import:
    """Leave to a worker to take back what an import made; it is an import of its own, whose rows
    say what became of each thing.

    Only what it made is taken back, and nothing that has a life of its own by now: such a thing
    stays and is named. Rows are never deleted: a door is removed, a reported visit withdrawn.
    """
    made = visible(Import.objects.select_related("job").filter(id=import_id))
    if made.dry_run or made.withdraws_id is not None:
        raise WrongStateError("It made nothing that could be taken back.")
    if made.job.state not in {Job.State.DONE, Job.State.FAILED}:
        raise WrongStateError("It is still being read: wait until its job has ended.")
    if kind_of_import(made.kind).take_back is None:
        detail = f"No record of {made.kind} ends by being taken back; change what is wrong in them."
        raise WrongStateError(detail)
    wanted = Import(
        organization_id=acting_organization(),
        kind=made.kind,
        source_sha256=made.source_sha256,
        mapping=made.mapping,
        options={"reason": reason},
        dry_run=False,
        withdraws=made,
        columns=made.columns,
        created_at=current().now,
    )
    wanted.job = ask_for_job(kind="withdraw_import", arguments={"import": str(wanted.id)})
    wanted.save(force_insert=True)
    line = LedgerLine("import_withdrawn", made.id, None, {"by": str(wanted.id), "reason": reason})
    write_ledger(custodian_id=wanted.organization_id, lines=[line])
    return wanted


def take_back_next(job: Job) -> Step | Mapping[str, Any]:
    """Take back the next things, the latest first. Runs in a worker; the key must still stand."""
    refuse_dead_key(job.key, "imports:write")
    asked = Import.objects.get(id=UUID(job.arguments["import"]))
    rows = _touched(asked)
    cursor = job.cursor or {"row": None, "done": 0, "total": rows.count()}
    if cursor["row"] is not None:
        rows = rows.filter(row__lt=cursor["row"])
    at_once = kind_of_import(asked.kind).taken_back_at_once
    fates = _fates(asked, list(rows[:at_once]))
    ImportRow.objects.bulk_create(fates)
    counts = dict.fromkeys(_Outcome.values, 0) | asked.counts
    for fate in fates:
        counts[fate.outcome] += 1
    asked.counts = counts | {"rows": cursor["total"]}
    asked.save(update_fields=["counts"])
    if not fates:
        return asked.counts
    done = cursor["done"] + len(fates)
    return Step(done, cursor["total"], cursor | {"row": fates[-1].row, "done": done})


def _touched(asked: Import) -> QuerySet[ImportRow]:
    """The rows of the import to be taken back that made or changed something."""
    rows = ImportRow.objects.filter(of_import=asked.withdraws_id)
    return rows.filter(outcome__in=(_Outcome.CREATED, _Outcome.UPDATED)).order_by("-row")


def _fates(asked: Import, rows: Sequence[ImportRow]) -> list[ImportRow]:
    """Take back what these rows made; what became of each."""
    take_back = kind_of_import(asked.kind).take_back
    assert take_back is not None  # noqa: S101 (looked at when it was asked for)
    made = {each.thing for each in rows if each.outcome == _Outcome.CREATED and each.thing}
    stay = take_back(made, asked.options["reason"]) if made else {}
    return [_fate(asked, each, stay) for each in rows]


def _fate(asked: Import, made: ImportRow, stay: Mapping[UUID, ServiceError]) -> ImportRow:
    fate = ImportRow(
        organization_id=asked.organization_id,
        of_import=asked,
        row=made.row,
        reference=made.reference,
        thing=made.thing,
        outcome=_Outcome.TAKEN_BACK,
    )
    if why := _kept(made, stay):
        fate.outcome, fate.problems = _Outcome.KEPT, [why]
    return fate


def _kept(made: ImportRow, stay: Mapping[UUID, ServiceError]) -> dict[str, str] | None:
    """Why a thing stays; None where it has been taken back."""
    if made.outcome != _Outcome.CREATED or made.thing is None:
        detail = "It stood before; what the import changed in it stays changed."
        return {"column": "", "code": "not_made_by_it", "detail": detail}
    if made.thing in stay:
        why = stay[made.thing]
        return {"column": "", "code": why.code, "detail": why.detail}
    return None
