"""The organization at work, and others that it knows or was told of by their id."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Count, Q

from doors.models import ACTIONS, Organization, Sight
from doors.selectors.visible import visible
from doors.tenancy import Purpose, acting_organization, current, looking_up


def acting_party() -> Organization:
    """The organization whose words are written, with the name that they will carry."""
    context = current()
    if context.author == context.acting:
        return Organization.objects.get(id=context.acting)
    return party_by_id(context.author)


def party_in_reach(organization_id: UUID) -> Organization | None:
    """An organization that the acting one may meet: both of one sandbox, or neither of any. One
    across that border is as if it had never been.
    """
    acting = current().acting
    with looking_up(Purpose.CUSTODY):
        found = Organization.objects.in_bulk([acting, organization_id])
    other = found.get(organization_id)
    return other if other and other.sandbox_id == found[acting].sandbox_id else None


def party_by_id(organization_id: UUID) -> Organization:
    """Another organization, which whoever offers or grants it something must know by its id."""
    with looking_up(Purpose.CUSTODY):
        return Organization.objects.get(id=organization_id)


def organization_by_id(organization_id: UUID) -> Organization:
    """An organization that the acting one knows, or nothing by this address."""
    return visible(Organization.objects.filter(id=organization_id))


def sites_by_custodian() -> dict[UUID, dict[str, int]]:
    """For each custodian on whose sites one may act now: on how many, by action."""
    sights = Sight.active(acting_organization(), current().now)
    counts = {
        action: Count("site_id", filter=Q(**{f"may_{action}": True}), distinct=True)
        for action in ACTIONS
    }
    rows = sights.values_list("custodian_id").annotate(**counts).order_by("custodian_id")
    return {row[0]: dict(zip(ACTIONS, row[1:], strict=True)) for row in rows}
