"""The organization at work."""

from __future__ import annotations

from doors.models import Organization
from doors.tenancy import acting_organization


def acting_party() -> Organization:
    """The acting organization itself, with the name that what it writes will carry."""
    return Organization.objects.get(id=acting_organization())
