"""Making organizations and their people."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID, uuid4

from django.db import transaction

from doors.models import LedgerHead, Organization, Person
from doors.services.ledger import FIRST
from doors.tenancy import Purpose, acting_for, acting_organization, looking_up


@transaction.atomic
def register_organization(
    *,
    name: str,
    capabilities: Sequence[str],
    address: Sequence[str] = (),
    language: str = "en",
    demonstration: bool = False,
    id: UUID | None = None,  # noqa: A002 - a client may bring its own random id
) -> Organization:
    """Make an organization with the head of an empty ledger."""
    with looking_up(Purpose.SET_UP, write=True) as context:
        organization = Organization.objects.create(
            id=id or uuid4(),
            name=name,
            capabilities=sorted(capabilities),
            address=list(address),
            language=language,
            demonstration=demonstration,
            created_at=context.now,
            claimed_at=context.now,
        )
    with acting_for(organization.id, write=True):
        LedgerHead.objects.create(organization=organization, entry_sha256=FIRST)
    return organization


def add_person(
    *,
    name: str,
    email: str = "",
    telephone: str = "",
    position: str = "",
    language: str = "en",
    receives_notices: bool = False,
) -> Person:
    """Add a person to the acting organization."""
    return Person.objects.create(
        organization_id=acting_organization(),
        name=name,
        email=email,
        telephone=telephone,
        position=position,
        language=language,
        receives_notices=receives_notices,
    )
