"""Granting and ending leave to act on an owner's sites."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.db import transaction

from doors.clock import civil_date
from doors.errors import RefusedError, WrongStateError
from doors.models import Custody, Grant, Site
from doors.reactions import Event, react
from doors.selectors.organizations import acting_party, party_in_reach
from doors.selectors.sight import sight_of
from doors.selectors.visible import named_at, visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.sight import derive_sight, lock_sight
from doors.tenancy import acting_organization, current

GRANTABLE = frozenset({"read", "history", "plan", "record", "repair", "submit"})
# Who works at a site sees what stands there; who files a packet of it must know all that it holds.
_IMPLIED = {"submit": {"history"}}


@transaction.atomic
def grant_leave(
    *,
    grantee_id: UUID,
    actions: Sequence[str],
    begins_on: date,
    ends_on: date | None = None,
    site_id: UUID | None = None,
    reason: str = "",
) -> Grant:
    """Let another organization act on one site of the acting owner, or on all of them."""
    owner_id = acting_organization()
    lock_sight(owner_id)
    unknown = set(actions) - GRANTABLE
    if unknown or not actions:
        raise RefusedError.at("/actions", f"Actions are some of {', '.join(sorted(GRANTABLE))}.")
    if ends_on is not None and ends_on < begins_on:
        raise RefusedError.at("/ends_on", "A grant cannot end before it begins.")
    if party_in_reach(grantee_id) is None:
        raise RefusedError.at("/grantee", "No organization has this id.")
    if site_id is not None:
        with named_at("/site"):
            sight_of(site_id, "manage")
    grant = Grant.objects.create(
        owner_id=owner_id,
        owner_name=acting_party().name,
        grantee_id=grantee_id,
        site_id=site_id,
        actions=sorted(_implied(actions)),
        begins_on=begins_on,
        ends_on=ends_on,
        reason=reason,
        created_at=current().now,
    )
    _settle(grant, "leave_granted")
    return grant


def _implied(actions: Sequence[str]) -> set[str]:
    more = (_IMPLIED.get(action, set()) for action in actions)
    return {"read", *actions}.union(*more)


@transaction.atomic
def end_grant(*, grant_id: UUID, ends_on: date) -> Grant:
    """End an open grant; `ends_on` is the first day without it, today or later: what was seen
    and done under it until then stays lawful.
    """
    lock_sight(acting_organization())
    grant = visible(Grant.objects.filter(id=grant_id, owner_id=acting_organization()))
    if grant.ends_on is not None and grant.ends_on <= ends_on:
        raise WrongStateError("This grant ends no later than that already.")
    first = max(grant.begins_on, _today(grant))
    if ends_on < first:
        detail = f"A grant ends on {first.isoformat()} at the earliest; the past stays as it was."
        raise RefusedError.at("/ends_on", detail)
    grant.ends_on = ends_on
    grant.save(update_fields=["ends_on"])
    _settle(grant, "leave_ended")
    return grant


def _today(grant: Grant) -> date:
    """The civil day at its site; of several sites, where it is earliest."""
    sites = Site.objects.filter(id__in=_sites(grant))
    zones = set(sites.values_list("time_zone", flat=True)) or {"UTC"}
    return min(civil_date(current().now, zone) for zone in zones)


def _sites(grant: Grant) -> list[UUID]:
    if grant.site_id:
        return [grant.site_id]
    owned = Custody.objects.filter(owner_id=grant.owner_id)
    return list(owned.values_list("site_id", flat=True))


def _settle(grant: Grant, kind: str) -> None:
    derive_sight(site_ids=_sites(grant))
    content = {
        "grantee": str(grant.grantee_id),
        "actions": grant.actions,
        "from": grant.begins_on.isoformat(),
        "to": grant.ends_on.isoformat() if grant.ends_on else None,
    }
    react(Event.GRANT_CHANGED, grant=grant, ended=kind == "leave_ended")
    line = LedgerLine(kind, grant.id, grant.site_id, content)
    write_ledger(custodian_id=grant.owner_id, lines=[line])
