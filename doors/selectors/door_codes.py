"""What a code at a door opens, before anybody's organization is known."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from doors.models import DoorCode, Opening
from doors.selectors.sight import custodian_of
from doors.tenancy import Purpose, looking_up

_SHAPE = re.compile(r"[0-9a-f]{64}", re.ASCII)


@dataclass(frozen=True, slots=True)
class AtDoor:
    """The one door that a code opens, and who answers for it now."""

    code_id: UUID
    opening_id: UUID
    custodian_id: UUID
    calls: list[dict[str, Any]]


def code_digest(code: str) -> str:
    """SHA-256 of a code; it is 256 random bits, so a slow hash would add nothing."""
    return hashlib.sha256(code.encode()).hexdigest()


def door_of(code: str) -> AtDoor | None:
    """What the code opens; None for whatever is wrong with it."""
    if not _SHAPE.fullmatch(code):
        return None
    with looking_up(Purpose.DOOR):
        row = DoorCode.objects.filter(code_sha256=code_digest(code), revoked_at=None).first()
    if row is None or row.custodian_id != custodian_of(row.site_id):
        return None
    return AtDoor(row.id, row.opening_id, row.custodian_id, row.calls)


def codes_of(opening: Opening) -> QuerySet[DoorCode]:
    """The codes of a door that its owner of now has, or had; those of an earlier one are gone."""
    return DoorCode.objects.filter(opening=opening, custodian_id=custodian_of(opening.site_id))
