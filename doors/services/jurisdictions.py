"""Making places, and the authority that governs each."""

from __future__ import annotations

from doors.models import Jurisdiction, Organization
from doors.tenancy import Purpose, looking_up


def establish_jurisdiction(
    *,
    code: str,
    name: str,
    kind: str,
    parent: Jurisdiction | None = None,
    library_place: str = "",
    authority: Organization | None = None,
) -> Jurisdiction:
    """Make a place, or answer the one of that code; places are set up by whoever operates."""
    with looking_up(Purpose.SET_UP, write=True):
        place, _ = Jurisdiction.objects.get_or_create(
            code=code,
            defaults={
                "name": name,
                "kind": kind,
                "parent": parent,
                "library_place": library_place,
                "authority": authority,
                "authority_name": authority.name if authority else "",
            },
        )
    return place
