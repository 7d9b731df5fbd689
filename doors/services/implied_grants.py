"""The leave a firm has of itself on the sites of an owner it made, until that owner says else."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta, timezone
from uuid import UUID

from doors.models import Custody, Grant
from doors.reactions import Event, react
from doors.services.grants import GRANTABLE
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.sight import derive_sight
from doors.tenancy import acting_organization, current

UNCLAIMED = "Implied: this organization made the owner, whom nobody has claimed yet."
CLAIMED = "Implied: this organization made the owner and set up its sites; the owner may end it."
EVERYTHING = GRANTABLE | {"manage"}
_LAST_TO_BEGIN_A_DAY = timezone(-timedelta(hours=12))  # the furthest behind UTC


def day_begun_everywhere(now: datetime) -> date:
    """The latest civil day that has begun at every site, wherever it stands."""
    return now.astimezone(UTC).astimezone(_LAST_TO_BEGIN_A_DAY).date()


def imply_leave(*, owner_name: str, grantee_id: UUID) -> Grant:
    """As the unclaimed owner: let whoever made it do everything on all its sites."""
    grant = _grant(
        grantee_id,
        owner_name=owner_name,
        actions=EVERYTHING,
        begins_on=day_begun_everywhere(current().now),
        reason=UNCLAIMED,
    )
    _enter(grant, "leave_implied")
    return grant


def end_management(*, owner_name: str) -> None:
    """As the owner that was claimed: whoever made it goes on with the work and manages no more.

    A change of leave is a new row: the old one ends with a day that has begun at every site, and
    the new one begins with it.
    """
    today = day_begun_everywhere(current().now)
    for old in open_grants():
        old.ends_on = turns_on = max(today, old.begins_on)
        old.save(update_fields=["ends_on"])
        _enter(old, "leave_ended")
        _go_on(old, owner_name=owner_name, begins_on=turns_on)
    derive_sight(site_ids=owned_sites())


def move_leave(*, grants: Collection[Grant], owner_name: str, site_ids: Collection[UUID]) -> None:
    """As the owner that takes another over: what was implied there goes on, on those sites alone,
    from the day it began under the other name.
    """
    for old in grants:
        for site_id in site_ids:
            _go_on(old, owner_name=owner_name, begins_on=old.begins_on, site_id=site_id)
    derive_sight(site_ids=site_ids)


def _go_on(old: Grant, *, owner_name: str, begins_on: date, site_id: UUID | None = None) -> None:
    new = _grant(
        old.grantee_id,
        owner_name=owner_name,
        actions=GRANTABLE,
        begins_on=begins_on,
        reason=CLAIMED,
        site_id=site_id,
    )
    _enter(new, "leave_implied")


def open_grants() -> list[Grant]:
    """As the owner: what it has implied and not ended; an unclaimed owner gave no other."""
    return list(Grant.objects.filter(owner_id=acting_organization(), ends_on=None))


def owned_sites() -> list[UUID]:
    """As the owner: the sites that are or were in its custody."""
    owned = Custody.objects.filter(owner_id=acting_organization())
    return list(owned.values_list("site_id", flat=True).distinct())


def _grant(
    grantee_id: UUID,
    *,
    owner_name: str,
    actions: Collection[str],
    begins_on: date,
    reason: str,
    site_id: UUID | None = None,
) -> Grant:
    return Grant.objects.create(
        owner_id=acting_organization(),
        owner_name=owner_name,
        grantee_id=grantee_id,
        site_id=site_id,
        actions=sorted(actions),
        begins_on=begins_on,
        reason=reason,
        created_at=current().now,
    )


def _enter(grant: Grant, kind: str) -> None:
    content = {
        "grantee": str(grant.grantee_id),
        "actions": grant.actions,
        "from": grant.begins_on.isoformat(),
    }
    react(Event.GRANT_CHANGED, grant=grant, ended=kind == "leave_ended")
    line = LedgerLine(kind, grant.id, grant.site_id, content)
    write_ledger(custodian_id=grant.owner_id, lines=[line])
