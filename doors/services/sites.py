"""Making a site and giving it to its owner's care."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, cast
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.clock import civil_date, zone
from doors.errors import AlreadyExistsError, RefusedError
from doors.models import Custody, Site, SitePlace
from doors.selectors.jurisdictions import jurisdiction_by_code
from doors.selectors.organizations import acting_party
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
) -> Site:
    """Make a site in the acting owner's custody, lying in that jurisdiction from the same day."""
    zone(time_zone)
    now, owner_id = current().now, acting_organization()
    lock_sight(owner_id)
    today = civil_date(now, time_zone)
    begins_on = in_custody_from or today
    if begins_on > today:
        raise RefusedError.at("/in_custody_from", "Custody cannot begin in the future.")
    place = jurisdiction_by_code(jurisdiction_code, "/jurisdiction")
    site = _create(reference, name, address, time_zone)
    owner_name = acting_party().name
    with looking_up(Purpose.CUSTODY, write=True):
        Custody.objects.create(
            site=site, owner_id=owner_id, owner_name=owner_name, begins_on=begins_on
        )
    derive_sight(site_ids=[site.id])
    SitePlace.objects.create(site=site, jurisdiction=place, begins_on=begins_on)
    content = {"reference": reference, "jurisdiction": place.code, "from": begins_on.isoformat()}
    line = LedgerLine("site_opened", site.id, site.id, content)
    write_ledger(custodian_id=owner_id, lines=[line])
    return site


@transaction.atomic
def change_site(*, site_id: UUID, expected: frozenset[int] | None, **changed: Any) -> Site:
    """Change the name or the address of a site; refused where `expected` is not what stands."""
    sight = sight_of(site_id, "manage")
    rows = Site.objects.filter(id=site_id)
    site = cast("Site", change_row(rows, expected=expected, **changed, **_stamp(changed)))
    content = {"version": site.version, "changed_sha256": canonical_digest(changed)}
    line = LedgerLine("site_changed", site.id, site.id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return site


def _stamp(changed: Mapping[str, Any]) -> dict[str, Any]:
    return {"changed_at": current().now} if changed else {}


def _create(reference: str, name: str, address: Sequence[str], time_zone: str) -> Site:
    site = Site(
        author_id=acting_organization(),
        reference=reference,
        name=name,
        address=list(address),
        time_zone=time_zone,
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
