"""Making codes for doors, and making them worthless."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from doors.models import DoorCode
from doors.selectors.door_codes import code_digest, codes_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.lives import refuse_removed
from doors.services.openings import opening_in_care
from doors.tenancy import current


@transaction.atomic
def make_door_code(
    *, opening_id: UUID, label: str, calls: Sequence[Mapping[str, str]] = ()
) -> tuple[DoorCode, str]:
    """Make a code for one door; its address is returned this once, and kept as a digest."""
    opening, sight = opening_in_care(opening_id)
    refuse_removed(opening)
    secret = secrets.token_hex(32)
    code = DoorCode.objects.create(
        site_id=opening.site_id,
        opening=opening,
        custodian_id=sight.custodian_id,
        label=label,
        calls=[dict(each) for each in calls],
        code_sha256=code_digest(secret),
        created_at=current().now,
    )
    line = LedgerLine("door_code_made", code.id, opening.site_id, {"opening": str(opening.id)})
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return code, f"{settings.PUBLIC_URL}{reverse('door', args=[secret])}"


@transaction.atomic
def revoke_door_code(*, opening_id: UUID, code_id: UUID) -> DoorCode:
    """Make a code worthless; who uses it finds nothing from then on. Repeating changes nothing."""
    opening, sight = opening_in_care(opening_id)
    rows = codes_of(opening).filter(id=code_id)
    code = visible(rows)
    if rows.filter(revoked_at=None).update(revoked_at=current().now):
        code.refresh_from_db()
        line = LedgerLine("door_code_revoked", code.id, opening.site_id, {})
        write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return code
