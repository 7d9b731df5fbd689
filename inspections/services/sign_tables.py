"""A door's own table of signs, written by its owner or by a firm that works there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast
from uuid import UUID

from django.db import transaction

from doors.selectors.openings import lock_opening
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.openings import opening_in_care
from doors.services.versions import state_row
from doors.tenancy import current
from inspections.models import SignTable
from rules.practice.signs import read_own


@transaction.atomic
def set_sign_table(
    *, opening_id: UUID, entries: Sequence[Mapping[str, Any]], expected: frozenset[int] | None
) -> SignTable:
    """Put these rows in place of those that stood; refuses what the rules library cannot read."""
    lock_opening(opening_id)
    opening, sight = opening_in_care(opening_id, "record", "manage")
    read_own(entries, "/entries")
    written = {"entries": [dict(each) for each in entries], "changed_at": current().now}
    rows = SignTable.objects.filter(opening=opening)
    begun_with = {"site_id": opening.site_id, "opening": opening}
    table = cast("SignTable", state_row(rows, expected=expected, begun_with=begun_with, **written))
    content = {"opening": str(opening.id), "entries_sha256": canonical_digest(table.entries)}
    line = LedgerLine("sign_table_set", table.id, opening.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return table
