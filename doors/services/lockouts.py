"""Nobody shuts their own organization out by mistake: somebody is left who can let others in."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from uuid import UUID

from doors.errors import LastAdministratorError
from doors.models import Key, Member, Organization, Role
from doors.selectors.keys import live_keys
from doors.tenancy import acting_organization

LETS_IN = frozenset({"keys:write"})  # what a key must reach to make another


def lock_access() -> None:
    """Let nobody else change who may act for the organization until this transaction ends.

    Call it first: what is counted afterwards is then what stands.
    """
    list(Organization.objects.select_for_update().filter(id=acting_organization()))


def keep_an_administrator(
    *, without_members: AbstractSet[UUID] = frozenset(), without_key: UUID | None = None
) -> None:
    """Refuse to take away the last administrator and the last key that makes keys together.

    Where neither is left over, nobody inside could ever let anybody in again. What takes away
    none of either is never refused.
    """
    members = Member.objects.filter(role=Role.ADMINISTRATOR, ends_at=None)
    keys = [key for key in live_keys().filter(member=None) if set(key.scopes) >= LETS_IN]
    takes = members.filter(id__in=without_members).exists() or _lets_in(keys, without_key)
    left = members.exclude(id__in=without_members).exists() or any(
        key.id != without_key for key in keys
    )
    if takes and not left:
        raise LastAdministratorError


def _lets_in(keys: list[Key], key_id: UUID | None) -> bool:
    return any(key.id == key_id for key in keys)
