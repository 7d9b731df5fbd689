"""Nobody who may add to a chain chooses its number, its time, its author or its hash."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import rfc8785
from django.db import DatabaseError, connection, transaction

from doors.models import LedgerEntry, LedgerHead
from doors.services.ledger import LedgerLine, verify_ledger, write_ledger
from doors.tenancy import acting_for
from tests.cast import Cast

Forge = Callable[[LedgerEntry, dict[str, Any]], None]


def _next(cast: Cast) -> tuple[LedgerEntry, dict[str, Any]]:
    """The line that would be let in next, in the firm's words, and what it says."""
    head = LedgerHead.objects.get(organization=cast.owner)
    with transaction.atomic():
        (line,) = write_ledger(
            custodian_id=cast.owner.id,
            lines=[LedgerLine("noted", uuid4(), cast.site.id, {"words": "x"})],
        )
        transaction.set_rollback(True)
    assert line.position == head.position + 1
    return line, json.loads(line.body)


def _enter(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.body = rfc8785.dumps(said).decode()
    line.entry_sha256 = line.entry_sha256 or hashlib.sha256(line.body.encode()).hexdigest()
    with transaction.atomic():
        LedgerEntry.objects.bulk_create([line])


def _another_number(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.position = said["position"] = line.position + 1


def _an_old_number(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.position = said["position"] = 1


def _yesterday(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.recorded_at -= timedelta(days=1)
    said["recorded_at"] = line.recorded_at.isoformat()


def _tomorrow(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.recorded_at += timedelta(days=1)
    said["recorded_at"] = line.recorded_at.isoformat()


def _another_time_in_the_text(line: LedgerEntry, said: dict[str, Any]) -> None:
    said["recorded_at"] = "2020-01-01T00:00:00+00:00"


def _anothers_words(line: LedgerEntry, said: dict[str, Any]) -> None:
    said["actor"] = str(uuid4())


def _another_chain(line: LedgerEntry, said: dict[str, Any]) -> None:
    said["organization"] = str(uuid4())


def _a_hash_of_nothing(line: LedgerEntry, said: dict[str, Any]) -> None:
    line.entry_sha256 = "0" * 64


def _another_line_before(line: LedgerEntry, said: dict[str, Any]) -> None:
    said["previous"] = "0" * 64


FORGERIES: list[Forge] = [
    _another_number,
    _an_old_number,
    _yesterday,
    _tomorrow,
    _another_time_in_the_text,
    _anothers_words,
    _another_chain,
    _a_hash_of_nothing,
    _another_line_before,
]


@pytest.mark.postgres
@pytest.mark.parametrize("forge", FORGERIES, ids=lambda forge: forge.__name__.strip("_"))
def test_a_forged_line_is_let_in_by_nobody(cast: Cast, forge: Forge) -> None:
    """Though a firm with sight may add to the custodian's chain."""
    with acting_for(cast.firm.id, write=True):
        line, said = _next(cast)
        line.entry_sha256 = ""
        forge(line, said)
        with pytest.raises(DatabaseError):
            _enter(line, said)
    with acting_for(cast.owner.id, write=False):
        assert verify_ledger()[1] is None


def test_the_same_line_unforged_is_let_in(cast: Cast) -> None:
    """Else the refusals above would show nothing."""
    with acting_for(cast.firm.id, write=True):
        line, said = _next(cast)
        line.entry_sha256 = ""
        _enter(line, said)
    with acting_for(cast.owner.id, write=False):
        assert verify_ledger()[1] is None
        assert LedgerHead.objects.get(organization=cast.owner).position == line.position


@pytest.mark.postgres
def test_nobody_moves_a_head_but_by_a_line(cast: Cast) -> None:
    """Neither forward, which would break the chain, nor its hash."""
    with acting_for(cast.firm.id, write=True):
        for change in ("position = position + 1", "entry_sha256 = ''"):
            with pytest.raises(DatabaseError, match="permission"), transaction.atomic():
                connection.cursor().execute(f"UPDATE doors_ledgerhead SET {change}")
