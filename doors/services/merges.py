"""An owner that is here already takes over the unclaimed one that was made for it."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction

from doors.errors import InvitationInvalidError
from doors.models import Custody, Grant, Organization
from doors.reactions import Event, react
from doors.selectors.organizations import acting_party
from doors.services.implied_grants import move_leave, open_grants, owned_sites
from doors.services.invitations import take_invitation
from doors.services.joining import mark_claimed
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.sight import derive_sight, lock_sight
from doors.tenancy import Purpose, acting_for, acting_organization, looking_up


@transaction.atomic
def claim_organization(*, token: str) -> Organization:
    """Merge the unclaimed owner that the token opens into the acting organization; answers the
    alias that remains: its name and id lead to its new owner for ever.

    The two were one party all along: each custody is the new owner's from its first day, and
    what whoever made it was allowed goes on there, on those sites alone, without managing them.
    """
    invited = take_invitation(token)
    owner = acting_party()
    other = owner.sandbox_id != invited.sandbox_id or owner.id == invited.organization_id
    if invited.claims is None or other:
        raise InvitationInvalidError.at("/token", InvitationInvalidError.detail)
    lock_sight(invited.claims, owner.id)
    mark_claimed(invited.claims, into=owner.id)
    sites, implied = _hand_over(invited.claims, owner.id)
    _take_over(invited.claims, owner, sites)
    derive_sight(site_ids=sites)  # whoever gives leave there must have sight of it first
    move_leave(grants=implied, owner_name=owner.name, site_ids=sites)
    for custody in Custody.objects.filter(site_id__in=sites, ends_on=None).select_related("site"):
        react(Event.CUSTODY_PASSED, site=custody.site, begins_on=custody.begins_on)
    return Organization.objects.get(id=invited.claims)


def _hand_over(alias_id: UUID, owner_id: UUID) -> tuple[list[UUID], list[Grant]]:
    """As the one that is merged: end what it implied, and say into whom it went."""
    with acting_for(alias_id, author_id=owner_id, write=True):
        sites, implied = owned_sites(), open_grants()
        for grant in implied:
            Grant.objects.filter(id=grant.id).update(ends_on=grant.begins_on)
        content = {"into": str(owner_id), "sites": len(sites)}
        line = LedgerLine("organization_merged", alias_id, None, content)
        write_ledger(custodian_id=alias_id, lines=[line])
    return sites, implied


def _take_over(alias_id: UUID, owner: Organization, sites: Sequence[UUID]) -> None:
    with looking_up(Purpose.CUSTODY, write=True):
        held = Custody.objects.filter(owner_id=alias_id, ends_on=None).order_by("id")
        for custody in held:
            Custody.objects.filter(id=custody.id).update(ends_on=custody.begins_on)
            Custody.objects.create(
                site_id=custody.site_id,
                owner=owner,
                owner_name=owner.name,
                begins_on=custody.begins_on,
            )
    lines = [LedgerLine("custody_taken", site, site, {"from": str(alias_id)}) for site in sites]
    whole = LedgerLine("organization_taken_over", alias_id, None, {"sites": len(sites)})
    write_ledger(custodian_id=acting_organization(), lines=[whole, *lines])
