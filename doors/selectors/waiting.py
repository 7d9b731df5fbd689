"""What waits for a worker, over all organizations: how much, and how long the oldest has."""

from __future__ import annotations

from dataclasses import dataclass

from django.apps import apps
from django.db.models import Count, Min

from doors.models import Claimable
from doors.tenancy import Purpose, looking_up


@dataclass(frozen=True, slots=True)
class Waiting:
    """The rows of one kind that a worker could take now."""

    kind: str
    rows: int
    oldest_seconds: float  # since the oldest could have been taken


def waiting_work() -> list[Waiting]:
    """Return what waits, of every kind of work that workers take."""
    with looking_up(Purpose.SWEEP) as context:
        found = []
        for model in sorted(_claimables(), key=lambda each: each.__name__):
            rows = model.objects.filter(model.takeable(context.now))  # type: ignore[attr-defined]
            told = rows.aggregate(rows=Count("id"), oldest=Min("not_before"))
            age = (context.now - told["oldest"]).total_seconds() if told["oldest"] else 0.0
            found.append(Waiting(model.__name__.lower(), told["rows"], age))
    return found


def _claimables() -> list[type[Claimable]]:
    return [model for model in apps.get_models() if issubclass(model, Claimable)]
