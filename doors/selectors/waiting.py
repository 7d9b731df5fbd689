"""What waits for a worker, over all organizations: how much, and how long the oldest has."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.apps import apps
from django.db.models import Count, Min

from doors.models import Claimable, Organization
from doors.models.homes import AuthoredRow, OrganizationRow
from doors.tenancy import Purpose, looking_up


@dataclass(frozen=True, slots=True)
class Waiting:
    """The rows of one kind that a worker could take now: of real organizations, or of sandboxes."""

    kind: str
    sandbox: bool
    rows: int
    oldest_seconds: float  # since the oldest could have been taken


def waiting_work() -> list[Waiting]:
    """Return what waits, of every kind of work that workers take, sandboxes apart."""
    with looking_up(Purpose.SWEEP) as context:
        found: list[tuple[str, list[tuple[UUID, int, datetime]]]] = []
        for model in sorted(_claimables(), key=lambda each: each.__name__):
            rows = model.objects.filter(model.takeable(context.now))  # type: ignore[attr-defined]
            owner = _owner(model)
            by_owner = rows.values_list(owner).annotate(Count("id"), Min("not_before"))
            found.append((model.__name__.lower(), list(by_owner.order_by(owner))))
        now = context.now
    inside = _in_sandboxes({row[0] for _, rows in found for row in rows})
    return [
        _told(kind, [row for row in rows if (row[0] in inside) == sandbox], now, sandbox=sandbox)
        for kind, rows in found
        for sandbox in (False, True)
    ]


def _owner(model: type[Claimable]) -> str:
    """The column that says whose a row is; a site's own row is nobody's, in no sandbox."""
    if issubclass(model, OrganizationRow):
        return "organization_id"
    return "author_id" if issubclass(model, AuthoredRow) else "site_id"


def _told(
    kind: str, rows: list[tuple[UUID, int, datetime]], now: datetime, *, sandbox: bool
) -> Waiting:
    oldest = min((since for _, _, since in rows), default=now)
    return Waiting(
        kind, sandbox, sum(number for _, number, _ in rows), (now - oldest).total_seconds()
    )


def _in_sandboxes(owners: set[UUID]) -> set[UUID]:
    with looking_up(Purpose.CUSTODY):
        inside = Organization.objects.filter(id__in=owners, sandbox__isnull=False)
        return set(inside.values_list("id", flat=True))


def _claimables() -> list[type[Claimable]]:
    return [model for model in apps.get_models() if issubclass(model, Claimable)]
