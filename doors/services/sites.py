"""Making a site and giving it to its owner's care."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, cast
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.clock import civil_date, zone
from doors.errors import AlreadyExistsError, RefusedError, WrongStateError
from doors.models import Capability, Custody, Organization, Site, SitePlace
from doors.selectors.jurisdictions import place_for_a_site
from doors.selectors.sight import sight_of
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.sight import derive_sight, lock_sight
from doors.services.versions import change_row
from doors.tenancy import Purpose, acting_organization, current, looking_up


@transaction.atomic
def open_site(
    *,
    reference: str,
    name: str,
    address: Sequence[str],
    time_zone: str,
    jurisdiction_code: str,
    in_custody_from: date | None = None,
    owner_id: UUID | None = None,
    **numbers: str,
) -> Site:
    """Make a site in an owner's custody, lying in that jurisdiction from the same day. The owner
    is the acting organization, or one that it made and nobody has claimed. `numbers` are those
    that others know it by: `parcel`, `occupancy_number`.
    """
    zone(time_zone)
    now, owner_id = current().now, owner_id or acting_organization()
    lock_sight(owner_id)
    owner = _owner(owner_id)
    today = civil_date(now, time_zone)
    begins_on = in_custody_from or today
    if begins_on > today:
        raise RefusedError.at("/in_custody_from", "Custody cannot begin in the future.")
    place = place_for_a_site(jurisdiction_code, "/jurisdiction")
    named = {"name": name, "time_zone": time_zone, **numbers}
    site = _create(reference, address, named)
    with looking_up(Purpose.CUSTODY, write=True):
        Custody.objects.create(site=site, owner=owner, owner_name=owner.name, begins_on=begins_on)
    derive_sight(site_ids=[site.id])
    SitePlace.objects.create(site=site, jurisdiction=place, begins_on=begins_on)
    content = {"reference": reference, "jurisdiction": place.code, "from": begins_on.isoformat()}
    line = LedgerLine("site_opened", site.id, site.id, content)
    write_ledger(custodian_id=owner_id, lines=[line])
    return site


def _owner(owner_id: UUID) -> Organization:
    """The owner a site is made for; refused where it speaks for itself, or is no owner."""
    owner = Organization.objects.filter(id=owner_id).first()
    own = owner_id == acting_organization()
    if owner is None or not (own or owner.author_id == acting_organization()):
        raise RefusedError.at("/owner_id", "You have made no owner with this id.")
    if own and Capability.OWNER not in owner.capabilities:
        detail = "Your organization owns no buildings: name an owner that you made."
        raise RefusedError.at("/owner_id", detail)
    if not own and owner.claimed_at is not None:
        detail = "This owner has been claimed: its own people record its sites now."
        raise WrongStateError.at("/owner_id", detail)
    return owner


@transaction.atomic
def change_site(*, site_id: UUID, expected: frozenset[int] | None, **changed: Any) -> Site:
    """Change what is known of a site; refused where `expected` is not what stands."""
    sight = sight_of(site_id, "manage")
    rows = Site.objects.filter(id=site_id)
    site = cast("Site", change_row(rows, expected=expected, **changed, **_stamp(changed)))
    content = {"version": site.version, "changed_sha256": canonical_digest(changed)}
    line = LedgerLine("site_changed", site.id, site.id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return site


def _stamp(changed: Mapping[str, Any]) -> dict[str, Any]:
    return {"changed_at": current().now} if changed else {}


def _create(reference: str, address: Sequence[str], named: Mapping[str, str]) -> Site:
    site = Site(
        author_id=acting_organization(),
        reference=reference,
        address=list(address),
        **named,
        created_at=current().now,
        changed_at=current().now,
    )
    try:
        with transaction.atomic():
            site.save(force_insert=True)
    except IntegrityError as error:
        detail = f"You have a site with the reference {reference!r} already."
        raise AlreadyExistsError.at("/reference", detail) from error
    return site
