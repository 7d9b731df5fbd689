"""What the acting organization may do on a site, read in the transaction that uses it."""

from __future__ import annotations

from uuid import UUID

from doors.errors import NotAllowedError, NotVisibleError
from doors.models import Sight
from doors.tenancy import acting_organization, current


def sight_of(site_id: UUID, *any_of: str) -> Sight:
    """A sight that allows one of these. Not visible and not existing answer alike."""
    sights = list(Sight.active(acting_organization(), current().now).filter(site_id=site_id))
    if not any(s.may_read for s in sights):
        raise NotVisibleError
    allowing = [s for s in sights if any(getattr(s, f"may_{may}") for may in any_of)]
    if not allowing:
        leave = " or ".join(any_of)
        raise NotAllowedError(f"Your organization has no leave to {leave} at this site.")
    return allowing[0]
