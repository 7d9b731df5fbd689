"""Making places, and the authority that governs each."""

from __future__ import annotations

from uuid import UUID

from doors.clock import zone
from doors.models import Jurisdiction, Organization
from doors.tenancy import Purpose, looking_up


def establish_jurisdiction(
    *,
    code: str,
    name: str,
    kind: str,
    parent: Jurisdiction | None = None,
    library_place: str = "",
    time_zone: str = "UTC",
    authority: Organization | None = None,
    sandbox_id: UUID | None = None,
) -> Jurisdiction:
    """Make a place, or answer the one of that code; places are set up by whoever operates."""
    zone(time_zone)
    with looking_up(Purpose.SET_UP, write=True):
        place, _ = Jurisdiction.objects.get_or_create(
            code=code,
            defaults={
                "name": name,
                "kind": kind,
                "parent": parent,
                "library_place": library_place,
                "time_zone": time_zone,
                "authority": authority,
                "authority_name": authority.name if authority else "",
                "sandbox_id": sandbox_id,
            },
        )
    return place
