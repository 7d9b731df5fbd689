"""Sandboxes, and the moment that the clock of the one at work shows."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from doors.models import Organization, Sandbox
from doors.selectors.visible import visible
from doors.tenancy import Purpose, acting_organization, current, looking_up


def sandbox_in_hand() -> UUID | None:
    """The sandbox in which the acting organization lies; None where it is a real one."""
    own = Organization.objects.filter(id=acting_organization())
    return own.values_list("sandbox_id", flat=True).first()


def sandbox_by_id(sandbox_id: UUID) -> Sandbox:
    """A sandbox that the acting organization made or lies in, or nothing by this address."""
    return visible(Sandbox.objects.filter(id=sandbox_id))


def members_of(sandbox: Sandbox) -> list[Organization]:
    """The organizations in a sandbox that is visible to whoever asks, the first made first."""
    with looking_up(Purpose.CUSTODY):
        rows = Organization.objects.filter(sandbox_id=sandbox.id)
        return list(rows.order_by("created_at", "name"))


def working_now() -> datetime:
    """Now; in a sandbox the moment that its clock shows. For what is due and who is told of it:
    leases, signatures, the ledger and what happened when go by the database's own clock.
    """
    own = Organization.objects.filter(id=acting_organization())
    ahead = own.values_list("sandbox__clock_ahead", flat=True).first()
    return current().now + (ahead or timedelta())
