"""Making organizations, and what they say of themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction

from doors.errors import AlreadyExistsError, NotAllowedError
from doors.models import Capability, LedgerHead, Organization
from doors.selectors.organizations import acting_party, organization_by_id
from doors.services.implied_grants import imply_leave, owned_sites
from doors.services.ledger import FIRST, LedgerLine, canonical_digest, write_ledger
from doors.services.sight import derive_sight, lock_sight
from doors.services.versions import change_row
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up


@transaction.atomic
def register_organization(
    *,
    name: str,
    capabilities: Sequence[str],
    address: Sequence[str] = (),
    language: str = "en",
    demonstration: bool = False,
    sandbox_id: UUID | None = None,
    id: UUID | None = None,  # noqa: A002 - a client may bring its own random id
) -> Organization:
    """Make an organization that speaks for itself from the start."""
    with looking_up(Purpose.SET_UP, write=True) as context:
        organization = Organization.objects.create(
            id=id or uuid4(),
            name=name,
            capabilities=sorted(capabilities),
            address=list(address),
            language=language,
            demonstration=demonstration,
            sandbox_id=sandbox_id,
            created_at=context.now,
            claimed_at=context.now,
        )
    _begin_ledger(organization)
    return organization


@transaction.atomic
def make_owner(
    *, reference: str, name: str, address: Sequence[str] = (), language: str = "en"
) -> tuple[Organization, bool]:
    """Make an owner that nobody of its own has claimed yet, and the leave to act on its sites.

    The acting organization's own `reference` makes it safe to repeat: the same again answers the
    one that stands, with False; anything else under it is refused.
    """
    said = {"name": name, "address": list(address), "language": language}
    standing = _by_reference(reference, said)
    if standing is not None:
        return standing, False
    author = acting_party()
    try:
        with transaction.atomic():
            owner = _create_owner(author, reference, said)
    except IntegrityError:  # made a moment ago by the same request, sent twice
        standing = _by_reference(reference, said)
        if standing is None:
            raise
        return standing, False
    _begin_ledger(owner)
    with acting_for(owner.id, author_id=author.id, write=True):
        imply_leave(owner_name=owner.name, grantee_id=author.id)
    line = LedgerLine("owner_made", owner.id, None, {"reference": reference})
    write_ledger(custodian_id=author.id, lines=[line])
    return owner, True


@transaction.atomic
def change_organization(
    *, organization_id: UUID, expected: frozenset[int] | None, **changed: Any
) -> Organization:
    """Change name, address or language: one's own, or those of an owner one made until it is
    claimed. Sight carries the owner's name, so it is derived anew where that changes.
    """
    standing = organization_by_id(organization_id)
    unclaimed = standing.author_id == acting_organization() and standing.claimed_at is None
    if organization_id != acting_organization() and not unclaimed:
        raise NotAllowedError("Only an organization itself says what it is called.")
    rows = Organization.objects.filter(id=organization_id)
    organization = cast("Organization", change_row(rows, expected=expected, **changed))
    content = {"changed_sha256": canonical_digest(changed), "version": organization.version}
    with acting_for(organization_id, author_id=acting_organization(), write=True):
        if organization.name != standing.name:
            lock_sight(organization_id)
            derive_sight(site_ids=owned_sites())
        line = LedgerLine("organization_changed", organization_id, None, content)
        write_ledger(custodian_id=organization_id, lines=[line])
    return organization


def _by_reference(reference: str, said: dict[str, Any]) -> Organization | None:
    own = Organization.objects.filter(author_id=acting_organization())
    standing = own.filter(reference=reference).first()
    if standing is not None and {name: getattr(standing, name) for name in said} != said:
        detail = f"Your reference {reference!r} stands for the organization {standing.id} already."
        raise AlreadyExistsError.at("/reference", detail)
    return standing


def _create_owner(author: Organization, reference: str, said: dict[str, Any]) -> Organization:
    now = current().now
    with looking_up(Purpose.SET_UP, write=True):
        return Organization.objects.create(
            **said,
            capabilities=[Capability.OWNER],
            demonstration=author.demonstration,
            sandbox_id=author.sandbox_id,
            author=author,
            reference=reference,
            created_at=now,
        )


def _begin_ledger(organization: Organization) -> None:
    with acting_for(organization.id, write=True):
        LedgerHead.objects.create(organization=organization, entry_sha256=FIRST)
