"""Sites in sight."""

from __future__ import annotations

from uuid import UUID

from doors.models import Site
from doors.selectors.visible import visible


def site_by_id(site_id: UUID) -> Site:
    """The site, or nothing by this address."""
    return visible(Site.objects.filter(id=site_id))
