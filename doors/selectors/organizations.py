"""The organization at work, and others by the id that one of them was told."""

from __future__ import annotations

from uuid import UUID

from doors.models import Organization
from doors.tenancy import Purpose, current, looking_up


def acting_party() -> Organization:
    """The organization whose words are written, with the name that they will carry."""
    context = current()
    if context.author == context.acting:
        return Organization.objects.get(id=context.acting)
    return party_by_id(context.author)


def party_by_id(organization_id: UUID) -> Organization:
    """Another organization, which whoever offers or grants it something must know by its id."""
    with looking_up(Purpose.CUSTODY):
        return Organization.objects.get(id=organization_id)
