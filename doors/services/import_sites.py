"""Sites from a table: found again by the owner's own reference."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from doors.errors import RefusedError
from doors.models import ImportRow, Organization, Site
from doors.services.cells import Column, line
from doors.services.import_kinds import Came, Kind
from doors.services.newcomers import Newcomers
from doors.services.sites import change_site, open_site
from doors.tenancy import acting_organization

_LINES = tuple(f"address_{n}" for n in range(1, 7))
_Outcome = ImportRow.Outcome


def import_site(given: dict[str, Any], _site: Site | None, _: Newcomers) -> Came:
    """Record a site of the acting owner, or change what the table says otherwise of it."""
    reference = given["reference"]
    values = {k: given[k] for k in ("name", "parcel", "occupancy_number") if k in given}
    address = [given[name] for name in _LINES if name in given]
    known = Site.objects.filter(author_id=acting_organization(), reference=reference).first()
    if known is None:
        site = open_site(
            reference=reference,
            address=address,
            time_zone=given["time_zone"],
            jurisdiction_code=given["jurisdiction"],
            owner_id=_owner(given.get("owner_reference")),
            **values,
        )
        return Came(_Outcome.CREATED, site.id)
    stands = {name: getattr(known, name) for name in (*values, "address")}
    told: dict[str, Any] = values | ({"address": address} if address else {})
    changed = {name: value for name, value in told.items() if stands[name] != value}
    if not changed:
        return Came(_Outcome.UNCHANGED, known.id)
    change_site(site_id=known.id, expected=None, **changed)
    return Came(_Outcome.UPDATED, known.id)


def _owner(reference: str | None) -> UUID | None:
    """The owner of that reference, which the acting organization made; None: itself."""
    if reference is None:
        return None
    made = Organization.objects.filter(author_id=acting_organization(), reference=reference)
    owner = made.first()
    if owner is None:
        raise RefusedError.at("/owner_reference", f"You have made no owner called {reference!r}.")
    return owner.id


def known_sites(_site_id: UUID | None) -> set[str]:
    """The references of the acting owner's own sites."""
    own = Site.objects.filter(author_id=acting_organization())
    return set(own.values_list("reference", flat=True))


SITES = Kind(
    columns=(
        Column("reference", line(100), "your own reference of the site", "H-01", required=True),
        Column("name", line(200), "what people call it", "Harrow Mill", required=True),
        Column("address_1", line(200), "a line of the address", "1 High Street", required=True),
        *(Column(n, line(200), "a further line of the address") for n in _LINES[1:]),
        Column("time_zone", line(64), "IANA name", "America/Chicago", required=True),
        Column("jurisdiction", line(60), "code of the place it lies in", "us", required=True),
        Column("owner_reference", line(100), "your reference of an owner you made; else you"),
        Column("parcel", line(100), "the land register's number"),
        Column("occupancy_number", line(100), "the authority's number of the occupancy"),
    ),
    apply=import_site,
    known=known_sites,
    in_site=False,
)
