"""Members: in which role an account serves the organization, and until when."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from uuid import UUID

from django.db import transaction

from doors.errors import RefusedError, WrongStateError
from doors.models import ROLES, Member, Role
from doors.selectors.members import member_by_id
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.lockouts import keep_an_administrator, lock_access
from doors.services.versions import change_row
from doors.tenancy import acting_organization, current


def refuse_beyond(role: str, reach: AbstractSet[str]) -> None:
    """Refuse to give, or to take, a role that reaches further than whoever does it."""
    beyond = ROLES[role] - reach
    if beyond:
        among = ", ".join(sorted(beyond)[:5])
        raise RefusedError.at("/role", f"The role {role} reaches further than you: {among}.")


@transaction.atomic
def change_role(
    *, member_id: UUID, role: str, reach: AbstractSet[str], expected: frozenset[int] | None
) -> Member:
    """Give a member another role. `reach` are the scopes of whoever does it: neither the old
    role nor the new one may go beyond.
    """
    lock_access()
    member = _serving(member_id)
    for each in (member.role, role):
        refuse_beyond(each, reach)
    if role != Role.ADMINISTRATOR:
        keep_an_administrator(without_members={member_id})
    was = member.role
    changed = {} if role == was else {"role": role}
    change_row(Member.objects.filter(id=member_id), expected=expected, **changed)
    if changed:
        _enter("role_changed", member_id, {"from": was, "to": role})
    return member_by_id(member_id)


@transaction.atomic
def end_member(*, member_id: UUID, reach: AbstractSet[str]) -> Member:
    """End a membership: the next request of its pages and its keys is refused."""
    lock_access()
    member = _serving(member_id)
    refuse_beyond(member.role, reach)
    keep_an_administrator(without_members={member_id})
    rows = Member.objects.filter(id=member_id)
    change_row(rows, expected=None, ends_at=current().now)
    _enter("member_ended", member_id, {"role": member.role})
    return member_by_id(member_id)


def _serving(member_id: UUID) -> Member:
    member = visible(Member.objects.filter(id=member_id))
    if member.ends_at is not None:
        raise WrongStateError("This membership has ended.")
    return member


def _enter(kind: str, member_id: UUID, content: dict[str, str]) -> None:
    line = LedgerLine(kind, member_id, None, content)
    write_ledger(custodian_id=acting_organization(), lines=[line])
