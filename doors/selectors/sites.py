"""Sites in sight."""

from __future__ import annotations

from uuid import UUID

from doors.errors import NotVisibleError
from doors.models import Site


def site_by_id(site_id: UUID) -> Site:
    """The site, or nothing by this address."""
    site = Site.objects.filter(id=site_id).first()
    if site is None:
        raise NotVisibleError
    return site
